"""The sessions in a folder, and the instant answer after a new one, in words and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from feelcheck.model import QuickChange, SessionOnShelf
from feelcheck.renderers._format import format_estimate
from feelcheck.renderers._json import dump, picked
from feelcheck.renderers._table import text_table

__all__ = ["SESSIONS_SCHEMA", "answer_text", "session_document", "sessions_json", "sessions_text"]

SESSIONS_SCHEMA = "feelcheck.sessions/1"
_WORDS = {"complete": "complete", "recording": "left unfinished", "interrupted": "left unfinished", "closed": "closed"}


def sessions_text(found: Sequence[SessionOnShelf]) -> str:
    """Return the sessions as a table, and what can be done about those left unfinished.

    Parameters
    ----------
    found : sequence of SessionOnShelf
        The sessions.
    """
    if not found:
        return "No session was found. Record one with: feelcheck log SPECIMEN"
    header = ("session", "specimen", "state", "script", "started", "recording")
    rows = []
    for session in found:
        condition = "being written" if session.running else _WORDS[session.recording]
        if session.simulated:
            condition += ", simulated"
        rows.append([str(session.folder), session.specimen, session.state, session.script, session.started, condition])
    lines = [text_table(header, rows)]
    left = [session for session in found if session.unfinished and not session.running]
    if left:
        lines.append("")
        resumable = [session for session in left if session.resumable]
        if resumable:
            lines.append(f"Go on with one: feelcheck log --resume {resumable[-1].folder}")
        lines.append(f"Leave one as it is: feelcheck sessions --close {left[-1].folder}")
    return "\n".join(lines)


def sessions_json(found: Sequence[SessionOnShelf]) -> str:
    """Return the sessions as one JSON document.

    Parameters
    ----------
    found : sequence of SessionOnShelf
        The sessions.
    """
    return dump({"schema": SESSIONS_SCHEMA, "sessions": [_listed(session) for session in found]})


def session_document(session: SessionOnShelf) -> dict[str, Any]:
    """Return the JSON object of one session: the document that lists it alone.

    Parameters
    ----------
    session : SessionOnShelf
        The session.
    """
    return {"schema": SESSIONS_SCHEMA, "sessions": [_listed(session)]}


def _listed(session: SessionOnShelf) -> dict[str, Any]:
    names = (
        "specimen", "state", "operator", "script", "source", "started", "recording", "running", "unfinished",
        "simulated", "facts", "capture", "n_bytes",
    )  # fmt: skip
    return {"path": str(session.folder), **picked(session, *names)}


def answer_text(changes: Sequence[QuickChange]) -> str:
    """Return the smoothing before and now, one line a direction, without a verdict that two sessions cannot carry.

    Parameters
    ----------
    changes : sequence of QuickChange
        One change a direction.
    """
    if not changes:
        return "No axis answers in both sessions: feelcheck analyze says what is missing."
    rows = [
        [change.axis, change.direction, *(format_estimate(e) for e in (change.before, change.now, change.difference))]
        for change in changes
    ]
    table = text_table(("axis", "code", "before", "now", "now - before"), rows)
    return (
        f"Smoothing delay\n{table}\n"
        "These intervals speak of these two sessions only: two sessions of an unchanged stick differ as well. "
        "Record each state a few times and hold them against each other with: feelcheck compare"
    )
