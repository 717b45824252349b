"""The panel of one direction's edges: the output under its fit, what the fit leaves, the drive."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from feelcheck.model import BenchDirection, BenchResult, FloatArray, Trace
from feelcheck.renderers._format import format_brief
from feelcheck.renderers._panels import Panel, heading
from feelcheck.renderers._style import FAINT, FIT, LIGHT, REFERENCE, REPORTS, SOFT
from feelcheck.renderers._thinning import envelope, evenly

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["edge_panel", "output_words", "unit_of", "with_unit"]

N_COLUMNS = 300
N_FIT = 400
MARK_NAMES = (("t10_s", "10 %"), ("t50_s", "50 %"), ("t90_s", "90 %"))
OUTPUT: dict[str, Any] = {"color": LIGHT["first"], "linewidth": 3.2, "alpha": 0.45, "solid_capstyle": "butt"}
"""Broad and light, so that it is seen on both sides of the fit."""
LEAD_SHARE = 0.12
"""How much of a panel whose edge was cut off stands before the onset."""
TIME_LABEL = "time since the onset, ms"


def unit_of(result: BenchResult, name: str | None) -> str:
    """Return the unit of a column of the capture; empty if it is not known."""
    return next((c.unit for c in result.capture.channels if c.name == name), "")


def with_unit(words: str, unit: str) -> str:
    """Return words for an axis with the unit behind them, or that it is not known."""
    return f"{words}, {unit}" if unit else f"{words}, unit unknown"


def output_words(result: BenchResult) -> str:
    """Return what an axis of the output is called."""
    name = result.output_name
    return with_unit(name if "out" in name.lower() else f"output {name}", unit_of(result, name))


def edge_panel(word: str, edges: Sequence[Trace], side: BenchDirection | None, result: BenchResult) -> Panel:
    """Return the panel of one direction.

    Parameters
    ----------
    word : str
        ``"rising"`` or ``"falling"``.
    edges : sequence of Trace
        Kind ``"edge"``; the first is drawn with its fit, the others faintly.
    side : BenchDirection or None
        What was concluded; stands under the title.
    result : BenchResult
        Names and units of the columns.
    """
    said = _conclusion(side)
    driven = [edge for edge in edges if "drive" in edge.arrays]

    def draw(ax: Axes) -> None:
        for edge in edges[1:]:
            ax.plot(*envelope(_since_ms(edge, "t_s"), edge.arrays["output"], N_COLUMNS), **FAINT)
        _draw_edge(ax, edges[0])
        ax.set_xlim(*_limits_ms(edges[0]))
        ax.set_xlabel(TIME_LABEL)
        ax.set_ylabel(output_words(result))
        ax.legend(loc="lower right" if word == "rising" else "upper right", handlelength=1.6)
        heading(ax, f"{word.capitalize()}", said)

    def draw_left(ax: Axes) -> None:
        _draw_left(ax, edges[0])
        ax.set_xlabel(TIME_LABEL)

    def draw_drive(ax: Axes) -> None:
        for edge in driven:
            style = {"color": SOFT, "linewidth": 1.0} if edge is driven[0] else FAINT
            ax.plot(*envelope(_since_ms(edge, "t_s"), edge.arrays["drive"], N_COLUMNS), **style)
        ax.set_xlabel(TIME_LABEL)
        ax.set_ylabel(with_unit("drive", unit_of(result, result.drive_name)))

    words = said.replace("\n", "; ")
    description = (
        f"{word.capitalize()} edge of {result.output_name} with its fit, its 10, 50, 90 % instants and what the fit "
        f"leaves. {words}."
    )
    return Panel(draw=draw, description=description, strips=(draw_left, draw_drive) if driven else (draw_left,))


def _conclusion(side: BenchDirection | None) -> str:
    if side is None:
        return "no fit"
    return f"time constant {format_brief(side.time_constant)}\n10 to 90 % {format_brief(side.transition_10_90)}"


def _limits_ms(edge: Trace) -> tuple[float, float]:
    """Return what to look at: the transition with room before and after it; all that was seen of one that was cut."""
    since_ms = _since_ms(edge, "t_s")
    begin, end = float(since_ms[0]), float(since_ms[-1])
    if "t10_s" not in edge.marks or "t90_s" not in edge.marks:
        return max(begin, -LEAD_SHARE * end), end
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
    ax.plot(*envelope(since_ms[near], output[near], N_COLUMNS), label="output", **OUTPUT)
    fit_ms, fit = _since_ms(edge, "fit_t_s"), np.asarray(edge.arrays["fit"], dtype=np.float64)
    kept = np.flatnonzero((fit_ms >= begin) & (fit_ms <= end))
    kept = kept[evenly(kept.size, N_FIT)]
    ax.plot(fit_ms[kept], fit[kept], label="fit", **{**FIT, "linewidth": 1.1})
    for name, words in MARK_NAMES:
        if name in edge.marks:
            at_ms = 1e3 * (edge.marks[name] - edge.marks.get("onset_s", 0.0))
            _mark(ax, words, at_ms, float(np.interp(at_ms, fit_ms, fit)), rises=fit[-1] > fit[0])
    if "t90_s" not in edge.marks and near.any():
        _mark(
            ax,
            "end of the record",
            float(since_ms[near][-1]),
            float(output[near][-1]),
            rises=fit[-1] > fit[0],
            left=True,
        )


def _mark(ax: Axes, words: str, at_ms: float, level: float, *, rises: bool, left: bool = False) -> None:
    """Mark a place on the edge with words beside it, on the side that the edge leaves free."""
    ax.plot([at_ms], [level], **{**REPORTS[2], "markersize": 5.0}, zorder=5)
    place = (-6 if left else 6, -9 if rises else 5)
    side = "right" if left else "left"
    ax.annotate(words, (at_ms, level), place, textcoords="offset points", fontsize=7, ha=side).set_in_layout(False)


def _draw_left(ax: Axes, edge: Trace) -> None:
    """Draw what the fit leaves of the output, in per cent of the edge's height in the fit."""
    fit = np.asarray(edge.arrays["fit"], dtype=np.float64)
    since_ms, fit_ms = _since_ms(edge, "t_s"), _since_ms(edge, "fit_t_s")
    begin, end = _limits_ms(edge)
    near = (since_ms >= max(begin, float(fit_ms[0]))) & (since_ms <= min(end, float(fit_ms[-1])))
    left = np.asarray(edge.arrays["output"], dtype=np.float64)[near] - np.interp(since_ms[near], fit_ms, fit)
    height = float(np.ptp(fit)) or 1.0
    ax.axhline(0.0, **REFERENCE)
    ax.plot(*envelope(since_ms[near], 100 * left / height, N_COLUMNS), color=LIGHT["first"], linewidth=0.7)
    ax.set_ylabel("residual, %")
