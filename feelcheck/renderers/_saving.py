"""Figures into files and into pages."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

from feelcheck.errors import FormatError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["FIGURE_SUFFIXES", "check_target", "numbered", "save_figure", "svg_element"]

FIGURE_SUFFIXES = (".png", ".svg")
PAGE_PX_PER_IN = 125.0


def save_figure(figure: Figure, path: Path | str) -> None:
    """Write a figure as PNG or SVG, by the suffix; the same figure gives the same bytes.

    Parameters
    ----------
    figure : Figure
        What to draw.
    path : Path or str
        Target; an existing file is replaced.

    Raises
    ------
    FormatError
        If the suffix is another one, or the folder is missing.
    """
    target = check_target(Path(path))
    from feelcheck.renderers._style import styled

    kind = target.suffix.lower().lstrip(".")
    metadata = {"Date": None} if kind == "svg" else {"Software": None}
    with styled():
        figure.savefig(target, format=kind, metadata=metadata)


def check_target(path: Path) -> Path:
    """Return the path if a figure can be written there; raises FormatError if not."""
    if path.suffix.lower() not in FIGURE_SUFFIXES:
        raise FormatError(
            "A figure is written as PNG or SVG.",
            {"got": path.name, "allowed": ", ".join(FIGURE_SUFFIXES)},
            "Choose a name that ends in one of them.",
        )
    if not path.parent.is_dir():
        raise FormatError(
            "A figure needs an existing folder.", {"folder": path.parent}, "Make the folder first, or choose another."
        )
    return path


def numbered(path: Path, n: int) -> list[Path]:
    """Return the paths of `n` figures that are asked for under one name: all but the first get a number.

    Examples
    --------
    >>> [path.name for path in numbered(Path("birch.png"), 2)]
    ['birch.png', 'birch_2.png']
    """
    return [path if number == 1 else path.with_stem(f"{path.stem}_{number}") for number in range(1, n + 1)]


def svg_element(figure: Figure, name: str, title: str, description: str) -> str:
    """Return a figure as one `svg` element for a page, with its text alternative and colours by role.

    Parameters
    ----------
    figure : Figure
        What to draw.
    name : str
        Unique on the page; every id inside begins with it.
    title, description : str
        The text alternative.

    Notes
    -----
    Each of the look's colours becomes ``var(--role, #colour)``, so that the page chooses light or dark.
    """
    from feelcheck.renderers._style import LIGHT, styled

    buffer = io.StringIO()
    with styled():
        figure.savefig(buffer, format="svg", metadata={"Date": None})
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r"<!--.*?-->\s*", "", text, flags=re.DOTALL)
    text = re.sub(r'="[^"]*"', lambda value: re.sub(r"(\d\.\d{2})\d+", r"\1", value.group()), text)
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'(href="|url\()#', rf"\1#{name}-", text)
    for role, colour in LIGHT.items():
        text = text.replace(f": {colour}", f": var(--{role}, {colour})")
    head, rest = text.split(">", 1)
    head = re.sub(r' (width|height)="[^"]*"', "", head)
    widest = f"max-width: {figure.get_figwidth() * PAGE_PX_PER_IN:.0f}px"
    head += f' style="{widest}" role="img" aria-labelledby={quoteattr(f"{name}-title {name}-desc")} class="figure"'
    words = f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape(description)}</desc>'
    return f"{head}>{words}{rest}".strip()
