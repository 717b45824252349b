"""The sessions in a folder: what each says of itself without reading its events."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from feelcheck.errors import FormatError
from feelcheck.formats.session_header import HEADER_FILE, SessionHeader
from feelcheck.formats.session_log import EVENTS_FILE

__all__ = ["ShelvedSession", "close_session", "last_session", "sessions_on_shelf"]

_STILL_WRITING_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelvedSession:
    """One session folder and its header.

    Parameters
    ----------
    folder : Path
        Where it is.
    header : SessionHeader
        What it says of itself.
    n_bytes : int
        Size of its events file.
    written_s : float, s
        When its events were last written (seconds since 1970).
    """

    folder: Path
    header: SessionHeader
    n_bytes: int
    written_s: float

    @property
    def unfinished(self) -> bool:
        """Whether it was left before its script's end and nobody closed it."""
        return self.header.recording in ("recording", "interrupted")

    @property
    def running(self) -> bool:
        """Whether somebody seems to be writing it now."""
        return self.header.recording == "recording" and abs(time.time() - self.written_s) < _STILL_WRITING_S


def sessions_on_shelf(shelf: Path) -> tuple[ShelvedSession, ...]:
    """Return the sessions in a folder (or the one that it is), the oldest first.

    Raises
    ------
    FormatError
        If there is no such folder.

    Notes
    -----
    A folder whose header cannot be read is no session and is left out; `feelcheck analyze` says what is wrong with it.
    """
    if not shelf.is_dir():
        raise FormatError("There is no such folder of sessions.", {"folder": shelf}, "Name it, or record with --out.")
    folders = [shelf] if (shelf / HEADER_FILE).is_file() else sorted(shelf.iterdir())
    found = [session for folder in folders if (session := _session(folder)) is not None]
    return tuple(sorted(found, key=lambda session: (_instant(session.header.started), session.written_s)))


def _session(folder: Path) -> ShelvedSession | None:
    try:
        header = SessionHeader.read(folder)
        events = folder / EVENTS_FILE
        status = events.stat() if events.exists() else folder.stat()
    except (FormatError, OSError):
        return None
    size = status.st_size if events.exists() else 0
    return ShelvedSession(folder=folder, header=header, n_bytes=size, written_s=status.st_mtime)


def _instant(text: str) -> float:
    try:
        return datetime.fromisoformat(text).timestamp()
    except ValueError:
        return 0.0


def last_session(shelf: Path, *, specimen: str, but: Path | None = None) -> ShelvedSession | None:
    """Return the newest session of a specimen in a folder, None where there is none.

    Parameters
    ----------
    shelf : Path
        Folder of sessions; it may not exist yet.
    specimen : str
        Label.
    but : Path or None
        A session folder that is left out.
    """
    if not shelf.is_dir():
        return None
    kept = [
        session
        for session in sessions_on_shelf(shelf)
        if session.header.specimen == specimen and (but is None or session.folder.resolve() != but.resolve())
    ]
    return kept[-1] if kept else None


def close_session(folder: Path) -> SessionHeader:
    """Mark an unfinished session as closed and return its new header; nothing recorded is changed.

    Raises
    ------
    FormatError
        If it is no session, is finished, or is being written now.
    """
    header = SessionHeader.read(folder)
    session = _session(folder)
    if session is None or not session.unfinished:
        raise FormatError(
            "Only an unfinished session can be closed.",
            {"folder": folder, "recording": header.recording},
            "List them with: feelcheck sessions",
        )
    if session.running:
        raise FormatError(
            "The session is being written now.", {"folder": folder}, "Stop its recording with Ctrl-C first."
        )
    closed = replace(header, recording="closed")
    closed.write(folder)
    return closed
