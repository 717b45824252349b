"""Panels of movements: flicks that stop at the rim, one of them un-smoothed, and the spring's return."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from feelcheck.counted import counted
from feelcheck.model import DirectionResponse, FloatArray, Trace
from feelcheck.renderers._format import format_brief
from feelcheck.renderers._panels import Panel, heading
from feelcheck.renderers._style import FAINT, FIT, LIGHT, MARK, PREDICTED, REFERENCE, REPORTS
from feelcheck.renderers._thinning import evenly

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["flick_panel", "release_panel", "unsmoothed_panel"]

N_CLEAREST = 2
N_MARKERS = 34
N_FAINT = 12
N_POINTS = 240
BEFORE_MS, AFTER_MS = 30.0, 60.0
AROUND_MS, LONGEST_MS = 30.0, 300.0
WAY_LABEL = "way to the rim, %"
GIVES: dict[str, Any] = {"facecolor": "none", "edgecolor": LIGHT["faint"], "hatch": "////", "linewidth": 0.5}
FORBIDDEN: dict[str, Any] = {**PREDICTED, "color": REPORTS[1]["color"]}
N_DOTS = 40
LOWEST, MARGIN = 20.0, 8.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Curves:
    """One event ready to be drawn: reports and fit against time in ms, both in per cent of the way."""

    t_ms: FloatArray
    reports: FloatArray
    fit_t_ms: FloatArray
    fit: FloatArray


def flick_panel(axis: str, direction: str, flicks: Sequence[Trace], response: DirectionResponse | None) -> Panel:
    """Return the panel of one axis and direction: flicks laid over each other at their contact with the rim.

    Parameters
    ----------
    axis, direction : str
        Stream name, and whether its code rises or falls.
    flicks : sequence of Trace
        Kind ``"flick"``: ``t_s``, ``measured_fs``, ``model_fs`` of shape (n,), the raw reports ``raw_t_s`` and
        ``raw_fs`` where they differ from what was fitted, and the mark ``contact_s``. The clearest are drawn with
        their reports and their fit, the others faintly.
    response : DirectionResponse or None
        What was concluded; stands under the title.
    """
    clear = [_about_contact(flick) for flick in sorted(flicks, key=_misfit)]
    said, after_ms = _conclusion(response), _after_ms(response)

    def draw(ax: Axes) -> None:
        for one in clear[N_CLEAREST : N_CLEAREST + N_FAINT]:
            ax.plot(one.t_ms, one.reports, **FAINT)
        for style, one in zip(REPORTS, clear[:N_CLEAREST], strict=False):
            _draw_fit(ax, one, (-BEFORE_MS, after_ms), style, N_MARKERS)
        ax.axvline(0.0, **MARK)
        ax.set_xlim(-BEFORE_MS, after_ms)
        ax.set_ylim(-8, 115)
        ax.set_yticks([0, 25, 50, 75, 100])
        ax.set_xlabel("time since contact, ms")
        ax.set_ylabel(WAY_LABEL)
        ax.legend(loc="lower right", handlelength=1.6)
        heading(ax, f"{axis}, code {direction}", said)

    def draw_left(ax: Axes) -> None:
        ax.axhline(0.0, **REFERENCE)
        for style, one in zip(REPORTS, clear[:N_CLEAREST], strict=False):
            left = one.reports - np.interp(one.t_ms, one.fit_t_ms, one.fit)
            inside = (one.t_ms >= one.fit_t_ms[0]) & (one.t_ms <= one.fit_t_ms[-1])
            ax.plot(one.t_ms[inside], left[inside], **{**style, "markersize": 1.6})
        ax.set_ylabel("residual, %")
        ax.set_xlabel("time since contact, ms")

    description = (
        f"{counted(len(flicks), 'flick')} of {axis}, code {direction}, laid over each other at their contact, and what "
        f"the fit leaves of the clearest. {said.capitalize()}."
    )
    return Panel(draw=draw, description=description, strips=(draw_left,))


def _draw_fit(ax: Axes, one: _Curves, limits_ms: tuple[float, float], style: dict[str, Any], n: int) -> None:
    """Draw one fit over about `n` of its reports; the first event in a panel gives the legend its words."""
    seen = np.flatnonzero((one.t_ms >= limits_ms[0]) & (one.t_ms <= limits_ms[1]))
    stride = max(1, -(-seen.size // n))
    few, first = seen[::stride], style is REPORTS[0]
    ax.plot(one.fit_t_ms, one.fit, label="fit" if first else None, **FIT)
    words = "reports" if stride == 1 else f"reports, 1 in {stride}"
    ax.plot(one.t_ms[few], one.reports[few], label=words if first else None, **style)


def _conclusion(response: DirectionResponse | None) -> str:
    if response is None:
        return "no fit"
    return f"smoothing delay {format_brief(response.smoothing_delay)}"


def _after_ms(response: DirectionResponse | None) -> float:
    delay_s = response.smoothing_delay.value if response is not None else None
    return AFTER_MS if delay_s is None else float(np.clip(6e3 * delay_s, AFTER_MS / 2, 300.0))


def _misfit(flick: Trace) -> float:
    """Root mean square of what the fit leaves, as a share of the way."""
    measured, model = (np.asarray(flick.arrays[name], dtype=np.float64) for name in ("measured_fs", "model_fs"))
    return float(np.sqrt(np.mean((measured - model) ** 2))) / (float(np.ptp(model)) or 1.0)


def _about_contact(flick: Trace) -> _Curves:
    """Return a flick with its time since contact and in shares of its way, thinned to what can be seen."""
    model = np.asarray(flick.arrays["model_fs"], dtype=np.float64)
    start, way = model[0], (model[-1] - model[0]) or 1.0

    def near(times: str, values: str) -> tuple[FloatArray, FloatArray]:
        t_ms = 1e3 * (np.asarray(flick.arrays[times], dtype=np.float64) - flick.marks.get("contact_s", 0.0))
        y = np.asarray(flick.arrays[values], dtype=np.float64)
        kept = np.flatnonzero((t_ms > -2 * BEFORE_MS) & (t_ms < LONGEST_MS) & np.isfinite(y))
        kept = kept[evenly(kept.size, N_POINTS)]
        return t_ms[kept], 100 * (y[kept] - start) / way

    raw = ("raw_t_s", "raw_fs") if "raw_t_s" in flick.arrays else ("t_s", "measured_fs")
    (t_ms, reports), (fit_t_ms, fit) = near(*raw), near("t_s", "model_fs")
    return _Curves(t_ms=t_ms, reports=reports, fit_t_ms=fit_t_ms, fit=fit)


def release_panel(axis: str, direction: str, returns: Sequence[Trace], words: str) -> Panel:
    """Return the panel of one axis' returns after letting go, in one direction of its code.

    Parameters
    ----------
    axis, direction : str
        Stream name, and whether its code rises or falls on the way back.
    returns : sequence of Trace
        Kind ``"release"``: ``t_s``, ``measured_fraction``, ``model_fraction`` of shape (n,);
        times count from half way.
    words : str
        What was concluded; stands under the title.
    """
    curves = [_about_half_way(one) for one in returns]
    after_ms = max((_settled_ms(one) for one in curves), default=AFTER_MS)

    def draw(ax: Axes) -> None:
        for style, one in zip(REPORTS, curves[:N_CLEAREST], strict=False):
            _draw_fit(ax, one, (-AROUND_MS, after_ms), style, 2 * N_MARKERS)
        for one in curves[N_CLEAREST:]:
            ax.plot(one.t_ms, one.reports, **FAINT)
        ax.axhline(0.0, **REFERENCE)
        ax.set_xlim(-AROUND_MS, after_ms)
        ax.set_xlabel("time since half way, ms")
        ax.set_ylabel("way left to rest, %")
        ax.legend(loc="upper right", handlelength=1.6)
        heading(ax, f"{axis}, let go, code {direction}", words)

    said = f"{counted(len(returns), 'spring return')} of {axis}, code {direction}. {words}"
    return Panel(draw=draw, description=said.strip())


def _settled_ms(one: _Curves) -> float:
    """Twice the time until the fit stays within 1 %, kept to what can be looked at."""
    late = one.fit_t_ms[np.abs(one.fit) > 1.0]
    return float(np.clip(2 * late[-1] if late.size else 0.0, AROUND_MS, LONGEST_MS))


def _about_half_way(one: Trace) -> _Curves:
    t_s = np.asarray(one.arrays["t_s"], dtype=np.float64)
    kept = evenly(t_s.size, N_POINTS)
    reports, fit = (100 * np.asarray(one.arrays[f"{name}_fraction"])[kept] for name in ("measured", "model"))
    return _Curves(t_ms=1e3 * t_s[kept], reports=reports, fit_t_ms=1e3 * t_s[kept], fit=fit)


def unsmoothed_panel(trace: Trace) -> Panel:
    """Return the panel of one flick as it was logged, undone by the chosen delay, and undone by one the rim forbids.

    Parameters
    ----------
    trace : Trace
        Kind ``"unsmoothed"``: ``t_s``, ``measured_fraction``, ``chosen_fraction``, ``rejected_fraction`` of shape (n,),
        in shares of the way to the rim; marks ``chosen_delay_s``, ``rejected_delay_s`` and ``gives_fraction``; label
        ``stick``.
    """
    t_ms = 1e3 * np.asarray(trace.arrays["t_s"], dtype=np.float64)
    logged, chosen, rejected = (
        100.0 * np.asarray(trace.arrays[f"{name}_fraction"], dtype=np.float64)
        for name in ("measured", "chosen", "rejected")
    )
    chosen_ms, rejected_ms = (1e3 * trace.marks[f"{name}_delay_s"] for name in ("chosen", "rejected"))
    beyond = float(rejected.max()) - 100.0
    said = f"at {rejected_ms:.3g} ms the thumb went {beyond:.0f} % through the rim"

    def draw(ax: Axes) -> None:
        stride = max(1, -(-t_ms.size // N_DOTS))
        words = "reports" if stride == 1 else f"reports, 1 in {stride}"
        ends, rim = np.array([t_ms[0], t_ms[-1]]), np.full(2, 100.0)
        ax.fill_between(ends, rim, rim * (1.0 + trace.marks["gives_fraction"]), label="what a rim may give", **GIVES)
        ax.axhline(100.0, label="rim", **MARK)
        ax.plot(t_ms[::stride], logged[::stride], label=words, **REPORTS[0])
        ax.plot(t_ms, chosen, label=f"undone by {chosen_ms:.3g} ms", **FIT)
        ax.plot(t_ms, rejected, label=f"undone by {rejected_ms:.3g} ms", **FORBIDDEN)
        ax.set_xlim(float(t_ms[0]), float(t_ms[-1]))
        ax.set_ylim(LOWEST, max(100.0 + beyond, 110.0) + MARGIN)
        ax.set_xlabel("time since the rim was met, ms")
        ax.set_ylabel("way to the rim, %")
        ax.legend(loc="lower right", handlelength=1.8)
        heading(ax, f"Where the thumb was, {trace.labels.get('stick') or trace.axis}", said)

    description = (
        f"One flick with the smoothing undone: by {chosen_ms:.3g} ms the stick stops at the rim; {said}, which no rim "
        "lets it."
    )
    return Panel(draw=draw, description=description, span=2)
