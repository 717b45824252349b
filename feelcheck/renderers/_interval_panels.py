"""Rows of estimates with their intervals: a panel that shows bounds and unknown values as such."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from feelcheck.model import Estimate, Status
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.renderers._format import format_brief, shown
from feelcheck.renderers._panels import HEAD_IN, Cell, Panel, Sheet, heading, zoomed_limits
from feelcheck.renderers._style import INK, LANES, LIGHT, SOFT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["DENSE_ROW_IN", "Row", "interval_panel", "stacked"]

ROW_IN, DENSE_ROW_IN = 0.34, 0.2
"""Height of a row on a sheet of its own, and on a page with much beside it."""
FRAME_IN = 0.95
"""Height of a row of panels without the rows in them."""
UNKNOWN_WORDS = {Status.NOT_RESOLVED: "not resolved", Status.NOT_PRESENT: "none seen"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of an interval panel.

    Parameters
    ----------
    label : str
        Stands left of the line.
    estimates : tuple of Estimate
        One, or two that are held against each other (predicted, measured); SI units.
    margin : float or None
        Half-width of the margin band, SI units.
    around : float
        Middle of the margin band, SI units: zero for a difference, the prediction for a pair.
    words : str
        Stands right of the line (a verdict).
    """

    label: str
    estimates: tuple[Estimate, ...]
    margin: float | None = None
    around: float = 0.0
    words: str = ""


def interval_panel(title: str, words: str, quantity: str, rows: Sequence[Row]) -> Panel:
    """Return a panel with a line for each row: dot at the value, thick 90 %, thin 95 %; arrows are bounds.

    Parameters
    ----------
    title, words : str
        Over the panel.
    quantity : str
        What the horizontal axis shows; the unit is added.
    rows : sequence of Row
        From top to bottom, all in one unit.
    """
    unit, factor = _display_unit(rows)

    def draw(ax: Axes) -> None:
        ax.set_xlim(*_limits(rows, factor))
        for k, row in enumerate(rows):
            if row.margin:
                _draw_margin(ax, k, row.margin * factor, row.around * factor)
            for j, estimate in enumerate(row.estimates):
                lift = 0.17 * (len(row.estimates) - 1) * (1 - 2 * j)
                _draw_estimate(ax, k - lift, estimate, j)
            ax.annotate(
                row.words, (1.0, k), (6, 0), xycoords=("axes fraction", "data"), textcoords="offset points",
                va="center", fontsize=7.5,
            )  # fmt: skip
        if any(row.margin and not row.around for row in rows):
            ax.axvline(0.0, color=INK, linewidth=0.8)
        ax.set_yticks(range(len(rows)), [row.label for row in rows])
        ax.set_ylim(len(rows) - 0.4, -0.6)
        ax.tick_params(axis="y", length=0, pad=9)
        ax.grid(visible=False, axis="y")
        ax.grid(visible=True, axis="x")
        ax.spines["left"].set_visible(False)
        ax.set_xlabel(f"{quantity}, {unit}" if unit else quantity)
        heading(ax, title, words)

    description = "; ".join(_spoken(row) for row in rows)
    return Panel(draw=draw, description=f"{title}: {description}.")


def stacked(
    panels: Sequence[tuple[Panel, int]],
    pairs: Sequence[tuple[Panel, int]] = (),
    *,
    above: Sequence[tuple[Panel, int]] = (),
    title: str = "",
    width_in: float = 7.4,
    row_in: float = ROW_IN,
) -> Sheet:
    """Return panels under each other, as high as their rows need; small ones above and below them, two by two."""
    rows = [*_in_twos(above), *([one] for one in panels), *_in_twos(pairs)]
    cells = [
        Cell(panel=panel, row=k, column=column, span=2 if len(row) == 1 and row[0] in panels else 1)
        for k, row in enumerate(rows)
        for column, (panel, _) in enumerate(row)
    ]
    return Sheet(
        cells=tuple(cells),
        row_heights_in=tuple(max(FRAME_IN + row_in * n_rows for _, n_rows in row) for row in rows),
        n_columns=2,
        width_in=max(width_in, 10.5) if pairs or above else width_in,
        head_in=HEAD_IN if title else 0.0,
        title=title,
    )


def _in_twos(panels: Sequence[tuple[Panel, int]]) -> list[Sequence[tuple[Panel, int]]]:
    return [panels[k : k + 2] for k in range(0, len(panels), 2)]


def _spoken(row: Row) -> str:
    sides = " against ".join(format_brief(estimate) for estimate in row.estimates)
    return f"{row.label} {sides}" + (f" ({row.words})" if row.words else "")


def _display_unit(rows: Sequence[Row]) -> tuple[str, float]:
    unit = next((e.unit for row in rows for e in row.estimates), "")
    return shown(Estimate.not_resolved("unit", unit=unit), in_words=True).unit, _display_factor(unit)


def _display_factor(unit: str) -> float:
    return shown(Estimate.measured("unit", 1.0, u=0.0, unit=unit), in_words=True).value or 1.0


def _limits(rows: Sequence[Row], factor: float) -> tuple[float, float]:
    ends: list[float] = []
    for row in rows:
        ends += [(row.around + side * row.margin) * factor for side in (-1, 1)] if row.margin else []
        for estimate in row.estimates:
            view = shown(estimate, in_words=True)
            ends += [end for end in (view.low, view.value, view.high) if end is not None]
    return zoomed_limits(min(ends, default=0.0), max(ends, default=1.0), 0.12)


def _draw_margin(ax: Axes, y: float, half: float, middle: float) -> None:
    ax.barh(
        y, 2 * half, height=0.72, left=middle - half, facecolor="none", edgecolor=LIGHT["faint"], hatch="////",
        linewidth=0.7, zorder=0.5,
    )  # fmt: skip


def _draw_estimate(ax: Axes, y: float, estimate: Estimate, which: int) -> None:
    view, style = shown(estimate, in_words=True), LANES[which]
    colour, marker = style["color"], style["marker"]
    if estimate.status in UNKNOWN_WORDS:
        ax.annotate(
            UNKNOWN_WORDS[estimate.status], (0.02, y), xycoords=("axes fraction", "data"), va="center", color=SOFT,
            fontsize=7.5,
        )  # fmt: skip
        return
    low, high = view.low, view.high
    if view.value is None or low is None or high is None:
        _draw_bound(ax, y, low, high, colour)
        return
    ax.plot([low, high], [y, y], color=colour, linewidth=1.0, gid="interval95")
    inner_low, inner_high = coverage_interval(estimate, 0.90)
    factor = _display_factor(estimate.unit)
    ends = [float(inner_low or 0.0) * factor, float(inner_high or 0.0) * factor]
    ax.plot(ends, [y, y], color=colour, linewidth=3.0, gid="interval90")
    ax.plot([view.value], [y], marker=marker, color=colour, markersize=5.0, gid="value")


def _draw_bound(ax: Axes, y: float, low: float | None, high: float | None, colour: str) -> None:
    end, marker, edge = (high, "<", ax.get_xlim()[0]) if high is not None else (low, ">", ax.get_xlim()[1])
    ax.plot([float(end or 0.0), edge], [y, y], color=colour, linewidth=1.0, linestyle=(0, (1, 1.5)), gid="bound")
    ax.plot([float(end or 0.0)], [y], marker="|", color=colour, markersize=8.0)
    ax.plot([edge], [y], marker=marker, color=colour, markersize=5.0, clip_on=False)
