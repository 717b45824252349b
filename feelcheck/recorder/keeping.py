"""A session's folder: begun before the first event, ended in words whatever happened."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from feelcheck.errors import FeelcheckError, FormatError, SourceError
from feelcheck.formats.session_header import RecordingState, SessionHeader, header_edited, new_session_folder
from feelcheck.formats.session_log import EVENTS_FILE, sync_file
from feelcheck.model import SourceOptions, Step
from feelcheck.outputs import disk_of
from feelcheck.recorder.guided import Face
from feelcheck.recorder.resuming import LeftSession, left_session, mark_resumed

__all__ = ["Progress", "Task", "begin", "end", "unwritten"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a recording came.

    Parameters
    ----------
    elapsed_s, total_s : float, s
        Time since the first poll, and how long the recording goes.
    step : Step or None
        What is asked now.
    n_rows : int
        Rows in the events file so far.
    """

    elapsed_s: float
    total_s: float
    step: Step | None
    n_rows: int


@dataclass(slots=True, kw_only=True)
class Task:
    """Everything one recording needs to know."""

    header: SessionHeader
    options: SourceOptions
    total_s: float
    out: Path
    progress: Callable[[Progress], None]
    face: Callable[[], Face] | None = None
    ask: Callable[[], Mapping[str, str]] | None = None
    tell: Callable[[str], None] | None = None
    left: LeftSession | None = None


def begin(task: Task, described: Mapping[str, Any], start_ns: int) -> Path:
    """Make the session's folder with its header on the disk, or open the one that is gone on with.

    Parameters
    ----------
    task : Task
        What is recorded, and whereto.
    described : mapping
        What the source says of itself.
    start_ns : int, ns
        The instant at which the recording begins.
    """
    if task.left is not None:
        return _go_on(task.left, described)
    clock = described.get("clock", "host")
    clock = dict(clock) if isinstance(clock, dict) else {"kind": clock}
    task.header = replace(task.header, device={**described, "clock": {**clock, "start_ns": start_ns}})
    folder = new_session_folder(task.out, task.header.specimen, task.header.state)
    try:
        task.header.write(folder)
    except BaseException as problem:
        shutil.rmtree(folder, ignore_errors=True)  # made a moment ago, for this recording alone
        if isinstance(problem, OSError):
            raise unwritten(folder, problem) from None
        raise
    return folder


def _go_on(left: LeftSession, described: Mapping[str, Any]) -> Path:
    before, now = left.header.device, described
    key = "guid" if before.get("guid") else "device"
    if before.get(key) != now.get(key):
        raise SourceError(
            "A session goes on with the pad that it was begun with.",
            {"begun with": _pad_words(before), "plugged in": _pad_words(now)},
            "Plug that one in, or name it with --device.",
        )
    try:
        with header_edited(left.folder) as own:
            left_session(left.folder)
            mark_resumed(left)
            sync_file(left.folder / EVENTS_FILE)
            own["recording"] = "recording"
    except OSError as problem:
        raise problem if isinstance(problem, FeelcheckError) else unwritten(left.folder, problem) from None
    return left.folder


def _pad_words(described: Mapping[str, Any]) -> str:
    return f"{described.get('device') or 'a pad without a name'} (GUID {described.get('guid') or 'unknown'})"


def end(task: Task, folder: Path, *, complete: bool) -> None:
    """Say in the header how the recording ended; on a full disk the old header stays, which says unfinished.

    Parameters
    ----------
    task : Task
        What is recorded, and whereto.
    folder : Path
        The session's folder.
    complete : bool
        Whether the script came to its end.
    """
    state: RecordingState = "complete" if complete else "interrupted"
    with contextlib.suppress(OSError):
        sync_file(folder / EVENTS_FILE)
        try:
            with header_edited(folder) as own:
                own["recording"] = state
        except FormatError:
            replace(task.header, recording=state).write(folder)


def unwritten(folder: Path, problem: OSError) -> SourceError:
    """Return the error of a folder that cannot be written.

    Parameters
    ----------
    folder : Path
        The session's folder.
    problem : OSError
        What the system said.
    """
    return SourceError(
        "The recording cannot be written.",
        {
            "file": problem.filename or folder / EVENTS_FILE,
            "disk": disk_of(folder),
            "reason": problem.strerror or problem,
        },
        "Make room or name another folder with --out; what was written is kept.",
    )
