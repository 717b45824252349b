"""Colours of the window, light and dark: blue and ochre, which all kinds of colour vision tell apart, and shapes."""

from __future__ import annotations

from dataclasses import dataclass

from feelcheck.canvas import FAINT, INK, PAPER, SHADE, SOFT, Rgb

__all__ = ["DARK", "LIGHT", "Palette"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Ground, letters, and the two colours that mean something.

    Parameters
    ----------
    paper, shade, faint, soft, ink : tuple of int
        Ground, raised ground, lines, quiet letters, letters.
    bead, mark : tuple of int
        What moves, and what is to be reached or was chosen.
    """

    paper: Rgb
    shade: Rgb
    faint: Rgb
    soft: Rgb
    ink: Rgb
    bead: Rgb
    mark: Rgb


LIGHT = Palette(paper=PAPER, shade=SHADE, faint=FAINT, soft=SOFT, ink=INK, bead=(0, 84, 147), mark=(166, 76, 0))
DARK = Palette(
    paper=(22, 28, 34), shade=(38, 47, 55), faint=(88, 97, 104), soft=(172, 178, 181), ink=(238, 236, 230),
    bead=(120, 188, 242), mark=(245, 170, 96),
)  # fmt: skip
