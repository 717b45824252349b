"""Figures into files and into pages."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

from feelcheck.outputs import Form, check_output, output
from feelcheck.phases import phase
from feelcheck.plain_text import harmless
from feelcheck.renderers._panels import Sheet
from feelcheck.renderers.svg.sheet import sheet_svg

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["save_figure", "svg_element"]


def save_figure(figure: Sheet | Figure, path: Path | str, form: Form) -> None:
    """Write a sheet as PNG or SVG, by the suffix; the same sheet gives the same bytes.

    Parameters
    ----------
    figure : Sheet or matplotlib Figure
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
    target = Path(path)
    phase(f"drawing {target.name}")
    kind = target.suffix.lower().lstrip(".")
    check_output(target, form)
    if isinstance(figure, Sheet) and kind == "svg":
        data = f'<?xml version="1.0" encoding="utf-8"?>\n{sheet_svg(figure, name="figure", mark=form.mark)}\n'.encode()
    else:
        data = _painted(figure, kind, form)
    with output(target, form) as stream:
        stream.write(data)


def _painted(figure: Sheet | Figure, kind: str, form: Form) -> bytes:
    """A picture by matplotlib."""
    from feelcheck.renderers._drawn import drawn
    from feelcheck.renderers._style import styled

    metadata = {"Date": None, "Creator": form.mark} if kind == "svg" else {"Software": form.mark}
    picture = io.BytesIO()
    with styled():
        (drawn(figure) if isinstance(figure, Sheet) else figure).savefig(picture, format=kind, metadata=metadata)
    data = picture.getvalue()
    return harmless(data.decode("utf-8")).encode("utf-8") if kind == "svg" else data


def svg_element(picture: Sheet, name: str, title: str, description: str) -> str:
    """Return a sheet as one `svg` element for a page, with its text alternative and colours by role.

    Parameters
    ----------
    picture : Sheet
        What to draw.
    name : str
        Unique on the page; every id inside begins with it.
    title, description : str
        The text alternative.

    Notes
    -----
    Each of the look's colours becomes ``var(--role, #colour)``, so that the page chooses light or dark.
    """
    return sheet_svg(picture, name=name, by_role=True, title=title, description=description)
