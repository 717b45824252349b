"""Numbers in the window: what the rim allows after a flick, the pooled values, and what the finished session says."""

from __future__ import annotations

from pathlib import Path

import pygame
import pygame.image

from feelcheck.canvas import HEIGHT, INK, SOFT, WIDTH, Canvas
from feelcheck.recorder.guide import SoFar

__all__ = ["draw_last", "draw_so_far"]

LEFT, TOP, RIGHT = 704.0, 330.0, WIDTH - 48.0
VALUE_X = 190.0
MOST_WAYS = 4
LAST_X, LAST_TOP = 704.0, 156.0
PICTURE_HIGH = 266.0


def draw_so_far(canvas: Canvas, so_far: SoFar) -> None:
    """Draw, small, what the last flick allows and what all flicks say together.

    Parameters
    ----------
    canvas : Canvas
        Where to draw.
    so_far : SoFar
        What the flicks say until now.
    """
    y = TOP
    if so_far.flick:
        canvas.text(f"This flick's rim allows {so_far.flick} of smoothing.", LEFT, y, 16, colour=SOFT)
        y += 26
    for axis, way, words in so_far.ways[:MOST_WAYS]:
        canvas.text(f"{axis}, code {way}", LEFT, y, 15, colour=SOFT)
        canvas.text(words, LEFT + VALUE_X, y, 15)
        y += 21


def draw_last(canvas: Canvas, so_far: SoFar) -> None:
    """Draw what the finished session says: each way with its interval, its card, what changed since the last one.

    Parameters
    ----------
    canvas : Canvas
        Where to draw.
    so_far : SoFar
        What the flicks say until now.
    """
    if not so_far.done:
        canvas.text("Working out what the flicks say ...", LAST_X, LAST_TOP, 20, colour=SOFT)
        return
    y = LAST_TOP
    for axis, way, words in so_far.ways[: 2 * MOST_WAYS]:
        canvas.text(f"{axis}, code {way}", LAST_X, y, 17, colour=SOFT)
        canvas.text(words, LAST_X + VALUE_X + 20, y, 17)
        y += 24
    y += 8
    if so_far.picture and Path(so_far.picture).is_file():
        y = _draw_picture(canvas, so_far.picture, y) + 10
    lines = so_far.lines[-1:] if so_far.ways else so_far.lines[:2]
    for line in lines:
        if y < HEIGHT - 120:
            y = canvas.block(line, LAST_X, y, 15, width=RIGHT - LAST_X, colour=INK)


def _draw_picture(canvas: Canvas, file: str, y: float) -> float:
    """Draw the card as large as there is room; return where it ends."""
    try:
        picture = pygame.image.load(file)
    except (pygame.error, OSError):
        return y
    high = min(PICTURE_HIGH, HEIGHT - 150 - y)
    wide = high * picture.get_width() / picture.get_height()
    if wide > RIGHT - LAST_X:
        high, wide = high * (RIGHT - LAST_X) / wide, RIGHT - LAST_X
    size = (canvas.n(wide), canvas.n(high))
    canvas.surface.blit(pygame.transform.smoothscale(picture, size), canvas.at(LAST_X, y))
    return y + high
