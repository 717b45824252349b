"""A rehearsal in real time: the capture process writes rows, this process plays, shows and listens."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

from feelcheck import __version__
from feelcheck.capturing.child import CaptureChild, capture_environment
from feelcheck.capturing.rows import RowTail
from feelcheck.capturing.script_wire import script_to_wire
from feelcheck.errors import Interrupted, SourceError
from feelcheck.formats.session_header import SessionHeader, new_session_folder
from feelcheck.formats.session_log import EVENTS_FILE, sync_file
from feelcheck.model import Script, SourceOptions
from feelcheck.rehearsal.course import Course
from feelcheck.rehearsal.latency import Latency
from feelcheck.rehearsal.live import LiveInput
from feelcheck.rehearsal.person import SimulatedPerson
from feelcheck.rehearsal.view import Command, RehearsalView

__all__ = ["LiveTask", "Window", "play_live"]

EVERY_NS = 1_000_000
"""Rows are handed over every millisecond: somebody waits for them."""
TURN_S = 5e-4
READY_S = 60.0
SYNC_S = 0.5
LONGEST_S = 3600.0
SCRIPT = Script(name="rehearsal", title="Rehearsal", steps=())


class Window(Protocol):
    """Shows what is going on and hears keys."""

    def due(self, now_s: float) -> bool:
        """Return whether a frame is due.

        Parameters
        ----------
        now_s : float, s
            The present instant.
        """

    def show(self, view: RehearsalView, latency: Latency) -> None:
        """Show one frame.

        Parameters
        ----------
        view : RehearsalView
            What is to be seen.
        latency : Latency
            Takes note of when the frame was handed over.
        """

    def heard(self) -> Sequence[Command]:
        """Return what was asked for by key."""

    def end(self, view: RehearsalView, told: Sequence[str]) -> None:
        """Show the last page.

        Parameters
        ----------
        view : RehearsalView
            The last one.
        told : sequence of str
            What was found, a line each.
        """

    def close(self) -> None:
        """Close it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveTask:
    """What is played live, on what, and where its rows are kept.

    Parameters
    ----------
    source, reference : str
        Name of the source, and where its kind is found.
    device : str
        Which pad.
    kind : str
        The task; it names the folder.
    side : {"left", "right"}
        Which stick.
    interval_s : float, s
        Its report interval.
    out : Path
        Folder for the new session's folder.
    """

    source: str
    reference: str
    device: str
    kind: str
    side: str
    interval_s: float
    out: Path


def play_live(
    task: LiveTask,
    course_of: Callable[[LiveInput], Course],
    window: Callable[[], Window],
    told: Callable[[Course, Mapping[str, Any]], Sequence[str]],
    *,
    person: SimulatedPerson | None = None,
) -> Interrupted | None:
    """Play a rehearsal to its end; return the signal that ended it, None where it came to its end.

    Parameters
    ----------
    task : LiveTask
        What and where.
    course_of : callable
        Makes the course on the live stick.
    window : callable
        Opens the window, once the pad is there.
    told : callable
        Takes the course and what was shown (latency, n_frames, late_frames, folder); returns lines for the last page.
    person : SimulatedPerson, optional
        Moves the simulated pad.

    Raises
    ------
    SourceError
        If there is no pad, or it fails.

    Notes
    -----
    Each row enters the played state at its own instant, in order; frames only look at that state. A stall of this
    process delays what is shown and is told, and changes no state, no selection and no answer.
    """
    options = {
        **asdict(SourceOptions(script=SCRIPT, device=task.device, low_power=True)),
        "script": script_to_wire(SCRIPT),
    }
    order = {
        "kind": task.reference,
        "options": options,
        "cues": [],
        "limit_ns": round(LONGEST_S * 1e9),
        "every_ns": EVERY_NS,
    }
    child = CaptureChild(order, capture_environment())
    try:
        ready = _heard(child, "ready")
        course = course_of(LiveInput(ready.get("axes", []), task.side, task.interval_s))
        shown, latency = window(), Latency()
        try:
            with _kept(task, child, ready) as folder:
                stopped = _turns(course, child, folder, (shown, latency), person)
                child.tell({"note": "finished" if not course.ended else "ended early"})
            facts = {
                "latency": latency.estimates(),
                "n_frames": latency.n_frames,
                "late_frames": latency.late_frames,
                "folder": str(folder),
            }
            lines = told(course, facts)
            if stopped is None:
                with suppress(KeyboardInterrupt):  # it closes the last page; all answers are there
                    shown.end(course.view(time.perf_counter()), lines)
        finally:
            shown.close()
    finally:
        child.close()
    return stopped


def _heard(child: CaptureChild, word: str) -> Any:
    until_s = time.monotonic() + READY_S
    while time.monotonic() < until_s:
        message = child.listen(0.1)
        if message is not None and word in message:
            return message[word]
    raise SourceError(f"The pad is not {word} after {READY_S:g} s.", {"source": "capture process"}, "Try again.")


@contextmanager
def _kept(task: LiveTask, child: CaptureChild, ready: Mapping[str, Any]) -> Iterator[Path]:
    """Keep the rows as a session of their own; say in its header how it ended."""
    header = SessionHeader(
        specimen="rehearsal",
        state=task.kind,
        script=SCRIPT.name,
        source=task.source,
        device={**ready, "clock": {"kind": "host", "name": "perf_counter_ns", "start_ns": time.perf_counter_ns()}},
        started=datetime.now().astimezone().isoformat(timespec="seconds"),
        tool_version=__version__,
    )
    folder = new_session_folder(task.out, header.specimen, header.state)
    header.write(folder)
    complete = False
    try:
        child.tell({"go": str((folder / EVENTS_FILE).absolute())})
        _heard(child, "started")
        yield folder
        complete = True
    finally:
        child.close()
        replace(header, recording="complete" if complete else "interrupted").write(folder)


def _turns(
    course: Course,
    child: CaptureChild,
    folder: Path,
    seen: tuple[Window, Latency],
    person: SimulatedPerson | None,
) -> Interrupted | None:
    """Turn until the course is finished; return the signal that ended it, if one did."""
    synced_s = time.monotonic()
    with (folder / EVENTS_FILE).open("rb") as stream:
        tail = RowTail(stream)
        try:
            while not course.finished:
                _turn(course, child, tail, seen, person)
                if time.monotonic() - synced_s >= SYNC_S:
                    sync_file(folder / EVENTS_FILE)
                    synced_s = time.monotonic()
        except KeyboardInterrupt as stop:
            course.command(Command.END, time.perf_counter())
            return stop if isinstance(stop, Interrupted) else Interrupted()
    return None


def _turn(
    course: Course,
    child: CaptureChild,
    tail: RowTail,
    seen: tuple[Window, Latency],
    person: SimulatedPerson | None,
) -> None:
    window, latency = seen
    message = child.listen(TURN_S)
    if message is not None and "done" in message:
        raise SourceError("The pad's recording ended by itself.", {}, "Begin again; what was answered is kept.")
    # The child writes rows to the session and hands over none: they are read from its file, as anyone could.
    for row in tail.new():
        course.row(row)
        if row[1] == "axis":
            latency.state(time.perf_counter() - row[0])
    now_s = time.perf_counter()
    course.look(now_s)
    for command in window.heard():
        course.command(command, now_s)
    for note in course.take_notes():
        child.tell({"note": note})
    if person is not None:
        for order in person.look(course, now_s):
            child.tell({"do": dict(order)})
    if window.due(now_s):
        window.show(course.view(time.perf_counter()), latency)
