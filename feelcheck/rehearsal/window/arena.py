"""The ring: a bead on a thread that follows the stick, or targets and a cursor."""

from __future__ import annotations

import pygame

from feelcheck.canvas import Canvas, Rgb
from feelcheck.rehearsal.aiming import WIDTH, Place
from feelcheck.rehearsal.view import RehearsalView, Stage
from feelcheck.rehearsal.window.palette import Palette

__all__ = ["Arena"]

RADIUS = 252.0
TOP = 364.0
BEAD, CURSOR = 17.0, 9.0
AIM_SCALE = 2 * RADIUS * 0.9


class Arena:
    """Draws the ring; what does not change is drawn once a size.

    Parameters
    ----------
    canvas : Canvas
        What is drawn on.
    palette : Palette
        Colours.
    size : float
        Factor on bead, cursor and lines.
    """

    def __init__(self, canvas: Canvas, palette: Palette, size: float) -> None:
        self.canvas, self.palette, self.size = canvas, palette, size
        self._kept: dict[tuple[object, ...], pygame.Surface] = {}

    def fit(self) -> None:
        """Forget what was drawn for another size of window."""
        self._kept.clear()

    def draw(self, view: RehearsalView) -> None:
        """Draw the ring and what moves in it.

        Parameters
        ----------
        view : RehearsalView
            One instant.
        """
        middle = 320.0 if not view.right_handed else 960.0
        self._put(("ring",), middle, TOP, RADIUS + 14, self._ring)
        if view.stage is Stage.AIM:
            self._aim(view, middle)
        elif view.stage in (Stage.FREE, Stage.FIRST, Stage.SECOND):
            self._bead(view.bead, middle)

    def _put(self, key: tuple[object, ...], x: float, y: float, half: float, draw: object) -> None:
        """Blit a picture that is drawn once, its middle at a place."""
        if key not in self._kept:
            assert callable(draw)
            self._kept[key] = draw(half)
        px, py = self.canvas.at(x, y)
        image = self._kept[key]
        self.canvas.surface.blit(image, (px - image.get_width() // 2, py - image.get_height() // 2))

    def _picture(self, half: float) -> tuple[pygame.Surface, float, float]:
        """A clear surface at twice the size, its scale and its middle."""
        wide = 4 * self.canvas.n(half)
        return pygame.Surface((wide, wide), pygame.SRCALPHA), 2 * self.canvas.scale, wide / 2

    @staticmethod
    def _reduced(surface: pygame.Surface) -> pygame.Surface:
        return pygame.transform.smoothscale(surface, (surface.get_width() // 2, surface.get_height() // 2))

    def _ring(self, half: float) -> pygame.Surface:
        surface, scale, middle = self._picture(half)
        line = max(2, round(3 * self.size * scale))
        pygame.draw.circle(surface, self.palette.shade, (middle, middle), RADIUS * scale)
        pygame.draw.circle(surface, self.palette.faint, (middle, middle), RADIUS * scale, line)
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            ends = [(middle + dx * r * scale, middle + dy * r * scale) for r in (RADIUS - 14, RADIUS + 10)]
            pygame.draw.lines(surface, self.palette.soft, False, ends, line)
        return self._reduced(surface)

    def _disc(self, radius: float, colour: Rgb, *, hole: Rgb | None = None) -> pygame.Surface:
        surface, scale, middle = self._picture(radius + 2)
        pygame.draw.circle(surface, colour, (middle, middle), radius * scale)
        if hole is not None:
            pygame.draw.circle(surface, hole, (middle, middle), 0.42 * radius * scale)
        return self._reduced(surface)

    def _bead(self, bead: Place, middle: float) -> None:
        reach = RADIUS - BEAD * self.size
        x, y = middle + reach * _within(bead[0]), TOP - reach * _within(bead[1])
        self.canvas.rule(middle, TOP, x, y, colour=self.palette.soft, width=2 * self.size)
        self._put(("pin",), middle, TOP, 8, lambda _: self._disc(5 * self.size, self.palette.soft))
        radius = BEAD * self.size
        self._put(("bead",), x, y, radius, lambda _: self._disc(radius, self.palette.bead, hole=self.palette.paper))

    def _aim(self, view: RehearsalView, middle: float) -> None:
        def at(place: Place) -> Place:
            return middle + AIM_SCALE * place[0], TOP - AIM_SCALE * place[1]

        half = AIM_SCALE * WIDTH / 2
        for place in view.targets:
            marked = view.target is not None and abs(place[0] - view.target[0]) + abs(place[1] - view.target[1]) < 1e-9
            self._put(("target", marked), *at(place), half, self._marked if marked else self._open)
        if view.cursor is not None:
            self._put(("cursor",), *at(view.cursor), CURSOR * self.size + 10, self._cursor)

    def _open(self, half: float) -> pygame.Surface:
        surface, scale, middle = self._picture(half)
        pygame.draw.circle(surface, self.palette.soft, (middle, middle), half * scale, max(2, round(3 * scale)))
        return self._reduced(surface)

    def _marked(self, half: float) -> pygame.Surface:
        """Filled, with a cross: told by shape as well as by colour."""
        surface, scale, middle = self._picture(half)
        pygame.draw.circle(surface, self.palette.mark, (middle, middle), half * scale)
        arm = 0.38 * half * scale
        for dx, dy in ((1, 0), (0, 1)):
            ends = [(middle + s * dx * arm, middle + s * dy * arm) for s in (-1, 1)]
            pygame.draw.lines(surface, self.palette.paper, False, ends, max(2, round(3 * scale)))
        return self._reduced(surface)

    def _cursor(self, half: float) -> pygame.Surface:
        surface, scale, middle = self._picture(half)
        radius = CURSOR * self.size * scale
        pygame.draw.circle(surface, self.palette.paper, (middle, middle), radius + 3 * scale)
        pygame.draw.circle(surface, self.palette.bead, (middle, middle), radius)
        for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            ends = [(middle + dx * r, middle + dy * r) for r in (radius, radius + 8 * scale)]
            pygame.draw.lines(surface, self.palette.bead, False, ends, max(2, round(3 * scale)))
        return self._reduced(surface)


def _within(value: float) -> float:
    return max(-1.0, min(1.0, value))
