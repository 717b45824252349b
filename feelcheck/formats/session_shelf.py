"""The sessions in a folder: what each says of itself without reading its events."""

from __future__ import annotations

import logging
import time
from datetime import datetime
from pathlib import Path

from feelcheck.errors import FeelcheckError, FormatError
from feelcheck.formats.session_header import HEADER_FILE, SessionHeader, header_edited
from feelcheck.formats.session_log import EVENTS_FILE
from feelcheck.model import SessionOnShelf
from feelcheck.plain_text import harmless

__all__ = ["close_session", "last_session", "sessions_on_shelf", "unfinished_session"]

_STILL_WRITING_S = 5.0
_log = logging.getLogger("feelcheck")


def sessions_on_shelf(shelf: Path) -> tuple[SessionOnShelf, ...]:
    """Return the sessions in a folder (or the one that it is), the oldest first.

    Parameters
    ----------
    shelf : Path
        A folder of session folders, or a session folder.

    Raises
    ------
    FormatError
        If there is no such folder.

    Notes
    -----
    A folder without a header is no session. One whose header cannot be read is left out, and that is said.
    """
    if not shelf.is_dir():
        raise FormatError("There is no such folder of sessions.", {"folder": shelf}, "Name it, or record with --out.")
    folders = [shelf] if (shelf / HEADER_FILE).is_file() else sorted(shelf.iterdir())
    found = [entry for folder in folders if (entry := _session(folder)) is not None]
    return tuple(session for _, session in sorted(found, key=lambda entry: entry[0]))


def _session(folder: Path) -> tuple[tuple[float, float], SessionOnShelf] | None:
    """Return a session after what it is sorted by, None where the folder is none."""
    try:
        header = SessionHeader.read(folder)
        events = folder / EVENTS_FILE
        status = events.stat() if events.exists() else folder.stat()
    except (FormatError, OSError) as problem:
        if (folder / HEADER_FILE).exists():
            _log.warning(
                "Left out, since it cannot be read: %s (%s)",
                harmless(str(folder)),
                harmless(str(problem).partition("\n")[0]),
            )
        return None
    fresh = abs(time.time() - status.st_mtime) < _STILL_WRITING_S
    session = SessionOnShelf(
        folder=folder,
        specimen=header.specimen,
        state=header.state,
        operator=header.operator,
        script=header.script,
        source=header.source,
        started=header.started,
        recording=header.recording,
        running=header.recording == "recording" and fresh,
        simulated=bool(header.device.get("simulated")),
        facts=header.facts,
        capture=header.capture,
        n_bytes=status.st_size if events.exists() else 0,
    )
    return (_instant(header.started), status.st_mtime), session


def _instant(text: str) -> float:
    try:
        return datetime.fromisoformat(text).timestamp()
    except ValueError:
        return 0.0


def last_session(shelf: Path, *, specimen: str, simulated: bool) -> SessionOnShelf | None:
    """Return the newest session of a specimen in a folder, None where there is none.

    Parameters
    ----------
    shelf : Path
        Folder of sessions; it may not exist yet.
    specimen : str
        Label.
    simulated : bool
        Whether a simulated session or a real one is meant.
    """
    if not shelf.is_dir():
        return None
    kept = [
        session
        for session in sessions_on_shelf(shelf)
        if session.specimen == specimen and session.simulated == simulated
    ]
    return kept[-1] if kept else None


def unfinished_session(folder: Path, done: str, *, error: type[FeelcheckError] = FormatError) -> SessionOnShelf:
    """Return a session that is unfinished and at rest.

    Parameters
    ----------
    folder : Path
        The session's folder.
    done : str
        What is done with it, for the message (``"closed"``).
    error : type of FeelcheckError, optional
        Raised if it is finished, or is being written now.

    Raises
    ------
    FormatError
        If it is no session.
    """
    (session,) = sessions_on_shelf(folder)
    facts = {"folder": folder, "recording": session.recording}
    if not session.unfinished:
        raise error(f"Only an unfinished session can be {done}.", facts, "List them with: feelcheck sessions")
    if session.running:
        raise error("The session is being written now.", facts, "Stop its recording with Ctrl-C first.")
    return session


def close_session(folder: Path) -> SessionHeader:
    """Mark an unfinished session as closed and return its new header; nothing recorded is changed.

    Parameters
    ----------
    folder : Path
        The session's folder.

    Raises
    ------
    FormatError
        If it is no session, is finished, or is being written now.
    """
    with header_edited(folder) as own:
        unfinished_session(folder, "closed")
        own["recording"] = "closed"
    return SessionHeader.read(folder)
