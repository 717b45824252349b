"""`feelcheck sessions`: what was recorded, and what was left unfinished."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._options import Json
from feelcheck.cli._outcome import remark, reports_errors

__all__ = ["sessions"]


@reports_errors
def sessions(
    shelf: Annotated[Path, typer.Argument(help="Folder of sessions.")] = Path("sessions"),
    unfinished: Annotated[bool, typer.Option("--unfinished", help="Only those left before their end.")] = False,
    close: Annotated[Path | None, typer.Option(help="Leave this unfinished session as it is; its data stay.")] = None,
    json: Json = False,
) -> None:
    """List the recorded sessions of a folder, oldest first.

    It says which were left unfinished.

    Example: feelcheck sessions sessions --unfinished

    Example: feelcheck sessions --close sessions/alder_as_found

    Next: feelcheck log --resume SESSION, or feelcheck analyze SESSION.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.sessions_text import sessions_json, sessions_text

    if close is not None:
        pipeline.close_session(close)
        remark(f"Closed: {close}")
        return
    found = pipeline.sessions(shelf, unfinished_only=unfinished)
    typer.echo(sessions_json(found) if json else sessions_text(found))
