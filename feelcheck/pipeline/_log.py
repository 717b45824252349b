"""Recording a session, and exporting one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from feelcheck.formats.export import write_wide
from feelcheck.formats.session_shelf import sessions_on_shelf
from feelcheck.model import Capture, SessionOnShelf
from feelcheck.recorder import RecordingAsked, record_session
from feelcheck.recorder import resume_session as resume
from feelcheck.sources.choice import automatic_source

__all__ = ["RecordingAsked", "export", "log", "resume"]


def log(specimen: str | RecordingAsked, **stated: Any) -> SessionOnShelf:
    """Record a session and return what it says of itself, which is a path to its folder, too; see `record_session`.

    Parameters
    ----------
    specimen : str or RecordingAsked
        The label of what is recorded, or all that is asked for.
    **stated
        With a label, the other fields of `RecordingAsked`. `tell` takes one line about the source that was chosen where
        `source` is ``"auto"``, and one about the pad.
    """
    asked = RecordingAsked(specimen=specimen, **stated) if isinstance(specimen, str) else replace(specimen, **stated)
    if asked.source == "auto":
        source, why = automatic_source(asked.device)
        asked = replace(asked, source=source)
        if asked.tell is not None:
            asked.tell(f"Source: {source}, since {why}.")
    (session,) = sessions_on_shelf(record_session(asked))
    return session


def export(session: Path, out: Path, *, overwrite: bool = False) -> Path:
    """Write a session, a log or a scope capture as a wide table and return its path.

    Raises
    ------
    OutputError
        If the table may not go there: `overwrite` allows to replace an older CSV file, but never what is read.
    """
    from feelcheck.pipeline._read import read

    session = Path(session)
    exported = read(session)
    write_wide([exported] if isinstance(exported, Capture) else exported, out, inputs=(session,), overwrite=overwrite)
    return out
