"""What panels of every figure have in common: a sheet of them, titles with a line of words, empty ones that say why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from feelcheck.renderers._style import SOFT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "HEAD_IN",
    "STRIP_GAP",
    "STRIP_HIGH",
    "Cell",
    "Panel",
    "Picture",
    "Sheet",
    "heading",
    "logarithmic",
    "sheet",
    "zoomed_limits",
]

HEAD_IN = 0.35
"""Room for a title over a sheet."""
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
    span : int
        How many columns it takes where the sheet has them.
    """

    draw: Callable[[Axes], object]
    description: str
    strips: tuple[Callable[[Axes], object], ...] = ()
    span: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A panel's place on a sheet: its row, its first column, how many columns it takes."""

    panel: Panel
    row: int
    column: int = 0
    span: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Panels in rows and columns, ready to be drawn.

    Parameters
    ----------
    cells : tuple of Cell
        In reading order.
    row_heights_in : tuple of float, inch
        Of every row.
    n_columns : int
        All of one width.
    width_in, head_in, foot_in : float, inch
        Of the whole sheet; above and below all rows.
    title : str
        Over the sheet.
    left_out : tuple of str
        Which panels are missing and why; written under the sheet.
    keys : tuple of (str, dict)
        What marks mean, over all panels: words and the look of a mark.
    """

    cells: tuple[Cell, ...]
    row_heights_in: tuple[float, ...]
    n_columns: int
    width_in: float
    head_in: float = 0.0
    foot_in: float = 0.0
    title: str = ""
    left_out: tuple[str, ...] = ()
    keys: tuple[tuple[str, dict[str, Any]], ...] = ()

    @property
    def height_in(self) -> float:
        """Return how high the sheet is, inch."""
        return sum(self.row_heights_in) + self.head_in + self.foot_in or 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A sheet for a page: its title and its text alternative."""

    sheet: Sheet
    title: str
    description: str


def sheet(
    panels: Sequence[Panel],
    *,
    n_columns: int = 3,
    panel_in: tuple[float, float] = (3.3, 2.5),
    title: str = "",
    left_out: Sequence[str] = (),
) -> Sheet:
    """Return a sheet with the panels in reading order.

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
    n_columns = max(1, min(n_columns, sum(panel.span for panel in panels)))
    cells = _flowed(panels, n_columns)
    rows = [[cell for cell in cells if cell.row == row] for row in range(cells[-1].row + 1 if cells else 0)]
    tall = [1.0 + STRIP_ROWS * max(len(cell.panel.strips) for cell in row) for row in rows]
    return Sheet(
        cells=cells,
        row_heights_in=tuple(share * panel_in[1] for share in tall),
        n_columns=n_columns,
        width_in=max(n_columns * panel_in[0], 5.0),
        head_in=HEAD_IN if title else 0.0,
        foot_in=0.2 * len(left_out) + (0.15 if left_out else 0.0),
        title=title,
        left_out=tuple(left_out),
    )


def _flowed(panels: Sequence[Panel], n_columns: int) -> tuple[Cell, ...]:
    """Put panels one after the other, a new row where one does not fit into what is left of the row."""
    cells: list[Cell] = []
    row, column = 0, 0
    for panel in panels:
        span = min(panel.span, n_columns)
        if column + span > n_columns:
            row, column = row + 1, 0
        cells.append(Cell(panel=panel, row=row, column=column, span=span))
        column += span
    return tuple(cells)


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


def zoomed_limits(low: float, high: float, share: float = 0.06) -> tuple[float, float]:
    """Return limits a little wider than the data, also where all data is one value.

    Examples
    --------
    >>> zoomed_limits(0.0, 10.0, 0.1)
    (-1.0, 11.0)
    """
    room = share * (high - low) or 0.5 * abs(high) or 1.0
    return low - room, high + room
