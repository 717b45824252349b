"""Going on with a session that was left: what of its script is still to be done."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from feelcheck.errors import SourceError
from feelcheck.formats.session_header import SessionHeader
from feelcheck.formats.session_log import EVENTS_FILE, EventLog
from feelcheck.formats.session_shelf import unfinished_session
from feelcheck.formats.session_table import read_bytes, whole_table
from feelcheck.model import Script, script_cues

__all__ = ["LeftSession", "left_session", "mark_resumed", "requests_answered", "script_left"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftSession:
    """A session that was left before its end.

    Parameters
    ----------
    folder : Path
        Where it is.
    header : SessionHeader
        What it says of itself.
    shown : tuple of str
        The requests that were shown and not rejected, in order, as the cues of its events say them.
    last_ns : int
        The last instant on its clock.
    """

    folder: Path
    header: SessionHeader
    shown: tuple[str, ...]
    last_ns: int


def left_session(folder: Path) -> LeftSession:
    """Return an unfinished session, ready to go on with.

    Parameters
    ----------
    folder : Path
        The session's folder.

    Raises
    ------
    FormatError
        If the folder is no session.
    SourceError
        If it is finished, closed, being written now, or simulated.
    """
    header = SessionHeader.read(folder)
    session = unfinished_session(folder, "resumed", error=SourceError)
    if not session.resumable:
        raise SourceError("A session that was played back cannot be resumed.", {"folder": folder}, "Record it again.")
    table, _ = whole_table(read_bytes(folder / EVENTS_FILE))
    said = table.loc[table["kind"].isin(["cue", "note"]), ["kind", "name"]]
    shown = requests_answered((str(kind), str(text)) for kind, text in said.itertuples(index=False))
    last_ns = int(table["t_hi_ns"].max()) if len(table) else 0
    return LeftSession(folder=folder, header=header, shown=shown, last_ns=last_ns)


def requests_answered(rows: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Return the requests that were shown, without those that were not accepted and had to be repeated.

    Parameters
    ----------
    rows : iterable of (str, str)
        Kind and text of the cue and note rows, in order.

    Examples
    --------
    >>> requests_answered([("cue", "rest"), ("cue", "roll"), ("note", "rejected left the rim: roll")])
    ('rest',)
    """
    shown: list[str] = []
    for kind, text in rows:
        verdict, _, cue = text.partition(": ")
        if kind == "cue":
            shown.append(text)
        elif verdict.startswith("rejected") and cue in shown:
            del shown[len(shown) - 1 - shown[::-1].index(cue) :]
        elif verdict.startswith("gone on"):
            shown.append(cue)
    return tuple(shown)


def script_left(script: Script, shown: Sequence[str]) -> Script:
    """Return what of a script is still to be done, the request that was being done included.

    Parameters
    ----------
    script : Script
        The whole script.
    shown : sequence of str
        Requests that were shown, retakes included, as their cues say them.

    Notes
    -----
    The requests are looked for in the order of the script, so that one shown twice counts once. The circle of each
    stick comes first again, since a device that was opened anew hides small motions until it has moved far.

    Raises
    ------
    SourceError
        If the script does not fit what was shown.
    """
    cues = [cue.text for cue in script_cues(script)]
    done = 0
    for text in shown:
        if done < len(cues) and text == cues[done]:
            done += 1
    if shown and done == 0:
        raise SourceError(
            "The session was recorded with another script than the one of that name now.",
            {"script": script.name, "first request": shown[0]},
            "Close it with feelcheck sessions --close, and record a new one.",
        )
    at = max(done - 1, 0)
    circles = tuple(step for step in script.steps[:at] if step.action == "circle")
    return replace(script, steps=(*circles, *script.steps[at:]))


def mark_resumed(left: LeftSession) -> None:
    """Write into the events file that nothing was recorded between its end and now.

    Parameters
    ----------
    left : LeftSession
        The session as it was found.

    Notes
    -----
    After a restart of the computer its clock begins anew, below the last instant; the reader then joins the parts at a
    gap by itself, and no row is written.
    """
    now_ns = time.perf_counter_ns()
    if now_ns <= left.last_ns:
        return
    log = EventLog(left.folder / EVENTS_FILE)
    try:
        log.add([(left.last_ns, now_ns, "gap", "resumed", 0)])
        log.flush()
    finally:
        log.close()
