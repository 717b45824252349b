"""A sheet of panels as SVG: places, frames, ticks, marks, keys."""

from __future__ import annotations

import math
from collections.abc import Iterator
from html import escape
from itertools import count
from typing import Any

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.plain_text import harmless
from feelcheck.renderers._panels import Sheet
from feelcheck.renderers._style import HATCHES, INK, LIGHT, PAPER, SOFT
from feelcheck.renderers.svg.axes import TICK_SIZE_PT, Box, Mark, Note, SvgAxes
from feelcheck.renderers.svg.look import Look
from feelcheck.renderers.svg.marks import Inks, area_path, line_path, symbols_path, text_element, text_width_pt
from feelcheck.renderers.svg.places import PT_PER_IN, WORDS_LINE_PT, Placed, is_subtitle, n_subtitle_lines, places

__all__ = ["sheet_svg"]

FONT = "font-family:'DejaVu Sans','Segoe UI',system-ui,sans-serif"
TITLE_PT, WORDS_PT, LABEL_PT, KEY_PT = 8.5, 7.5, 8.0, 7.0
KEY_LINE_PT = 10.5
DASHES = {"--": (3.7, 1.6), ":": (1.0, 1.65)}
HATCH_LINES = {
    "/": "M-1,1L1,-1M0,6L6,0M5,7L7,5", "\\": "M-1,5L1,7M0,0L6,6M5,-1L7,1", "x": "M0,6L6,0M0,0L6,6", "-": "M0,3H6",
    ".": "M3,3m-.7,0a.7,.7 0 1,0 1.4,0a.7,.7 0 1,0 -1.4,0z",
}  # fmt: skip


def sheet_svg(
    sheet: Sheet, *, name: str, by_role: bool = False, title: str = "", description: str = "", mark: str = ""
) -> str:
    """Return a sheet as one ``svg`` element.

    Parameters
    ----------
    sheet : Sheet
        What is drawn.
    name : str
        Every id inside begins with it.
    by_role : bool
        On a page that knows the roles of colours: without a size of its own, colours as ``var(--role, #colour)``.
    title, description : str
        The text alternative.
    mark : str
        Words by which a file is known again.
    """
    writer = _Writer(name, Inks(by_role=by_role))
    body = "".join(writer.sheet(sheet))
    width, height = PT_PER_IN * sheet.width_in, PT_PER_IN * sheet.height_in
    size = "" if by_role else f' width="{width:.0f}pt" height="{height:.0f}pt"'
    told = f"<metadata>{escape(mark, quote=False)}</metadata>" if mark else ""
    if title:
        size += f' role="img" aria-labelledby="{name}-title {name}-desc" class="figure"'
        told += f'<title id="{name}-title">{escape(harmless(title), quote=False)}</title>'
        told += f'<desc id="{name}-desc">{escape(harmless(description), quote=False)}</desc>'
    widest = f"max-width:calc({sheet.width_in:.2f} * var(--px-per-in, 125px));" if by_role else ""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.1f} {height:.1f}"{size} style="{widest}{FONT}">'
    )
    paper = f'<rect width="{width:.1f}" height="{height:.1f}" style="fill:{writer.inks.of(PAPER)}"/>'
    return f"{head}{told}<defs>{''.join(writer.defs)}</defs>{paper}{body}</svg>"


