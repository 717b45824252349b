"""Results into a specimen's record: what does not belong there is refused before anything is measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from feelcheck.errors import FormatError, ProfileError
from feelcheck.formats.readings import is_readings
from feelcheck.formats.session_header import folder_label
from feelcheck.formats.session_shelf import sessions_on_shelf
from feelcheck.model import BenchRecord, HandRecord, Profile, SessionOnShelf
from feelcheck.pipeline._captures import looks_captured
from feelcheck.pipeline._hand import analyze
from feelcheck.profiles import (
    add_bench,
    add_hand,
    bench_record_of,
    hand_record_of,
    note_polarity,
    read_profile,
)

__all__ = ["add_capture", "add_session", "check_additions"]


def check_additions(path: Path, additions: Sequence[Path], *, axis: str = "", force: bool = False) -> None:
    """Refuse what does not belong into a record: captures without an axis, others' sessions, unfinished ones.

    Parameters
    ----------
    path : Path
        The record.
    additions : sequence of Path
        Sessions or logs; captures where `axis` is given.
    axis : str
        Whose captures they are.
    force : bool
        Whether a session that names another specimen is taken all the same.

    Raises
    ------
    ProfileError
        If one does not belong there.
    FormatError
        If a capture has no axis, or a session has one.
    """
    profile = read_profile(path)
    for addition in additions:
        session = _header(addition)
        if axis and session is not None:
            raise FormatError(
                "A session tells its axes itself; an axis is named for scope captures.",
                {"session": addition},
                f"Leave --axis out: feelcheck profile add {path} {addition}",
            )
        if not axis and _looks_captured(addition):
            raise FormatError(
                "This is a scope capture, and a capture belongs to one axis of the record.",
                {"file": addition},
                f"Name the axis: feelcheck profile add {path} {addition} --axis left_x --polarity 1 (or -1)",
            )
        if session is not None:
            _check_session(profile, session, force=force)


def _header(path: Path) -> SessionOnShelf | None:
    found = sessions_on_shelf(path) if path.is_dir() else ()
    return found[0] if len(found) == 1 and found[0].folder == path else None


def _looks_captured(path: Path) -> bool:
    return path.is_file() and (is_readings(path) or looks_captured(path))


def _check_session(profile: Profile, session: SessionOnShelf, *, force: bool) -> None:
    if session.unfinished:
        raise ProfileError(
            "Only a finished session goes into a record.",
            {"session": session.folder},
            f"Go on with it: feelcheck log --resume {session.folder}",
        )
    if not (force or _same_name(session.specimen, profile.specimen)):
        raise ProfileError(
            "The session names another specimen than the record.",
            {"record": f"{profile.specimen} ({profile.path})", "session": f"{session.specimen} ({session.folder})"},
            "Name the record of that specimen, or take it all the same with --force.",
        )


def _same_name(one: str, other: str) -> bool:
    """Whether two names are one: a record is called as the folder of its sessions, which keeps no blanks."""
    return folder_label(one).casefold() == folder_label(other).casefold()


def add_session(
    path: Path,
    session: Path,
    *,
    state: str = "",
    mounting: int | None = None,
    operator: str = "",
    force: bool = False,
) -> HandRecord:
    """Analyze a session and add it to a record, in the state that it names itself unless another one is given."""
    check_additions(path, [session], force=force)
    result = analyze(session)
    state = state or result.recording.provenance.state or "as_found"
    record = hand_record_of(result, state=state, mounting=mounting, operator=operator)
    add_hand(path, record)
    return record


def add_capture(
    path: Path,
    captures: Iterable[Path],
    *,
    axis: str,
    state: str = "as_found",
    polarity: int | None = None,
    **options: Any,
) -> BenchRecord:
    """Measure a capture (or repeats of one) and add it to a record, with the axis' polarity if that is known.

    Parameters
    ----------
    path : Path
        The record.
    captures : iterable of Path
        Files.
    axis, state : str
        What they belong to.
    polarity : {1, -1}, optional
        Whether the code rises with the volts.
    **options
        What the files do not say by themselves, as in `bench`; kept in the record, for whoever measures them anew.
    """
    from feelcheck.pipeline._bench import bench

    several = list(captures)
    check_additions(path, several, axis=axis)
    told = {name: f"{value} s" if isinstance(value, float) else value for name, value in options.items() if value}
    record = replace(bench_record_of(bench(several, **told), axis=axis, state=state or "as_found"), told=told)
    add_bench(path, record)
    if polarity is not None:
        note_polarity(path, axis, polarity)
    return record
