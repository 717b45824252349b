"""`feelcheck verify`: a page held against the files that it was made from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._options import Json
from feelcheck.cli._outcome import remark, reports_errors

__all__ = ["verify"]

EXIT_NOT_PROVED = 1


@reports_errors
def verify(
    page: Annotated[Path, typer.Argument(help="A page of feelcheck report or feelcheck demo.")],
    files: Annotated[
        list[Path] | None, typer.Option(help="Folder in which its files lie, at any depth; may be given again.")
    ] = None,
    json: Json = False,
) -> None:
    """Derive every number of a page again from the files that it was made from.

    Files are known by the hashes on the page. Where all are at hand, the page is drawn again as well, so that a changed
    word or picture is noticed too. Exit code 0: everything is the same. 1: a number, a word or a picture differs, or a
    file is changed or missing. 2: this is no page that can be verified.

    Example: feelcheck verify alder_birch.html

    Example: feelcheck verify report.html --files /shared/loaner_pads

    Next: where a number differs, feelcheck report makes the page anew from the files as they are.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.verify_text import verify_json, verify_text

    result = pipeline.verify(page, files or (), say=remark)
    typer.echo(verify_json(result) if json else verify_text(result))
    if not result.proved:
        raise typer.Exit(EXIT_NOT_PROVED)
