"""Sessions on the disk: listing them, closing one, and the instant answer after a new one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from feelcheck.errors import FeelcheckError
from feelcheck.formats.session_header import SessionHeader
from feelcheck.formats.session_shelf import close_session, sessions_on_shelf
from feelcheck.hand.clock import recover_clock
from feelcheck.model import Estimate, HandResult, QuickChange, SessionOnShelf
from feelcheck.pipeline._hand import analyze, read_recording
from feelcheck.profiles import hand_record_of
from feelcheck.recorder.quality import bracket_quality, note_quality, quality_words
from feelcheck.recorder.remembered import questions_left, remembered_facts
from feelcheck.renderers import format_brief

__all__ = [
    "changes_since_last",
    "close_session",
    "note_capture",
    "questions_left",
    "quick_answer",
    "remembered_facts",
    "sessions",
]

_QUICK = "quick"


def sessions(shelf: Path | str, *, unfinished_only: bool = False) -> tuple[SessionOnShelf, ...]:
    """Return the sessions in a folder, the oldest first.

    Raises
    ------
    FormatError
        If there is no such folder.
    """
    found = sessions_on_shelf(Path(shelf))
    return tuple(session for session in found if session.unfinished or not unfinished_only)


def note_capture(folder: Path) -> str:
    """Write into a session's header how closely its instants are known and what was lost; return it as a sentence.

    Raises
    ------
    FormatError
        If the session is too short to be read.
    """
    recording = read_recording(folder)
    quality = bracket_quality(recording)
    if quality:
        quality |= _lost(recover_clock(recording).lost_fraction)
    loop = SessionHeader.read(folder).device.get("loop")
    if loop:
        quality["loop"] = loop
    note_quality(folder, quality)
    return quality_words(quality)


def _lost(lost: Estimate) -> dict[str, float]:
    if lost.status == "at_most":
        return {"lost_report_fraction_at_most": float(lost.bound)} if lost.bound is not None else {}
    return {} if lost.value is None else {"lost_report_fraction": float(lost.value)}


def quick_answer(folder: Path, *, tell: Callable[[str], None] = lambda _: None) -> tuple[QuickChange, ...]:
    """Hold a new session against the last one of the same stick, its state before if there is one.

    Parameters
    ----------
    folder : Path
        The new session.
    tell : callable
        Takes one line that says what it is held against, or why there is nothing.

    Returns
    -------
    tuple of QuickChange
        Empty where the script is not the quick one, there is no other session, or it is unlike this one.
    """
    header = SessionHeader.read(folder)
    if header.script != _QUICK:
        return ()
    before = _held_against(folder, header)
    if before is None:
        tell(
            f"This is the first quick session of {header.specimen} in {folder.parent}: nothing to hold it against yet."
        )
        return ()
    tell(f"Held against {before.folder.name} ({before.state}, {before.started}).")
    try:
        return _changes(analyze(before.folder), analyze(folder))
    except FeelcheckError as problem:
        tell(str(problem))
        return ()


def changes_since_last(folder: Path, result: HandResult) -> str:
    """Return how a new session's smoothing differs from the last like session of its stick, in a sentence.

    Parameters
    ----------
    folder : Path
        The new session.
    result : HandResult
        What it says.

    Returns
    -------
    str
        The largest difference with its interval; empty where there is nothing to hold it against.
    """
    before = _held_against(folder, SessionHeader.read(folder))
    if before is None:
        return ""
    try:
        changes = _changes(analyze(before.folder), result)
    except FeelcheckError:
        return ""
    told = [change for change in changes if change.difference.is_ok]
    if not told:
        return ""
    most = max(told, key=lambda change: abs(change.difference.value or 0.0))
    where = f"{most.axis} with its code {most.direction}"
    return f"Since {before.folder.name}, most on {where}: by {format_brief(most.difference)}."


def _changes(before: HandResult, after: HandResult) -> tuple[QuickChange, ...]:
    from feelcheck.comparison.quick import quick_changes  # it loads what most commands do not need

    return quick_changes(hand_record_of(before), hand_record_of(after))


def _held_against(folder: Path, header: SessionHeader) -> SessionOnShelf | None:
    """Return the newest finished session with the same script: of another state, else of the same one."""
    others = [
        session
        for session in sessions_on_shelf(folder.parent)
        if session.specimen == header.specimen
        and session.script == header.script
        and session.simulated == bool(header.device.get("simulated"))
        and session.recording == "complete"
        and session.folder.resolve() != folder.resolve()
    ]
    changed = [session for session in others if session.state != header.state]
    newest = changed or others
    return newest[-1] if newest else None
