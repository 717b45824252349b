"""Recording itself: a source that goes at once is read here, one in real time by a process of its own."""

from __future__ import annotations

import contextlib
import signal
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from feelcheck.capturing.child import CaptureChild, capture_environment
from feelcheck.capturing.script_wire import script_to_wire
from feelcheck.errors import FeelcheckError, Interrupted, PluginError, RecordingStopped, SourceError
from feelcheck.formats.session_log import EVENTS_FILE, EventLog, sync_file
from feelcheck.model import Script, Source, SourceKind, Step, script_cues
from feelcheck.phases import phase
from feelcheck.recorder.guide import Guide
from feelcheck.recorder.guided import Face, run_guide
from feelcheck.recorder.keeping import Progress, Task, begin, end, unwritten

__all__ = ["record_here", "record_in_child", "which_pad"]

_READY_S = 60.0
_LISTEN_S = 0.1
_SYNC_S = 0.5
_LONGEST_S = 3600.0
_BEGINS_WITHIN_S = 10.0
_ENDING = ("SIGINT", "SIGTERM", "SIGHUP")


@contextmanager
def held() -> Iterator[None]:
    """Let no signal cut short what the block does: a recording that is being closed ends anyway.

    Notes
    -----
    Only the main thread of a program is interrupted by signals; elsewhere nothing is done.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    numbers = [getattr(signal, name) for name in _ENDING if hasattr(signal, name)]
    before = {number: signal.signal(number, signal.SIG_IGN) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, signal.SIG_DFL if handler is None else handler)


def record_here(task: Task, source: Source) -> Path:
    """Record a source that is read here, since waiting costs it nothing.

    Parameters
    ----------
    task : Task
        What is recorded, and whereto.
    source : Source
        What is read.
    """
    source.open()
    complete, first_ns = False, None
    try:
        folder = begin(task, source.describe(), 0)
        try:
            log = EventLog(folder / EVENTS_FILE)
            try:
                for batch in source.events():
                    if not batch:
                        continue
                    log.add(batch)
                    log.flush()
                    first_ns = batch[0][1] if first_ns is None else first_ns
                    elapsed_s = (batch[-1][1] - first_ns) * 1e-9
                    task.progress(Progress(elapsed_s=elapsed_s, total_s=task.total_s, step=None, n_rows=log.n_rows))
                complete = True
            finally:
                log.close()
        except PluginError as problem:
            raise PluginError(problem.sentence, {**problem.facts, "folder": folder}, problem.next_step) from None
        except OSError as problem:
            raise problem if isinstance(problem, FeelcheckError) else unwritten(folder, problem) from None
        except KeyboardInterrupt as stop:
            raise _stopped(folder, stop) from None
        finally:
            with held():
                end(task, folder, complete=complete)
    finally:
        source.close()
    return folder


def record_in_child(task: Task, reference: str, kind: SourceKind) -> Path:
    """Record a source that goes in real time, in a process of its own.

    Parameters
    ----------
    task : Task
        What is recorded, and whereto.
    reference : str
        Where the source's kind is written: ``module:attribute``.
    kind : SourceKind
        Family of sources that it is of.
    """
    guided = task.face is not None and (kind.led or not kind.gives_cues)
    plays = kind.gives_cues and not guided
    options = {
        **asdict(task.options),
        "script": script_to_wire(task.options.script),
        "led": guided and kind.led,
    }
    order = {
        "kind": reference,
        "options": options,
        "cues": [] if plays or guided else _cues(task.options.script),
        "limit_ns": round(_limit_s(task, guided=guided, ends_itself=plays) * 1e9),
    }
    phase("starting the recording")
    child = CaptureChild(order, capture_environment())
    try:
        ready = _described(child)
        phase("")
        if task.tell is not None and not ready.get("simulated"):
            task.tell(which_pad(ready))
        if task.ask is not None:
            task.header = replace(task.header, facts=dict(task.ask()))
        if guided and task.face is not None:
            return _lead(task, child, ready, task.face())
        with _session(task, child, ready) as (folder, start_ns):
            _watch(task, child, folder, start_ns)
    finally:
        child.close()
    return folder


def _described(child: CaptureChild) -> Mapping[str, Any]:
    """What the source says of itself, once it is open."""
    ready = _heard(child, "ready")
    if not isinstance(ready, Mapping):
        facts = {"got": type(ready).__name__, "allowed": "a mapping of names to what they tell"}
        raise SourceError("A source describes itself before it is recorded.", facts, "Record from another source.")
    return ready


def which_pad(described: Mapping[str, Any]) -> str:
    """Return which pad is recorded, and which others there are, as one line.

    Parameters
    ----------
    described : mapping
        What the source says of itself.

    Examples
    --------
    >>> which_pad({"device": "cedar pad", "other_pads": "birch pad"})
    'Pad: cedar pad. Also plugged in: birch pad; choose with --device and a part of the name, or a number from 0.'
    """
    line = f"Pad: {described.get('device') or 'a pad without a name'}."
    others = described.get("other_pads")
    if not others:
        return line
    return f"{line} Also plugged in: {others}; choose with --device and a part of the name, or a number from 0."


@contextlib.contextmanager
def _session(task: Task, child: CaptureChild, ready: Mapping[str, Any]) -> Iterator[tuple[Path, int]]:
    """Begin the session's folder and the recording; close both as finished or, on any error, as interrupted."""
    folder = begin(task, ready, time.perf_counter_ns())
    complete = False
    try:
        child.tell({"go": str((folder / EVENTS_FILE).absolute())})
        yield folder, _heard(child, "started")
        complete = True
    except SourceError as problem:
        raise SourceError(problem.sentence, {**problem.facts, "folder": folder}, problem.next_step) from None
    except OSError as problem:
        raise unwritten(folder, problem) from None
    except KeyboardInterrupt as stop:
        raise _stopped(folder, stop) from None
    finally:
        with held():
            child.close()
            end(task, folder, complete=complete)


