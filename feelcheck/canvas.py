"""Windows: paper, ink and letters, in units of a sheet of 1280 by 720, whatever the window's size."""

from __future__ import annotations

import importlib.util
import os
import sys
from collections.abc import Sequence
from pathlib import Path

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

import pygame
import pygame.display
import pygame.font

from feelcheck.errors import SourceError

__all__ = [
    "AGAIN",
    "FAINT",
    "GOOD",
    "HEIGHT",
    "INK",
    "PAPER",
    "PICTURES",
    "SHADE",
    "SIZE",
    "SOFT",
    "WAY",
    "WIDTH",
    "Canvas",
    "Panel",
    "Rgb",
    "has_display",
    "open_canvas",
]

SIZE = "FEELCHECK_WINDOW"
"""Environment variable with a first size such as ``1920x1080``, instead of one that suits the screen."""
PICTURES = "FEELCHECK_PICTURES"
"""Environment variable with a folder that gets a picture of every state that was shown."""

Rgb = tuple[int, int, int]
WIDTH, HEIGHT = 1280, 720
PAPER: Rgb = (247, 244, 236)
SHADE: Rgb = (236, 231, 219)
FAINT: Rgb = (196, 190, 176)
WAY: Rgb = (146, 138, 122)
SOFT: Rgb = (92, 98, 102)
INK: Rgb = (32, 44, 54)
GOOD: Rgb = (20, 92, 88)
AGAIN: Rgb = (146, 58, 24)
_FACES = {"plain": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf", "serif": "DejaVuSerif.ttf"}
_MOST_TEXTS = 300
_OVER = 2


def _font_file(face: str) -> str | None:
    """Return the file of a face among matplotlib's fonts, a library that is here anyway; None for pygame's own."""
    found = importlib.util.find_spec("matplotlib")
    folders = found.submodule_search_locations if found is not None else None
    path = Path(next(iter(folders or [""]))) / "mpl-data" / "fonts" / "ttf" / _FACES[face]
    return str(path) if path.is_file() else None


class Canvas:
    """A surface with the sheet centred in it.

    Parameters
    ----------
    surface : pygame.Surface
        The window's.
    """

    def __init__(self, surface: pygame.Surface) -> None:
        self._fonts: dict[tuple[str, int], pygame.font.Font] = {}
        self._texts: dict[tuple[str, str, int, Rgb], pygame.Surface] = {}
        self.fit(surface)

    def fit(self, surface: pygame.Surface) -> None:
        """Draw on a surface of another size from now on.

        Parameters
        ----------
        surface : pygame.Surface
            The window's new one; the sheet is scaled to fit and centred in it.
        """
        self.surface = surface
        width, height = surface.get_size()
        self.scale = max(0.2, min(width / WIDTH, height / HEIGHT))
        self.left, self.top = (width - WIDTH * self.scale) / 2, (height - HEIGHT * self.scale) / 2
        self._fonts.clear()
        self._texts.clear()

    def at(self, x: float, y: float) -> tuple[int, int]:
        """Return the pixel of a place on the sheet.

        Parameters
        ----------
        x, y : float
            Across and down the sheet, in its units (1280 by 720).
        """
        return round(self.left + x * self.scale), round(self.top + y * self.scale)

    def n(self, length: float) -> int:
        """Return a length in pixels, at least one.

        Parameters
        ----------
        length : float
            In units of the sheet.
        """
        return max(1, round(length * self.scale))

    def _font(self, face: str, size: float) -> pygame.font.Font:
        key = (face, self.n(size))
        if key not in self._fonts:
            self._fonts[key] = pygame.font.Font(_font_file(face), key[1])
        return self._fonts[key]

    def _rendered(self, text: str, face: str, size: float, colour: Rgb) -> pygame.Surface:
        key = (text, face, self.n(size), colour)
        if key not in self._texts:
            if len(self._texts) > _MOST_TEXTS:
                self._texts.clear()
            self._texts[key] = self._font(face, size).render(text, True, colour)
        return self._texts[key]

    def width(self, text: str, size: float, face: str = "plain") -> float:
        """Return how wide a text is, in units of the sheet.

        Parameters
        ----------
        text : str
            One line.
        size : float
            Height of the letters, in units of the sheet.
        face : {"plain", "bold", "serif"}
            The typeface.
        """
        return float(self._font(face, size).size(text)[0]) / self.scale

    def text(
        self, text: str, x: float, y: float, size: float, *, colour: Rgb = INK, face: str = "plain", side: str = "left"
    ) -> None:
        """Write one line; `side` says which end of it (or its middle) is at x.

        Parameters
        ----------
        text : str
            One line.
        x, y, size : float
            Where its top lies and how high its letters are, in units of the sheet.
        colour : tuple of int
            Red, green and blue, 0 to 255.
        face : {"plain", "bold", "serif"}
            The typeface.
        side : {"left", "middle", "right"}
            Which part of the line is at `x`.
        """
        image = self._rendered(text, face, size, colour)
        px, py = self.at(x, y)
        shift = {"left": 0, "middle": image.get_width() // 2, "right": image.get_width()}[side]
        self.surface.blit(image, (px - shift, py))

    def lines(self, text: str, width: float, size: float, face: str = "plain") -> list[str]:
        """Return a text broken into lines that fit a width.

        Parameters
        ----------
        text : str
            Words between blanks; none is broken.
        width, size : float
            Widest line and height of the letters, in units of the sheet.
        face : {"plain", "bold", "serif"}
            The typeface.
        """
        out: list[str] = []
        for word in text.split():
            longer = f"{out[-1]} {word}" if out else word
            if out and self.width(longer, size, face) <= width:
                out[-1] = longer
            else:
                out.append(word)
        return out

    def block(
        self, text: str, x: float, y: float, size: float, *, width: float, colour: Rgb = INK, face: str = "plain"
    ) -> float:
        """Write a text in lines of at most that width; return where the next line would go.

        Parameters
        ----------
        text : str
            Words between blanks.
        x, y, size, width : float
            Left and top, height of the letters and widest line, in units of the sheet.
        colour : tuple of int
            Red, green and blue, 0 to 255.
        face : {"plain", "bold", "serif"}
            The typeface.
        """
        for line in self.lines(text, width, size, face):
            self.text(line, x, y, size, colour=colour, face=face)
            y += 1.35 * size
        return y

    def rule(self, x0: float, y0: float, x1: float, y1: float, *, colour: Rgb = FAINT, width: float = 1.5) -> None:
        """Draw a straight line.

        Parameters
        ----------
        x0, y0, x1, y1, width : float
            Its ends and its thickness, in units of the sheet.
        colour : tuple of int
            Red, green and blue, 0 to 255.
        """
        pygame.draw.line(self.surface, colour, self.at(x0, y0), self.at(x1, y1), self.n(width))

    def area(self, x: float, y: float, width: float, height: float, colour: Rgb, *, round_by: float = 0) -> None:
        """Fill a rectangle.

        Parameters
        ----------
        x, y, width, height : float
            Left, top and size, in units of the sheet.
        colour : tuple of int
            Red, green and blue, 0 to 255.
        round_by : float
            Radius of its corners, in units of the sheet.
        """
        rect = pygame.Rect(*self.at(x, y), self.n(width), self.n(height))
        pygame.draw.rect(self.surface, colour, rect, border_radius=round(round_by * self.scale))

    def panel(self, x: float, y: float, width: float, height: float, colour: Rgb = PAPER) -> Panel:
        """Return a piece of the sheet to draw smooth figures on.

        Parameters
        ----------
        x, y, width, height : float
            Left, top and size, in units of the sheet.
        colour : tuple of int
            Its ground: red, green and blue, 0 to 255.
        """
        return Panel(self, (x, y, width, height), colour)


class Panel:
    """A piece of the sheet drawn at twice its size and reduced, so that curves are smooth.

    Parameters
    ----------
    canvas : Canvas
        Where it goes.
    place : tuple of float
        Left, top, width and height on the sheet.
    colour : tuple of int
        Its ground.
    """

    def __init__(self, canvas: Canvas, place: tuple[float, float, float, float], colour: Rgb) -> None:
        self.canvas, self.place = canvas, place
        self.scale = canvas.scale * _OVER
        self._small = (canvas.n(place[2]), canvas.n(place[3]))
        self.surface = pygame.Surface((self._small[0] * _OVER, self._small[1] * _OVER))
        self.surface.fill(colour)

    def _at(self, point: tuple[float, float]) -> tuple[float, float]:
        return (point[0] - self.place[0]) * self.scale, (point[1] - self.place[1]) * self.scale

    def path(self, points: Sequence[tuple[float, float]], colour: Rgb, width: float) -> None:
        """Draw a line through points given on the sheet, with round joints.

        Parameters
        ----------
        points : sequence of (float, float)
            On the sheet, not from the panel's corner.
        colour : tuple of int
            Red, green and blue, 0 to 255.
        width : float
            In units of the sheet.
        """
        places = [self._at(point) for point in points]
        thick = max(1, round(width * self.scale))
        if len(places) > 1:
            pygame.draw.lines(self.surface, colour, False, places, thick)
        if thick > 4:
            for place in places:
                pygame.draw.circle(self.surface, colour, place, thick / 2)

    def disc(self, point: tuple[float, float], radius: float, colour: Rgb, *, line: float = 0) -> None:
        """Draw a disc, or a ring of that line width.

        Parameters
        ----------
        point : (float, float)
            Its middle on the sheet.
        radius : float
            In units of the sheet.
        colour : tuple of int
            Red, green and blue, 0 to 255.
        line : float
            Width of a ring's line, in units of the sheet; 0 for a disc.
        """
        line_px = max(1, round(line * self.scale)) if line else 0
        pygame.draw.circle(self.surface, colour, self._at(point), radius * self.scale, line_px)

    def shape(self, points: Sequence[tuple[float, float]], colour: Rgb) -> None:
        """Fill a polygon.

        Parameters
        ----------
        points : sequence of (float, float)
            Its corners on the sheet, in order.
        colour : tuple of int
            Red, green and blue, 0 to 255.
        """
        pygame.draw.polygon(self.surface, colour, [self._at(point) for point in points])

    def put(self) -> None:
        """Put it onto the sheet."""
        x, y, *_ = self.place
        self.canvas.surface.blit(pygame.transform.smoothscale(self.surface, self._small), self.canvas.at(x, y))


def has_display() -> bool:
    """Return whether there is a screen to draw on."""
    if os.environ.get("SDL_VIDEODRIVER") in ("dummy", "offscreen"):
        return False
    if not sys.platform.startswith("linux"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def open_canvas() -> Canvas:
    """Open a window and return what is drawn on.

    Raises
    ------
    SourceError
        If no window can be opened.

    Notes
    -----
    Only pygame's display and letters are started here, never its joysticks: those belong to the capture process. Frames
    are handed over as they are drawn, not through a 3-D driver: where that is software, a frame took 18 ms of the
    processor that the capture needs, and takes 0.6 ms so (1280 x 720; SDL_HINT_FRAMEBUFFER_ACCELERATION).
    """
    os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")
    try:
        pygame.display.init()
        pygame.font.init()
        pygame.display.set_caption("feelcheck")
        return Canvas(pygame.display.set_mode(_first_size(), pygame.RESIZABLE))
    except pygame.error as problem:
        pygame.display.quit()
        raise SourceError(
            "No window can be opened here.", {"reason": problem}, "Go on with --headless instead."
        ) from None


def _first_size() -> tuple[int, int]:
    """Return the size that was wished, else four fifths of the screen but never less than the sheet's own."""
    wished = os.environ.get(SIZE, "")
    width, _, height = wished.partition("x")
    if width.isdecimal() and height.isdecimal():
        return int(width), int(height)
    wide, high = (pygame.display.get_desktop_sizes() or [(WIDTH, HEIGHT)])[0]
    scale = max(1.0, min(0.8 * wide / WIDTH, 0.8 * high / HEIGHT))
    return min(wide, round(WIDTH * scale)), min(high, round(HEIGHT * scale))
