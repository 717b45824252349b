"""Figures into files and into pages."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

from feelcheck.outputs import Form, check_output, output
from feelcheck.plain_text import harmless

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["save_figure", "svg_element"]

PAGE_PX_PER_IN = 125.0


def save_figure(figure: Figure, path: Path | str, form: Form) -> None:
    """Write a figure as PNG or SVG, by the suffix; the same figure gives the same bytes.

    Parameters
    ----------
    figure : Figure
        What to draw.
    path : Path or str
        Target; an older figure of the same form is replaced.
    form : Form
        What it shows; its mark goes into the file.

    Raises
    ------
    OutputError
        If the suffix is another one, the folder is missing, or the name is that of something else.
    """
    from feelcheck.renderers._style import styled

    target = Path(path)
    kind = target.suffix.lower().lstrip(".")
    check_output(target, form)
    metadata = {"Date": None, "Creator": form.mark} if kind == "svg" else {"Software": form.mark}
    picture = io.BytesIO()
    with styled():
        figure.savefig(picture, format=kind, metadata=metadata)
    data = picture.getvalue()
    with output(target, form) as stream:
        stream.write(harmless(data.decode("utf-8")).encode("utf-8") if kind == "svg" else data)


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
    text = harmless(buffer.getvalue())
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
    widest = f"max-width: calc({figure.get_figwidth():.2f} * var(--px-per-in, {PAGE_PX_PER_IN:.0f}px))"
    head += f' style="{widest}" role="img" aria-labelledby={quoteattr(f"{name}-title {name}-desc")} class="figure"'
    words = f'<title id="{name}-title">{escape(harmless(title))}</title>'
    words += f'<desc id="{name}-desc">{escape(harmless(description))}</desc>'
    return f"{head}>{words}{rest}".strip()