def _stopped(folder: Path, stop: KeyboardInterrupt) -> RecordingStopped:
    if isinstance(stop, RecordingStopped):
        return stop
    return RecordingStopped(folder, number=stop.number if isinstance(stop, Interrupted) else signal.SIGINT)


def _lead(task: Task, child: CaptureChild, ready: Mapping[str, Any], face: Face) -> Path:
    """Record while a person is led through the script."""
    guide = Guide(task.options.script, ready.get("axes", []))
    try:
        with _session(task, child, ready) as (folder, start_ns):
            face.begun(folder)

            def shown(n_rows: int) -> None:
                elapsed_s = (time.perf_counter_ns() - start_ns) * 1e-9
                step = guide.view().step
                task.progress(Progress(elapsed_s=elapsed_s, total_s=task.total_s, step=step, n_rows=n_rows))

            if not run_guide(guide, child, folder, face, progress=shown) and task.options.seconds is None:
                raise SourceError(
                    "The recording took too long and was ended.", {"allowed s": _LONGEST_S}, "Resume or record again."
                )
        with contextlib.suppress(KeyboardInterrupt):
            face.end(guide)
    finally:
        face.close()
    return folder


def _limit_s(task: Task, *, guided: bool, ends_itself: bool) -> float:
    """Return when the capture process stops by itself; a source that plays the script ends it, once it has begun."""
    if guided:
        return _LONGEST_S if task.options.seconds is None else task.options.seconds
    return task.total_s + (_BEGINS_WITHIN_S if ends_itself else 0.0)


def _heard(child: CaptureChild, word: str) -> Any:
    """Return what the process says under a word."""
    until_s = time.monotonic() + _READY_S
    while time.monotonic() < until_s:
        message = child.listen(_LISTEN_S)
        if message is not None and word in message:
            return message[word]
    raise SourceError(f"The source is not {word} after {_READY_S:g} s.", {"source": "capture process"}, "Try again.")


def _cues(script: Script) -> list[tuple[int, str]]:
    return [(round(cue.t_s * 1e9), cue.text) for cue in script_cues(script)]


def _watch(task: Task, child: CaptureChild, folder: Path, start_ns: int) -> None:
    """Show the progress and sync the file until the process is done."""
    synced_s = time.monotonic()
    n_rows = 0
    with (folder / EVENTS_FILE).open("rb") as tail:
        while True:
            message = child.listen(_LISTEN_S)
            n_rows += tail.read().count(b"\n")
            if message is not None and "done" in message:
                return
            elapsed_s = (time.perf_counter_ns() - start_ns) * 1e-9
            step = _step_at(task.options.script, elapsed_s)
            rows = max(0, n_rows - 1)
            task.progress(Progress(elapsed_s=elapsed_s, total_s=task.total_s, step=step, n_rows=rows))
            if time.monotonic() - synced_s >= _SYNC_S:
                sync_file(folder / EVENTS_FILE)
                synced_s = time.monotonic()


def _step_at(script: Script, elapsed_s: float) -> Step | None:
    end_s = 0.0
    for step in script.steps:
        end_s += step.duration_s
        if elapsed_s < end_s:
            return step
    return None
