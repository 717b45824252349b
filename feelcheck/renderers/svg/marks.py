"""Marks as pieces of SVG: lines, symbols, areas and words, in points of the sheet."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from math import isfinite
from typing import Any

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.plain_text import harmless
from feelcheck.renderers._style import LIGHT

__all__ = ["Inks", "area_path", "line_path", "symbols_path", "text_element", "text_width_pt"]

ROLE_OF = {colour: role for role, colour in LIGHT.items()}
THIN, WIDE = frozenset("ijlftrI.,:;'|!()[]/ "), frozenset("mwMW%@\u2192\u2014")
THIN_EM, WIDE_EM, UPPER_EM, USUAL_EM = 0.36, 0.92, 0.68, 0.6
HALF_LINE_EM = 0.35
"""From the middle of a line of words down to its baseline."""
ANCHORS = {"left": "start", "center": "middle", "right": "end"}
LINE_EM = 1.2


class Inks:
    """Colours as a file shows them: by role where the page round it knows the roles, plainly where it stands alone."""

    def __init__(self, *, by_role: bool) -> None:
        self._by_role = by_role

    def of(self, colour: str) -> str:
        """Return what stands in a style for a colour.

        Parameters
        ----------
        colour : str
            As CSS writes it.
        """
        role = ROLE_OF.get(colour) if self._by_role else None
        return colour if role is None else f"var(--{role}, {colour})"


def text_width_pt(words: str, size_pt: float) -> float:
    """Return about how wide a line is in a usual sans-serif face, rather too wide than too narrow.

    Parameters
    ----------
    words : str
        One line.
    size_pt : float, pt
        Height of the letters, or width of the symbol.

    Examples
    --------
    >>> text_width_pt("100", 10.0)
    18.0
    """
    ems = (
        THIN_EM if c in THIN else WIDE_EM if c in WIDE or ord(c) > 0x2E7F else UPPER_EM if c.isupper() else USUAL_EM
        for c in words
    )
    return size_pt * sum(ems)


def line_path(x: FloatArray, y: FloatArray) -> str:
    """Return the data of a path along points; a gap where one of them is no number.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Places across, px.
    y : ndarray, shape (n,)
        Places down, px.
    """
    whole = np.isfinite(x) & np.isfinite(y)
    if whole.all():
        return _run(x, y)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], whole, [False]]).astype(np.int8)))
    return "".join(_run(x[a:b], y[a:b]) for a, b in edges.reshape(-1, 2))


def _run(x: FloatArray, y: FloatArray) -> str:
    flat = np.column_stack([x, y]).ravel().tolist()
    return "M" + " ".join(map("%.1f".__mod__, flat)) if flat else ""


def area_path(x: FloatArray, low: FloatArray, high: FloatArray) -> str:
    """Return the data of a closed path between two lines.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Places across, px.
    low : ndarray, shape (n,)
        One line's places down, px.
    high : ndarray, shape (n,)
        The other's, px.
    """
    return line_path(np.concatenate([x, x[::-1]]), np.concatenate([low, high[::-1]])) + "Z"


def symbols_path(symbol: str, x: Iterable[float], y: Iterable[float], size_pt: float) -> str:
    """Return the data of one path with a symbol at every point.

    Parameters
    ----------
    symbol : str
        Name of the symbol.
    x : iterable of float
        Places across.
    y : iterable of float
        Places down.
    size_pt : float, pt
        Height of the letters, or width of the symbol.
    """
    r = size_pt / 2
    drawn = {
        "o": f"m-{r:.2f},0a{r:.2f},{r:.2f} 0 1,0 {2 * r:.2f},0a{r:.2f},{r:.2f} 0 1,0 -{2 * r:.2f},0z",
        "s": f"m-{r:.2f},-{r:.2f}h{2 * r:.2f}v{2 * r:.2f}h-{2 * r:.2f}z",
        "D": f"m0,-{r:.2f}l{r:.2f},{r:.2f}l-{r:.2f},{r:.2f}l-{r:.2f},-{r:.2f}z",
        "^": f"m0,-{r:.2f}l{r:.2f},{2 * r:.2f}h-{2 * r:.2f}z",
        "v": f"m0,{r:.2f}l{r:.2f},-{2 * r:.2f}h-{2 * r:.2f}z",
        "<": f"m-{r:.2f},0l{2 * r:.2f},-{r:.2f}v{2 * r:.2f}z",
        ">": f"m{r:.2f},0l-{2 * r:.2f},-{r:.2f}v{2 * r:.2f}z",
        "|": f"m0,-{r:.2f}v{2 * r:.2f}",
    }[symbol]
    return "".join(f"M{a:.1f},{b:.1f}{drawn}" for a, b in zip(x, y, strict=True) if isfinite(a) and isfinite(b))


def text_element(words: str, x: float, y: float, inks: Inks, **look: Any) -> str:
    """Return lines of words at a point, in points of the sheet.

    Parameters
    ----------
    words : str
        One or several lines.
    x, y : float, pt
        Where `ha` and `va` of the whole text lie.
    inks : Inks
        How colours are written.
    **look : size, colour, weight, ha, va, rotation, box
        Of the words; `box` is the paper behind them.
    """
    if not (isfinite(x) and isfinite(y)):
        return ""
    size, lines = look.get("size", 8.0), harmless(words).split("\n")
    ha, va, turn = look.get("ha", "left"), look.get("va", "baseline"), look.get("rotation", 0.0)
    first = y + {"baseline": 1 - len(lines), "bottom": 0.8 - len(lines), "top": 0.75}.get(
        va, HALF_LINE_EM / LINE_EM - 0.5 * (len(lines) - 1)
    ) * (LINE_EM * size)
    style = f"font-size:{size:g}px;fill:{inks.of(look.get('colour', LIGHT['ink']))};text-anchor:{ANCHORS[ha]}"
    style += ";font-weight:bold" if look.get("weight") == "bold" else ""
    turned = f' transform="rotate({-turn:g} {x:.1f} {y:.1f})"' if turn else ""
    told = "".join(
        f'<text x="{x:.1f}" y="{first + k * LINE_EM * size:.1f}" style="{style}"{turned}>{line}</text>'
        for k, line in enumerate(escape(line, quote=False) for line in lines)
    )
    return (_paper(lines, x, first, size, ha, inks) if look.get("box") else "") + told


def _paper(lines: list[str], x: float, first: float, size: float, ha: str, inks: Inks) -> str:
    width = max(text_width_pt(line, size) for line in lines)
    left = x - {"left": 0.0, "center": width / 2, "right": width}[ha]
    return (
        f'<rect x="{left - 0.6:.1f}" y="{first - 0.85 * size:.1f}" width="{width + 1.2:.1f}" '
        f'height="{((len(lines) - 1) * LINE_EM + 1) * size:.1f}" style="fill:{inks.of(LIGHT["paper"])}"/>'
    )
