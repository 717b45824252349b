"""`--as NAME`: a result as the document that a renderer of any package makes of it."""

from __future__ import annotations

import sys
from typing import Annotated, Any

import typer

from feelcheck.errors import OutputError

__all__ = ["As", "check_document", "show_document"]

As = Annotated[str | None, typer.Option("--as", metavar="NAME", help="Print it as this renderer does; see plugins.")]


def check_document(name: str | None, kind: str) -> None:
    """Refuse a renderer that is missing or does not take such results, before anything is measured for it."""
    if name is not None:
        from feelcheck import pipeline

        pipeline.check_renderer(name, kind)


def show_document(name: str, kind: str, result: Any) -> None:
    """Print a result as a renderer makes it; bytes go to a file or another program only.

    Parameters
    ----------
    name : str
        The renderer's.
    kind : {"hand", "bench", "comparison", "report"}
        What the result is.
    result : object
        The result.

    Raises
    ------
    PluginError
        If the renderer is missing, does not take such results, or fails.
    OutputError
        If the document is not text and standard output is a terminal.
    """
    from feelcheck import pipeline

    document = pipeline.rendered(name, kind, result)
    if isinstance(document, bytes) and sys.stdout.isatty():
        facts = {"renderer": name, "size": f"{len(document)} bytes"}
        raise OutputError("A document that is not text does not go to a terminal.", facts, "Send it to a file with >.")
    typer.echo(document, nl=isinstance(document, str) and not document.endswith("\n"))
