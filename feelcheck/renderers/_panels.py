"""What panels of every figure have in common: a sheet of them, titles with a line of words, empty ones that say why."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.gridspec import SubplotSpec
from matplotlib.ticker import FuncFormatter, NullFormatter

from feelcheck.renderers._style import SOFT, styled

__all__ = ["Panel", "Picture", "heading", "logarithmic", "sheet", "zoomed_limits"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One panel: how it is drawn, and its text alternative.

    Parameters
    ----------
    draw : callable
        Draws into the axes it is given.
    description : str
        What is to be seen, in words and numbers.
    draw_under : callable or None
        Draws into a lower strip that shares the panel's time axis.
    """

    draw: Callable[[Axes], None]
    description: str
    draw_under: Callable[[Axes], None] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A figure for a page: its title and its text alternative."""

    figure: Figure
    title: str
    description: str


def sheet(
    panels: Sequence[Panel],
    *,
    n_columns: int = 3,
    panel_in: tuple[float, float] = (3.3, 2.5),
    title: str = "",
    left_out: Sequence[str] = (),
) -> Figure:
    """Return a figure with the panels in reading order.

    Parameters
    ----------
    panels : sequence of Panel
        At least one is drawn; without any the sheet holds only the words of `left_out`.
    n_columns : int
        Panels in a row at most.
    panel_in : (float, float), inch
        Width and height of a panel.
    title : str
        Over the sheet.
    left_out : sequence of str
        Which panels are missing and why; written under the sheet.
    """
    n_columns = max(1, min(n_columns, len(panels)))
    n_rows = math.ceil(len(panels) / n_columns)
    foot_in = 0.2 * len(left_out) + (0.15 if left_out else 0.0)
    head_in = 0.35 if title else 0.0
    width, height = max(n_columns * panel_in[0], 5.0), n_rows * panel_in[1] + head_in + foot_in or 1.0
    with styled():
        figure = Figure(figsize=(width, height), layout="constrained")
        figure.get_layout_engine().set(  # type: ignore[union-attr, call-arg]
            rect=(0.0, foot_in / height, 1.0, 1.0 - foot_in / height), w_pad=0.09, h_pad=0.07
        )
        if title:
            figure.suptitle(title, x=0.012, ha="left", fontsize=10, fontweight="bold")
        if panels:
            grid = figure.add_gridspec(n_rows, n_columns)
            for k, panel in enumerate(panels):
                _draw(figure, grid[k // n_columns, k % n_columns], panel)
        if left_out:
            figure.text(0.012, 0.1 / height, "\n".join(left_out), color=SOFT, fontsize=7.5, va="bottom")
    return figure


def _draw(figure: Figure, place: SubplotSpec, panel: Panel) -> None:
    if panel.draw_under is None:
        panel.draw(figure.add_subplot(place))
        return
    grid = place.subgridspec(2, 1, height_ratios=(3, 1), hspace=0.02)
    upper = figure.add_subplot(grid[0])
    lower = figure.add_subplot(grid[1], sharex=upper)
    panel.draw(upper)
    panel.draw_under(lower)
    upper.tick_params(labelbottom=False)
    upper.set_xlabel("")


def heading(ax: Axes, title: str, words: str = "") -> None:
    """Give a panel its title and, under it, a line or two of words in a quieter ink."""
    n_lines = len(words.splitlines())
    ax.set_title(title, pad=7.0 + 11.0 * n_lines)
    if words:
        place = {"xycoords": "axes fraction", "textcoords": "offset points"}
        ax.annotate(words, (0.0, 1.0), (0, 5), fontsize=7.5, color=SOFT, **place).set_in_layout(False)  # type: ignore[arg-type]


def logarithmic(ax: Axes, *, x: bool = False, y: bool = False) -> None:
    """Make axes logarithmic, with plain numbers at their ticks."""
    if x:
        ax.set_xscale("log")
    if y:
        ax.set_yscale("log")
    for axis in (ax.xaxis,) * x + (ax.yaxis,) * y:
        axis.set_major_formatter(FuncFormatter(lambda number, _: f"{number:g}"))
        axis.set_minor_formatter(NullFormatter())


def zoomed_limits(low: float, high: float, share: float = 0.06) -> tuple[float, float]:
    """Return limits a little wider than the data, also where all data is one value.

    Examples
    --------
    >>> zoomed_limits(0.0, 10.0, 0.1)
    (-1.0, 11.0)
    """
    room = share * (high - low) or 0.5 * abs(high) or 1.0
    return low - room, high + room