class _Writer:
    """Writes one sheet, and collects what its pieces refer to."""

    def __init__(self, name: str, inks: Inks) -> None:
        self.name, self.inks = name, inks
        self.defs: list[str] = []
        self._numbers, self._hatches = count(), dict[tuple[str, str], str]()
        self._width_pt = math.inf

    def sheet(self, sheet: Sheet) -> Iterator[str]:
        """Write title, panels and what is said under them."""
        self._width_pt = PT_PER_IN * sheet.width_in
        if sheet.title:
            yield self.words(sheet.title, 0.012 * PT_PER_IN * sheet.width_in, 14.0, size=10.0, weight="bold")
        yield from self._keys_above(sheet)
        for placed in places(sheet):
            yield from self._panel(placed)
        for k, line in enumerate(reversed(sheet.left_out)):
            y = PT_PER_IN * sheet.height_in - 7.0 - 14.0 * k
            yield self.words(line, 0.012 * PT_PER_IN * sheet.width_in, y, size=WORDS_PT, colour=SOFT)

    def words(self, words: str, x: float, y: float, **look: Any) -> str:
        return text_element(words, x, y, self.inks, **look)

    def _keys_above(self, sheet: Sheet) -> Iterator[str]:
        x, y = 4.0, 8.0
        for label, look in sheet.keys:
            wide = 22.0 + text_width_pt(label, WORDS_PT)
            if x + wide > PT_PER_IN * sheet.width_in:
                x, y = 4.0, y + 12.0
            yield self._key(look, x, y, 14.0)
            yield self.words(label, x + 18.0, y, size=WORDS_PT, va="center")
            x += wide + 10.0

    def _panel(self, placed: Placed) -> Iterator[str]:
        for axes, box in ((placed.axes, placed.box), *placed.strips):
            yield from self._axes(axes, box)

    def _axes(self, axes: SvgAxes, box: Box) -> Iterator[str]:
        look = Look(axes, box)
        yield from self._grid(look)
        clip = f"{self.name}-c{next(self._numbers)}"
        self.defs.append(
            f'<clipPath id="{clip}"><rect x="{box.left:.1f}" y="{box.top - 1:.1f}" width="{box.width:.1f}" '
            f'height="{box.height + 2:.1f}"/></clipPath>'
        )
        ordered = sorted(axes.marks, key=lambda mark: mark.order)
        yield f'<g clip-path="url(#{clip})">'
        yield from (self._mark(mark, look) for mark in ordered if mark.look.get("clip_on", True))
        yield "</g>"
        yield from (self._mark(mark, look) for mark in ordered if not mark.look.get("clip_on", True))
        yield from self._frame(look)
        yield from (self._note(note, look) for note in axes.notes)
        if axes.title:
            y = box.top - 7.0 - WORDS_LINE_PT * n_subtitle_lines(axes)
            yield self.words(axes.title, box.left, y, size=TITLE_PT, weight="bold")
        yield from self._legend(look)

    # marks -----------------------------------------------------------------------------------------------------------

    def _mark(self, mark: Mark, look: Look) -> str:
        x, y = look.points(mark)
        group = f' id="{self.name}-{mark.look["gid"]}-{next(self._numbers)}"' if "gid" in mark.look else ""
        if mark.y_to is not None:
            return self._path(area_path(x, y, look.up(mark.y_to)), self._area(mark.look), group)
        every = mark.look.get("markevery", 1)
        return self._drawn(x, y, x[::every], y[::every], mark.look, group)

    def _drawn(
        self, x: FloatArray, y: FloatArray, at_x: FloatArray, at_y: FloatArray, look: dict[str, Any], group: str = ""
    ) -> str:
        line = "" if look.get("linestyle", "-") == "none" else self._path(line_path(x, y), self._line(look), group)
        marker = look.get("marker", "")
        if not marker or marker == "none":
            return line
        size = float(look.get("markersize", 5.0))
        drawn = symbols_path(marker, at_x.tolist(), at_y.tolist(), size)
        colour = self.inks.of(look.get("color", INK))
        fill = "none" if look.get("fillstyle") == "none" or marker == "|" else colour
        return line + self._path(drawn, f"fill:{fill};stroke:{colour};stroke-width:{min(1.0, size / 4):.2f}")

    def _path(self, data: str, style: str, group: str = "") -> str:
        return f'<path{group} d="{data}" style="{style}"/>' if data else ""

    def _line(self, look: dict[str, Any]) -> str:
        width, dash = float(look.get("linewidth", 1.5)), look.get("linestyle", "-")
        style = f"fill:none;stroke:{self.inks.of(look.get('color', INK))};stroke-width:{width:g}"
        lengths = dash[1] if isinstance(dash, tuple) else DASHES.get(dash, ())
        if lengths:
            style += ";stroke-dasharray:" + ",".join(f"{length * width:.2f}" for length in lengths)
        style += f";stroke-opacity:{look['alpha']}" if "alpha" in look else ""
        return style + (";stroke-linecap:round" if look.get("solid_capstyle") == "round" else "")

    def _area(self, look: dict[str, Any]) -> str:
        edge = self.inks.of(look.get("edgecolor", INK))
        fill = f"url(#{self._hatch(look['hatch'][0], edge)})" if look.get("hatch") else "none"
        return f"fill:{fill};stroke:{edge};stroke-width:{look.get('linewidth', 1.0):g}"

    def _hatch(self, kind: str, edge: str) -> str:
        assert any(kind in hatch for hatch in HATCHES)
        if (kind, edge) not in self._hatches:
            name = self._hatches[kind, edge] = f"{self.name}-h{len(self._hatches)}"
            self.defs.append(
                f'<pattern id="{name}" width="6" height="6" patternUnits="userSpaceOnUse">'
                f'<path d="{HATCH_LINES[kind]}" style="fill:none;stroke:{edge};stroke-width:.6"/></pattern>'
            )
        return self._hatches[kind, edge]

    def _note(self, note: Note, look: Look) -> str:
        x, y = look.place(note.at, note.coords)
        of = note.look
        shift = (
            0.8 * of.get("fontsize", LABEL_PT) if of.get("rotation") == 90 and of.get("ha", "left") == "left" else 0.0
        )
        size = of.get("fontsize", LABEL_PT)
        if is_subtitle(note):  # it may go on above the next panel, but not off the sheet
            widest = max(text_width_pt(line, size) for line in note.words.split("\n"))
            size *= min(1.0, (self._width_pt - x - note.offset[0]) / max(widest, 1.0))
        return self.words(
            note.words, x + note.offset[0] + shift, y - note.offset[1], size=size,
            colour=of.get("color", INK), weight=of.get("fontweight", ""), ha=of.get("ha", "left"),
            va=of.get("va", "baseline"), rotation=of.get("rotation", 0.0), box="bbox" in of,
        )  # fmt: skip

    # frame -----------------------------------------------------------------------------------------------------------

    def _grid(self, look: Look) -> Iterator[str]:
        axes, box = look.axes, look.box
        data = ""
        if axes.gridded["x"]:
            data += "".join(f"M{x:.1f},{box.top:.1f}V{box.bottom:.1f}" for x in look.ticks("x")[0])
        if axes.gridded["y"]:
            data += "".join(f"M{box.left:.1f},{y:.1f}H{box.right:.1f}" for y in look.ticks("y")[0])
        yield self._path(data, f"fill:none;stroke:{self.inks.of(LIGHT['grid'])};stroke-width:.6")

    def _frame(self, look: Look) -> Iterator[str]:
        axes, box = look.axes, look.box
        ruled = f"M{box.left:.1f},{box.bottom:.1f}H{box.right:.1f}"
        ruled += f"M{box.left:.1f},{box.top:.1f}V{box.bottom:.1f}" if axes.spine_shown["left"] else ""
        xs, x_words = look.ticks("x")
        ys, y_words = look.ticks("y")
        size = axes.tick_size_pt
        ruled += "".join(f"M{x:.1f},{box.bottom:.1f}v{size['x']:g}" for x in xs if size["x"])
        ruled += "".join(f"M{box.left:.1f},{y:.1f}h-{size['y']:g}" for y in ys if size["y"])
        yield self._path(ruled, f"fill:none;stroke:{self.inks.of(SOFT)};stroke-width:.7")
        if axes.labelled_below:
            for x, words in zip(xs, x_words, strict=True):
                yield self.words(words, x, box.bottom + 11.5, size=TICK_SIZE_PT, ha="center")
        colours = [label.colour or INK for label in axes.tick_labels or ()] or [INK] * len(ys)
        off = size["y"] + axes.tick_pad_pt["y"]
        for y, words, colour in zip(ys, y_words, colours, strict=False):
            yield self.words(words, box.left - off, y, size=TICK_SIZE_PT, ha="right", va="center", colour=colour)
        if axes.labels["x"]:
            yield self.words(
                axes.labels["x"], (box.left + box.right) / 2, box.bottom + 24.0, size=LABEL_PT, ha="center"
            )
        if axes.labels["y"]:
            size_pt = LABEL_PT if text_width_pt(axes.labels["y"], LABEL_PT) < 1.5 * box.height else 6.5
            yield self.words(axes.labels["y"], look.label_left_pt, (box.top + box.bottom) / 2, size=size_pt,
                             ha="center", va="center", rotation=90.0)  # fmt: skip

    # keys ------------------------------------------------------------------------------------------------------------

    def _legend(self, look: Look) -> Iterator[str]:
        marks = look.axes.labelled
        if look.axes.key_place is None or not marks:
            return
        handle = KEY_PT * look.axes.key_length
        wide = handle + 5.0 + max(text_width_pt(mark.label, KEY_PT) for mark in marks)
        high = KEY_LINE_PT * len(marks)
        left, top = look.corner(look.axes.key_place, wide, high)
        for k, mark in enumerate(marks):
            y = top + KEY_LINE_PT * (k + 0.5)
            yield self._key({**mark.look, "area": mark.y_to is not None}, left, y, handle)
            yield self.words(mark.label, left + handle + 5.0, y, size=KEY_PT, va="center")

    def _key(self, look: dict[str, Any], x: float, y: float, length: float) -> str:
        ends, levels = np.array([x, x + length]), np.array([y, y])
        if look.get("area"):
            return self._path(area_path(ends, levels - 3.0, levels + 3.0), self._area(look))
        return self._drawn(ends, levels, ends[:1] + length / 2, levels[:1], look)
