"""What panels of every figure have in common: a sheet of them, titles with a line of words, empty ones that say why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.gridspec import SubplotSpec
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from feelcheck.renderers._style import SOFT, styled

__all__ = ["Panel", "Picture", "draw_panel", "heading", "logarithmic", "sheet", "zoomed_limits"]


FEW_DECADES = 100.0
"""A logarithmic axis that spans less than this also has its twos and fives written at it."""
STRIP_ROWS = 0.3
"""By how much of its height a row grows for each strip under its panels."""
STRIP_HIGH, STRIP_GAP = 0.28, 0.07
"""Height of a strip, and of the gap above it, in heights of its panel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One panel: how it is drawn, and its text alternative.

    Parameters
    ----------
    draw : callable
        Draws into the axes it is given.
    description : str
        What is to be seen, in words and numbers.
    strips : tuple of callable
        Each draws into a lower strip that shares the panel's time axis.
    """

    draw: Callable[[Axes], None]
    description: str
    strips: tuple[Callable[[Axes], None], ...] = ()


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
    rows = [panels[k : k + n_columns] for k in range(0, len(panels), n_columns)]
    tall = [1.0 + STRIP_ROWS * max(len(panel.strips) for panel in row) for row in rows]
    foot_in = 0.2 * len(left_out) + (0.15 if left_out else 0.0)
    head_in = 0.35 if title else 0.0
    width, height = max(n_columns * panel_in[0], 5.0), sum(tall) * panel_in[1] + head_in + foot_in or 1.0
    with styled():
        figure = Figure(figsize=(width, height), layout="constrained")
        figure.get_layout_engine().set(  # type: ignore[union-attr, call-arg]
            rect=(0.0, foot_in / height, 1.0, 1.0 - foot_in / height), w_pad=0.09, h_pad=0.07
        )
        if title:
            figure.suptitle(title, x=0.012, ha="left", fontsize=10, fontweight="bold")
        if panels:
            grid = figure.add_gridspec(len(rows), n_columns, height_ratios=tall)
            for k, panel in enumerate(panels):
                _draw(figure, grid[k // n_columns, k % n_columns], panel)
        if left_out:
            figure.text(0.012, 0.1 / height, "\n".join(left_out), color=SOFT, fontsize=7.5, va="bottom")
    return figure


def draw_panel(figure: Figure, panel: Panel, place: tuple[float, float, float, float]) -> None:
    """Draw one panel into a figure at left, bottom, width and height, in shares of the figure."""
    left, bottom, width, height = place
    grid = figure.add_gridspec(1, 1, left=left, bottom=bottom, right=left + width, top=bottom + height)
    _draw(figure, grid[0], panel)


def _draw(figure: Figure, place: SubplotSpec, panel: Panel) -> None:
    upper = figure.add_subplot(place)
    panel.draw(upper)
    for k, draw in enumerate(panel.strips, start=1):
        lower = upper.inset_axes((0.0, -k * (STRIP_HIGH + STRIP_GAP), 1.0, STRIP_HIGH), sharex=upper)
        draw(lower)
        lower.tick_params(labelbottom=k == len(panel.strips))
        lower.set_xlabel(lower.get_xlabel() if k == len(panel.strips) else "")
    if panel.strips:
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
        low, high = axis.get_view_interval()
        if low > 0 and high < FEW_DECADES * low:
            axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
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
