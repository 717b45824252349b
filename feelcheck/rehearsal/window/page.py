"""The words of the page: how far it is, what to do, what is felt now, keys."""

from __future__ import annotations

import math

import pygame

from feelcheck.canvas import HEIGHT, WIDTH, Canvas
from feelcheck.rehearsal.course import PAIN
from feelcheck.rehearsal.view import RehearsalView, Stage
from feelcheck.rehearsal.window.palette import Palette

__all__ = ["draw_words"]

MARGIN = 48.0
RIGHT = WIDTH - MARGIN
BESIDE = (MARGIN, 620.0)
COLUMN = 560.0
WHOLE = (Stage.READY, Stage.PAUSED, Stage.UNPLUGGED, Stage.FINISHED)
"""Pages without a ring, whose words take the whole width."""


def draw_words(canvas: Canvas, palette: Palette, view: RehearsalView, size: float, told: list[str]) -> None:
    """Draw everything but the ring.

    Parameters
    ----------
    canvas : Canvas
        Where to draw.
    palette : Palette
        The colours.
    view : RehearsalView
        What the rehearsal shows now.
    size : float
        Factor on letters and lines.
    told : list of str
        Lines below.
    """
    _head(canvas, palette, view, size)
    whole = view.stage in WHOLE
    left = MARGIN if whole or view.right_handed else 660.0
    width = RIGHT - MARGIN if whole else COLUMN
    y = _sentence(canvas, palette, view, (left, width), size)
    if view.stage in (Stage.FIRST, Stage.SECOND, Stage.REST):
        y = _left(canvas, palette, view, left, y)
    if view.stage is Stage.ANSWER:
        y = _answers(canvas, palette, view, left, y)
    if view.stage is Stage.FREE and view.trace:
        y = _strip(canvas, palette, view, left, y)
    letters = (24 if whole else 20) * size
    for text in [*view.more, *told]:
        if text and y < _legend_top(size) - 48:
            y = canvas.block(text, left, y, letters, width=width, colour=palette.ink) + 0.6 * letters
    _legend(canvas, palette, view, size)


def _head(canvas: Canvas, palette: Palette, view: RehearsalView, size: float) -> None:
    letters = 18 * min(size, 1.2)
    canvas.text(view.title, MARGIN, 24, letters, colour=palette.soft)
    if not view.n:
        return
    canvas.text(f"{view.done} of {view.n}", RIGHT, 24, letters, colour=palette.soft, side="right")
    canvas.rule(MARGIN, 62, RIGHT, 62, colour=palette.faint, width=2)
    if view.done:
        canvas.rule(MARGIN, 62, MARGIN + (RIGHT - MARGIN) * view.done / view.n, 62, colour=palette.ink, width=5)


def _sentence(canvas: Canvas, palette: Palette, view: RehearsalView, place: tuple[float, float], size: float) -> float:
    left, width = place
    y = 100.0 if view.stage in WHOLE else 168.0
    if view.label and view.stage in (Stage.FREE, Stage.AIM):
        canvas.text(view.label, left, 108, 34 * min(size, 1.2), colour=palette.bead, face="bold")
    letters = 38 * min(size, 1.25)
    for line in canvas.lines(view.sentence, width, letters, "serif")[:3]:
        canvas.text(line, left, y, letters, colour=palette.ink, face="serif")
        y += 1.25 * letters
    return y + 14


def _left(canvas: Canvas, palette: Palette, view: RehearsalView, left: float, y: float) -> float:
    """A number of seconds that counts down; nothing flashes."""
    canvas.text(f"{math.ceil(view.left_s)} s", left, y, 30, colour=palette.soft)
    return y + 56


def _answers(canvas: Canvas, palette: Palette, view: RehearsalView, left: float, y: float) -> float:
    """Two fields with an arrow each; the one to which the stick is held fills."""
    for k, (side, word) in enumerate((("left", "First"), ("right", "Second"))):
        x = left + k * 285
        held = view.choice is not None and view.choice[0] == side
        canvas.area(x, y, 265, 120, palette.shade, round_by=10)
        if held and view.choice is not None:
            canvas.area(x, y, 265 * view.choice[1], 120, palette.faint, round_by=10)
        canvas.text(word, x + 132, y + 20, 34, colour=palette.ink, face="bold", side="middle")
        tip, back = (x + 112, x + 152) if side == "left" else (x + 152, x + 112)
        points = [canvas.at(tip, y + 88), canvas.at(back, y + 74), canvas.at(back, y + 102)]
        pygame.draw.polygon(canvas.surface, palette.mark, points)
    return y + 144


def _strip(canvas: Canvas, palette: Palette, view: RehearsalView, left: float, y: float) -> float:
    """Two seconds of the stick (thin) and of what is played (bold), across."""
    high = 130.0
    canvas.area(left, y, COLUMN, high, palette.shade)
    end_s = view.trace[-1][0]

    def line(which: int) -> list[tuple[int, int]]:
        return [
            canvas.at(
                left + COLUMN * (1 - (end_s - point[0]) / 2.0), y + high / 2 - 0.42 * high * _within(point[which])
            )
            for point in view.trace
        ]

    for which, colour, width in ((1, palette.soft, 1.5), (2, palette.bead, 4.0)):
        points = line(which)
        if len(points) > 1:
            pygame.draw.lines(canvas.surface, colour, False, points, canvas.n(width))
    canvas.text("thin: your stick    bold: what is played    two seconds", left, y + high + 6, 16, colour=palette.soft)
    return y + high + 40


def _legend(canvas: Canvas, palette: Palette, view: RehearsalView, size: float) -> None:
    """What the keys do, and the caution; large letters take a line each."""
    letters = 17 * min(size, 1.2)
    first, last = _legend_top(size) + 16, HEIGHT - 46
    canvas.rule(MARGIN, _legend_top(size), RIGHT, _legend_top(size), colour=palette.faint)
    if view.stage is Stage.FINISHED:
        words = "Any key closes this page. The terminal holds everything."
        canvas.text(words, MARGIN, last, letters, colour=palette.soft)
        return
    canvas.text(PAIN, RIGHT, last, letters, colour=palette.ink, face="bold", side="right")
    x = MARGIN
    for place, what in view.keys:
        canvas.text(place, x, first, letters, colour=palette.ink, face="bold")
        x += canvas.width(place, letters, "bold") + 10
        canvas.text(what, x, first, letters, colour=palette.soft)
        x += canvas.width(what, letters) + 34


def _legend_top(size: float) -> float:
    return HEIGHT - (62 if size <= 1 else 88)


def _within(value: float) -> float:
    return max(-1.0, min(1.0, value))
