"""Sheets and panels as matplotlib figures: what pictures of pixels are made from."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.gridspec import SubplotSpec
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from feelcheck.renderers._panels import STRIP_GAP, STRIP_HIGH, Panel, Sheet
from feelcheck.renderers._style import SOFT, styled

__all__ = ["draw_panel", "drawn"]

FEW_DECADES = 100.0
"""A logarithmic axis that spans less than this also has its twos and fives written at it."""


def drawn(sheet: Sheet) -> Figure:
    """Return a sheet as a figure.

    Parameters
    ----------
    sheet : Sheet
        What is drawn.
    """
    width, height = sheet.width_in, sheet.height_in
    with styled():
        figure = Figure(figsize=(width, height), layout="constrained")
        figure.get_layout_engine().set(  # type: ignore[union-attr, call-arg]
            rect=(0.0, sheet.foot_in / height, 1.0, 1.0 - sheet.foot_in / height), w_pad=0.09, h_pad=0.07
        )
        if sheet.title:
            figure.suptitle(sheet.title, x=0.012, ha="left", fontsize=10, fontweight="bold")
        if sheet.cells:
            grid = figure.add_gridspec(len(sheet.row_heights_in), sheet.n_columns, height_ratios=sheet.row_heights_in)
            for cell in sheet.cells:
                _draw(figure, grid[cell.row, cell.column : cell.column + cell.span], cell.panel)
        if sheet.left_out:
            figure.text(0.012, 0.1 / height, "\n".join(sheet.left_out), color=SOFT, fontsize=7.5, va="bottom")
        if sheet.keys:
            handles = [Line2D([], [], label=words, **look) for words, look in sheet.keys]
            figure.legend(handles=handles, loc="outside upper left", ncols=len(handles))
    return figure


def draw_panel(figure: Figure, panel: Panel, place: tuple[float, float, float, float]) -> None:
    """Draw one panel into a figure at left, bottom, width and height, in shares of the figure."""
    left, bottom, width, height = place
    grid = figure.add_gridspec(1, 1, left=left, bottom=bottom, right=left + width, top=bottom + height)
    _draw(figure, grid[0], panel)


def _draw(figure: Figure, place: SubplotSpec, panel: Panel) -> None:
    upper = figure.add_subplot(place)
    panel.draw(upper)
    _write_plainly(upper)
    for k, draw in enumerate(panel.strips, start=1):
        lower = upper.inset_axes((0.0, -k * (STRIP_HIGH + STRIP_GAP), 1.0, STRIP_HIGH), sharex=upper)
        draw(lower)
        lower.tick_params(labelbottom=k == len(panel.strips))
        lower.set_xlabel(lower.get_xlabel() if k == len(panel.strips) else "")
    if panel.strips:
        upper.tick_params(labelbottom=False)
        upper.set_xlabel("")


def _write_plainly(ax: Axes) -> None:
    """Put plain numbers at the ticks of logarithmic sides."""
    for axis in (ax.xaxis, ax.yaxis):
        if axis.get_scale() != "log":
            continue
        axis.set_major_formatter(FuncFormatter(lambda number, _: f"{number:g}"))
        low, high = axis.get_view_interval()
        if low > 0 and high < FEW_DECADES * low:
            axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        axis.set_minor_formatter(NullFormatter())
