"""Where panels stand on a sheet: room for their words, frames of a column under each other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np

from feelcheck.renderers._panels import STRIP_GAP, STRIP_HIGH, Panel, Sheet
from feelcheck.renderers.svg.axes import Box, Note, SvgAxes
from feelcheck.renderers.svg.look import UP_PT, n_ticks
from feelcheck.renderers.svg.marks import text_width_pt

__all__ = ["PT_PER_IN", "WORDS_LINE_PT", "Placed", "is_subtitle", "n_subtitle_lines", "places"]

PT_PER_IN = 72.0
NOTE_PT = 8.0
WORDS_LINE_PT = 11.0
PAD_PT = 7.0
LABEL_ROOM_PT = 13.0
TICK_ROOM_PT = 14.0


@dataclass(frozen=True, slots=True)
class Placed:
    """Axes with the rectangle they fill, and the strips under them."""

    axes: SvgAxes
    box: Box
    strips: tuple[tuple[SvgAxes, Box], ...] = ()


def n_subtitle_lines(axes: SvgAxes) -> int:
    """Return how many lines stand between the frame and the title.

    Parameters
    ----------
    axes : SvgAxes
        A panel's axes.
    """
    return max((note.words.count("\n") + 1 for note in axes.notes if is_subtitle(note)), default=0)


def is_subtitle(note: Note) -> bool:
    """Return whether a note is the line between frame and title.

    Parameters
    ----------
    note : Note
        A panel's note.
    """
    return note.coords == ("axes fraction", "axes fraction") and note.at == (0.0, 1.0)


@dataclass(slots=True)
class _Built:
    """A panel drawn, and the room that its words need round it, pt."""

    axes: SvgAxes
    strips: tuple[SvgAxes, ...]
    left: float
    right: float
    above: float
    below: float


def _built(panel: Panel, height_pt: float) -> _Built:
    axes = SvgAxes()
    panel.draw(cast(Any, axes))
    strips = []
    for k, draw in enumerate(panel.strips, start=1):
        strip = SvgAxes()
        draw(cast(Any, strip))
        strip.limits["x"] = axes.range_of("x")
        if k < len(panel.strips):
            strip.labelled_below, strip.labels["x"] = False, ""
        strips.append(strip)
    if strips:
        axes.labelled_below, axes.labels["x"] = False, ""
    every = [axes, *strips]
    left = max(
        one.widest_tick_pt(n_ticks(height_pt, UP_PT)) + one.tick_size_pt["y"] + LABEL_ROOM_PT * bool(one.labels["y"])
        for one in every
    )
    outside = [text_width_pt(n.words, n.look.get("fontsize", NOTE_PT)) + n.offset[0]
               for n in axes.notes if n.coords[0] == "axes fraction" and n.at[0] == 1.0]  # fmt: skip
    return _Built(
        axes=axes,
        strips=tuple(strips),
        left=left,
        right=max(outside, default=0.0) + 4.0,
        above=(16.0 if axes.title else 2.0) + WORDS_LINE_PT * n_subtitle_lines(axes),
        below=TICK_ROOM_PT + (LABEL_ROOM_PT if every[-1].labels["x"] else 0.0),
    )


def places(sheet: Sheet) -> list[Placed]:
    """Put every panel into its row and column; frames of a column stand under each other.

    Parameters
    ----------
    sheet : Sheet
        The panels and where they stand.
    """
    built = [(cell, _built(cell.panel, PT_PER_IN * sheet.row_heights_in[cell.row])) for cell in sheet.cells]
    width = PT_PER_IN * sheet.width_in / sheet.n_columns
    tops = np.cumsum([PT_PER_IN * sheet.head_in, *(PT_PER_IN * h for h in sheet.row_heights_in)])
    placed = []
    for cell, one in built:
        same_column = [b for c, b in built if (c.column, c.span) == (cell.column, cell.span)]
        same_row = [b for c, b in built if c.row == cell.row]
        first, last = cell.column, cell.column + cell.span
        whole = Box(
            left=first * width + PAD_PT + max(b.left for b in same_column),
            right=last * width - PAD_PT - max(b.right for b in same_column),
            top=tops[cell.row] + PAD_PT + max(b.above for b in same_row),
            bottom=tops[cell.row + 1] - PAD_PT / 2 - max(b.below for b in same_row),
        )
        placed.append(_split(one, whole))
    return placed


def _split(one: _Built, whole: Box) -> Placed:
    """Share a rectangle between a panel and its strips."""
    high = whole.height / (1.0 + len(one.strips) * (STRIP_HIGH + STRIP_GAP))
    upper = replace(whole, bottom=whole.top + high)
    strips = []
    for k, strip in enumerate(one.strips):
        top = upper.bottom + high * (STRIP_GAP + k * (STRIP_HIGH + STRIP_GAP))
        strips.append((strip, replace(whole, top=top, bottom=top + STRIP_HIGH * high)))
    return Placed(one.axes, upper, tuple(strips))
