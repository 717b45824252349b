"""Panels of codes and reports: the lattice of levels, report intervals, rest, the rim."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from feelcheck.model import AxisResult, Estimate, FloatArray, Trace
from feelcheck.renderers._format import format_brief
from feelcheck.renderers._panels import Panel, heading, logarithmic
from feelcheck.renderers._style import FAINT, FIT, INK, LANES, MARK, PAPER, REFERENCE
from feelcheck.renderers._thinning import envelope, evenly

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["allan_panel", "interval_panel", "lattice_panel", "reach_panel", "rest_panel"]

N_LEVELS = 14
N_BINS = 60
N_REST_COLUMNS = 250
N_CLOUD = 1500


def lattice_panel(traces: Sequence[Trace], axes: Mapping[str, AxisResult]) -> Panel:
    """Return the panel of the levels that a log uses: one lane an axis, a stem for each level, ticks on the lattice.

    Parameters
    ----------
    traces : sequence of Trace
        Kind ``"lattice"``: ``level`` and ``n_reports`` of shape (n,), the mark ``step`` where one was found.
    axes : Mapping[str, AxisResult]
        For the step in words.
    """
    unit = traces[0].labels.get("unit", "counts")
    words = [f"{trace.axis}: {_step(axes.get(trace.axis))}" for trace in traces]

    def draw(ax: Axes) -> None:
        for lane, (trace, style) in enumerate(zip(traces, LANES, strict=False)):
            _draw_levels(ax, trace, -lane, style["color"])
            ax.annotate(
                words[lane],
                (0.0, 0.72 - lane),
                (2, 0),
                textcoords="offset points",
                fontsize=7,
                xycoords=("axes fraction", "data"),
            )
        ax.set_ylim(-len(traces[: len(LANES)]) + 0.8, 1.0)
        ax.set_yticks([])
        ax.grid(visible=False)
        ax.spines["left"].set_visible(False)
        ax.set_xlabel(f"level about the middle one, {unit}")
        heading(ax, "Levels in use", "stems: levels; ticks below: the step found")

    return Panel(
        draw=draw, description="Levels that the log uses near the middle. Step of " + "; of ".join(words) + "."
    )


def _step(axis: AxisResult | None) -> str:
    return "not measured" if axis is None else format_brief(axis.quantization_step, interval=False)


def _draw_levels(ax: Axes, trace: Trace, base: float, colour: str) -> None:
    level = np.asarray(trace.arrays["level"], dtype=np.float64)
    n_reports = np.asarray(trace.arrays["n_reports"], dtype=np.float64)
    first = max(0, level.size // 2 - N_LEVELS // 2)
    if trace.labels.get("unit") != "fraction" and level.size > 4 * N_LEVELS:
        first = int(np.searchsorted(level, level[0] + 0.7 * (level[-1] - level[0])))
    near = slice(first, first + N_LEVELS)
    level, n_reports = level[near], n_reports[near]
    about = level - level[level.size // 2]
    height = 0.6 * n_reports / n_reports.max()
    ax.vlines(about, base, base + np.maximum(height, 0.08), color=colour, linewidth=1.6)
    ax.plot(about, base + np.maximum(height, 0.08), "o", color=colour, markersize=2.5)
    ax.axhline(base, color=colour, linewidth=0.5)
    step = trace.marks.get("step")
    if step:
        ticks = np.arange(np.floor(about[0] / step), np.ceil(about[-1] / step) + 1) * step
        ax.vlines(ticks, base - 0.07, base, color=INK, linewidth=0.8)


def interval_panel(trace: Trace, interval: Estimate) -> Panel:
    """Return the histogram of times between reports as the host saw them.

    Parameters
    ----------
    trace : Trace
        Kind ``"intervals"``: ``report_interval_s`` of shape (n,), s.
    interval : Estimate
        The recovered report interval.
    """
    seen_ms = 1e3 * np.asarray(trace.arrays["report_interval_s"], dtype=np.float64)
    seen_ms = seen_ms[seen_ms >= 0]
    words = f"recovered: {format_brief(interval)}"

    def draw(ax: Axes) -> None:
        if seen_ms.size:
            centre = float(np.median(seen_ms))
            high = min(float(np.quantile(seen_ms, 0.995)) * 1.3, 8 * centre) or 1.0
            ax.hist(
                np.minimum(seen_ms, high), bins=N_BINS, range=(0.0, high), histtype="stepfilled", facecolor="none",
                edgecolor=LANES[0]["color"], hatch="////", linewidth=1.0,
            )  # fmt: skip
            logarithmic(ax, y=True)
        if interval.value is not None:
            ax.axvline(1e3 * interval.value, **MARK)
            ax.annotate(
                "recovered", (1e3 * interval.value, 1.0), (3, -8), xycoords=("data", "axes fraction"),
                textcoords="offset points", fontsize=7,
            )  # fmt: skip
        ax.set_xlabel("time between reports, ms")
        ax.set_ylabel("reports")
        heading(ax, f"Report intervals, {trace.axis}", words)

    return Panel(draw=draw, description=f"Histogram of {seen_ms.size} times between reports; {words}.")


def rest_panel(traces: Sequence[Trace], axes: Mapping[str, AxisResult]) -> Panel:
    """Return the panel of the longest rest of each axis, in lanes.

    Parameters
    ----------
    traces : sequence of Trace
        Kind ``"rest"``: ``t_s`` and ``reading`` of shape (n,), in the log's own numbers.
    axes : Mapping[str, AxisResult]
        For the noise in words.
    """
    words = [f"{trace.axis}: noise {_noise(axes.get(trace.axis))}" for trace in traces]
    unit = next((axes[t.axis].rest_noise.unit for t in traces if t.axis in axes), "counts")

    def draw(ax: Axes) -> None:
        offset = 0.0
        for trace, style, said in zip(traces, LANES, words, strict=False):
            t_s, reading = envelope(trace.arrays["t_s"], trace.arrays["reading"], N_REST_COLUMNS)
            about = reading - float(np.mean(trace.arrays["reading"]))
            span = float(np.ptp(about)) or 1.0
            level = offset - float(about.max())
            ax.plot(t_s - t_s[0], about + level, color=style["color"], linewidth=0.5)
            ax.annotate(
                said,
                (0.0, offset),
                (2, 4),
                xycoords=("axes fraction", "data"),
                textcoords="offset points",
                fontsize=7,
                bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
            )
            offset = level + float(about.min()) - 0.9 * span
        ax.margins(x=0.01, y=0.1)
        ax.locator_params(axis="y", nbins=5)
        ax.set_xlabel("time at rest, s")
        ax.set_ylabel(f"reading, axes apart, {unit}")
        heading(ax, "At rest", "the longest stretch without a hand")

    return Panel(draw=draw, description="Readings at rest. " + "; ".join(words) + ".")


def _noise(axis: AxisResult | None) -> str:
    return "not measured" if axis is None else format_brief(axis.rest_noise, interval=False)


def allan_panel(traces: Sequence[Trace], unit: str) -> Panel:
    """Return the panel of Allan deviations at rest.

    Parameters
    ----------
    traces : sequence of Trace
        Kind ``"rest"``: ``averaging_s`` (s) and ``allan_deviation`` of shape (m,).
    unit : str
        Unit of the readings.
    """

    def draw(ax: Axes) -> None:
        for trace, style in zip(traces, LANES, strict=False):
            deviation = np.asarray(trace.arrays["allan_deviation"], dtype=np.float64)
            some = deviation > 0
            averaging_s = np.asarray(trace.arrays["averaging_s"])[some]
            ax.plot(averaging_s, deviation[some], markersize=2.8, linewidth=1.0, label=trace.axis, **style)
        if any(np.any(np.asarray(trace.arrays["allan_deviation"]) > 0) for trace in traces):
            logarithmic(ax, x=True, y=True)
        ax.set_xlabel("averaged over, s")
        ax.set_ylabel(f"Allan deviation, {unit}")
        ax.legend(loc="best", handlelength=2.6)
        heading(ax, "How rest noise averages", "falling: averages away; rising: wanders")

    return Panel(draw=draw, description="Allan deviation at rest of " + ", ".join(t.axis for t in traces) + ".")


def reach_panel(trace: Trace) -> Panel:
    """Return the map of where a stick went, with its rim.

    Parameters
    ----------
    trace : Trace
        Kind ``"reach"``: ``x_fs``, ``y_fs`` of shape (n,), ``rim_x_fs``, ``rim_y_fs`` of shape (m,), NaN where a
        sector of the rim was not met; fractions of full throw.
    """
    x_fs, y_fs = (np.asarray(trace.arrays[name]) for name in ("x_fs", "y_fs"))
    rim_x_fs, rim_y_fs = (np.append(v, v[:1]) for v in (trace.arrays["rim_x_fs"], trace.arrays["rim_y_fs"]))
    seen = float(np.mean(np.isfinite(rim_x_fs[:-1]))) if rim_x_fs.size > 1 else 0.0

    def draw(ax: Axes) -> None:
        kept = evenly(x_fs.size, N_CLOUD)
        ax.plot(*_dots(x_fs[kept], y_fs[kept]), solid_capstyle="round", **{**FAINT, "linewidth": 1.3})
        turn = np.linspace(0, 2 * np.pi, 181)
        ax.plot(np.cos(turn), np.sin(turn), label="full throw", **REFERENCE)
        ax.plot(rim_x_fs, rim_y_fs, label="rim as logged", **FIT)
        ax.set_aspect("equal")
        ax.set_xlim(-1.25, 1.25)
        ax.set_ylim(-1.25, 1.25)
        ax.set_xlabel(f"{trace.labels.get('x', trace.axis)}, fraction of full throw")
        ax.set_ylabel(f"{trace.labels.get('y', '')}, fraction")
        ax.grid(visible=False)
        ax.set_anchor("W")
        heading(
            ax, f"Reach, {trace.labels.get('stick') or trace.axis}", f"rim met on {100 * seen:.0f} % of the way round"
        )

    return Panel(
        draw=draw, description=f"Map of the stick's reach; the rim was met on {100 * seen:.0f} % of the way round."
    )


def _dots(x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return one broken line with a dot at each point: much shorter in a file than as many markers."""
    gap = np.full_like(x, np.nan)
    return np.stack([x, x + 0.003, gap], axis=1).ravel(), np.stack([y, y, gap], axis=1).ravel()
