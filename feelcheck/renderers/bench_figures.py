"""The figure of `feelcheck bench --plot`: edges with their fit over the drive, internal steps, transfer curve."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from feelcheck.model import BenchDirection, BenchResult, FloatArray, Trace
from feelcheck.renderers._before_after_panels import before_after_panels
from feelcheck.renderers._format import format_brief, name_of
from feelcheck.renderers._panels import Panel, Picture, heading, sheet, zoomed_limits
from feelcheck.renderers._style import FAINT, FIT, LANES, MARK, REPORTS, SOFT
from feelcheck.renderers._thinning import envelope, evenly

__all__ = ["bench_figure", "bench_pictures"]

N_COLUMNS = 300
N_FIT = 400
N_STEPS = 9
MARK_NAMES = (("t10_s", "10 %"), ("t50_s", "50 %"), ("t90_s", "90 %"))


def bench_figure(result: BenchResult) -> Figure:
    """Return what a capture shows: both directions with their fit, internal steps and transfer curve where found.

    Parameters
    ----------
    result : BenchResult
        Its traces are drawn; without any of an edge the sheet says so.

    Returns
    -------
    Figure
        Save it with `save_figure`.
    """
    panels = _panels(result)
    left_out = [] if _of_kind(result, "edge") else ["Edges are not drawn: the result holds none."]
    return sheet(panels, n_columns=2, panel_in=(4.6, 3.3), title=_title(result), left_out=left_out)


def bench_pictures(result: BenchResult) -> dict[str, Picture]:
    """Return the picture of a capture for a page, under the key ``edges``; empty without traces."""
    panels = _panels(result)
    if not panels:
        return {}
    figure = sheet(panels, n_columns=2, panel_in=(4.6, 3.3))
    words = " ".join(panel.description for panel in panels)
    return {"edges": Picture(figure=figure, title=f"Edges on the bench: {_title(result)}", description=words)}


def _title(result: BenchResult) -> str:
    provenance = result.capture.provenance
    name = name_of(provenance, "capture")
    return ", ".join(
        filter(None, (name, provenance.state.replace("_", " "), "simulated" if provenance.simulated else ""))
    )


def _of_kind(result: BenchResult, kind: str) -> list[Trace]:
    return [trace for trace in result.traces if trace.kind == kind]


def _panels(result: BenchResult) -> list[Panel]:
    edges = _of_kind(result, "edge")
    panels = before_after_panels(result.traces)
    for word, side in (("rising", result.rising), ("falling", result.falling)):
        same = [edge for edge in edges if edge.labels.get("direction") == word]
        if same:
            panels.append(_edge_panel(word, same, side, result))
    panels += [_stairs_panel(trace, result) for trace in _of_kind(result, "stairs")[:1]]
    return panels + [_transfer_panel(trace, result) for trace in _of_kind(result, "transfer")[:1]]


def _unit(result: BenchResult, name: str | None) -> str:
    """Return the unit of a column of the capture; empty if it is not known."""
    return next((c.unit for c in result.capture.channels if c.name == name), "")


def _with_unit(words: str, unit: str) -> str:
    return f"{words}, {unit}" if unit else f"{words}, unit unknown"


def _output_words(result: BenchResult) -> str:
    name = result.output_name
    return _with_unit(name if "out" in name.lower() else f"output {name}", _unit(result, name))


def _edge_panel(word: str, edges: Sequence[Trace], side: BenchDirection | None, result: BenchResult) -> Panel:
    said = _conclusion(side)
    driven = [edge for edge in edges if "drive" in edge.arrays]

    def draw(ax: Axes) -> None:
        for edge in edges[1:]:
            ax.plot(*envelope(_since_ms(edge, "t_s"), edge.arrays["output"], N_COLUMNS), **FAINT)
        _draw_edge(ax, edges[0])
        ax.set_xlim(*_limits_ms(edges[0]))
        ax.set_xlabel("time since the onset, ms")
        ax.set_ylabel(_output_words(result))
        ax.legend(loc="center right", handlelength=1.6)
        heading(ax, f"{word.capitalize()}", said)

    def draw_drive(ax: Axes) -> None:
        for edge in driven:
            style = {"color": SOFT, "linewidth": 1.0} if edge is driven[0] else FAINT
            ax.plot(*envelope(_since_ms(edge, "t_s"), edge.arrays["drive"], N_COLUMNS), **style)
        ax.set_xlabel("time since the onset, ms")
        ax.set_ylabel(_with_unit("drive", _unit(result, result.drive_name)))

    words = said.replace("\n", "; ")
    description = (
        f"{word.capitalize()} edge of {result.output_name} with its fit and its 10, 50, 90 % instants. {words}."
    )
    return Panel(draw=draw, description=description, draw_under=draw_drive if driven else None)


def _conclusion(side: BenchDirection | None) -> str:
    if side is None:
        return "no fit"
    return f"time constant {format_brief(side.time_constant)}\n10 to 90 % {format_brief(side.transition_10_90)}"


def _limits_ms(edge: Trace) -> tuple[float, float]:
    """Return what to look at: the transition with room before and after it, inside the capture."""
    since_ms = _since_ms(edge, "t_s")
    begin, end = float(since_ms[0]), float(since_ms[-1])
    if "t10_s" not in edge.marks or "t90_s" not in edge.marks:
        return begin, end
    onset_s = edge.marks.get("onset_s", 0.0)
    t10_ms, t90_ms = 1e3 * (edge.marks["t10_s"] - onset_s), 1e3 * (edge.marks["t90_s"] - onset_s)
    room_ms = abs(t90_ms - t10_ms)
    return max(begin, min(0.0, t10_ms) - room_ms), min(end, t90_ms + 2.5 * room_ms)


def _since_ms(edge: Trace, name: str) -> FloatArray:
    return np.asarray(1e3 * (np.asarray(edge.arrays[name], dtype=np.float64) - edge.marks.get("onset_s", 0.0)))


def _draw_edge(ax: Axes, edge: Trace) -> None:
    begin, end = _limits_ms(edge)
    since_ms, output = _since_ms(edge, "t_s"), np.asarray(edge.arrays["output"], dtype=np.float64)
    near = (since_ms >= begin) & (since_ms <= end)
    ax.plot(*envelope(since_ms[near], output[near], N_COLUMNS), color=LANES[0]["color"], linewidth=0.8, label="output")
    fit_ms, fit = _since_ms(edge, "fit_t_s"), np.asarray(edge.arrays["fit"], dtype=np.float64)
    kept = np.flatnonzero((fit_ms >= begin) & (fit_ms <= end))
    kept = kept[evenly(kept.size, N_FIT)]
    ax.plot(fit_ms[kept], fit[kept], label="fit", **FIT)
    for name, words in MARK_NAMES:
        if name not in edge.marks:
            continue
        at_ms = 1e3 * (edge.marks[name] - edge.marks.get("onset_s", 0.0))
        level = float(np.interp(at_ms, fit_ms, fit))
        ax.plot([at_ms], [level], **{**REPORTS[2], "markersize": 5.0}, zorder=5)
        drop = -9 if fit[-1] > fit[0] else 3
        ax.annotate(words, (at_ms, level), (6, drop), textcoords="offset points", fontsize=7).set_in_layout(False)


def _stairs_panel(trace: Trace, result: BenchResult) -> Panel:
    steps_ms = 1e3 * np.asarray(trace.arrays["steps_s"], dtype=np.float64)
    t_ms, output = 1e3 * np.asarray(trace.arrays["t_s"], dtype=np.float64), np.asarray(trace.arrays["output"])
    held_ms = 1e3 * trace.marks["interval_s"]
    start_ms = steps_ms[0] - held_ms
    inside = (t_ms >= start_ms) & (t_ms <= steps_ms[:N_STEPS][-1] + held_ms)
    said = f"held for {format_brief(result.update_interval)}"

    def draw(ax: Axes) -> None:
        since_ms, shown = envelope(t_ms[inside] - start_ms, output[inside], N_COLUMNS)
        ax.plot(since_ms, shown, color=LANES[0]["color"], linewidth=0.9)
        for k, at_ms in enumerate(steps_ms[:N_STEPS] - start_ms):
            ax.axvline(at_ms, label="step" if k == 0 else None, **MARK)
        ax.set_xlabel("time, ms")
        ax.set_ylabel(_output_words(result))
        ax.legend(loc="best", handlelength=1.6)
        heading(ax, "Steps inside the sensor, zoomed", said)

    return Panel(draw=draw, description=f"{steps_ms.size} steps of the output in one edge; {said}.")


def _transfer_panel(trace: Trace, result: BenchResult) -> Panel:
    sensitivity = result.extra.get("sensitivity")
    said = f"sensitivity {format_brief(sensitivity)}" if sensitivity is not None else ""

    def draw(ax: Axes) -> None:
        for words, style in zip(("up", "down"), LANES, strict=False):
            shown: dict[str, Any] = {**style, "markersize": 2.4, "linewidth": 1.0, "markevery": 3}
            ax.plot(trace.arrays["drive"], trace.arrays[words], label=f"drive going {words}", **shown)
        drive = np.asarray(trace.arrays["drive"], dtype=np.float64)
        ax.set_xlim(*zoomed_limits(float(drive.min()), float(drive.max())))
        ax.set_xlabel(_with_unit("drive", _unit(result, result.drive_name)))
        ax.set_ylabel(_output_words(result))
        ax.legend(loc="best", handlelength=2.6)
        heading(ax, "Transfer curve", said)

    return Panel(draw=draw, description=f"Output against drive on the way up and down. {said}".strip())
