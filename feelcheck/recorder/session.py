"""A flick script run against any source, into a new session folder."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from feelcheck import __version__, plugins
from feelcheck.errors import FeelcheckError, PluginError, SourceError
from feelcheck.formats.session_header import SessionHeader, folder_name, new_session_folder
from feelcheck.formats.session_log import EVENTS_FILE, EventLog, sync_file
from feelcheck.model import Script, Source, SourceKind, SourceOptions, Step, script_cues
from feelcheck.recorder.child import CaptureChild, capture_environment
from feelcheck.recorder.guide import Guide
from feelcheck.recorder.guided import Face, run_guide
from feelcheck.recorder.resuming import LeftSession, left_session, mark_resumed, script_left
from feelcheck.recorder.script_files import load_script
from feelcheck.recorder.script_wire import script_to_wire

__all__ = ["Progress", "record_session", "resume_session"]

_READY_S = 60.0
_LISTEN_S = 0.1
_SYNC_S = 0.5
_LONGEST_S = 3600.0
_BEGINS_WITHIN_S = 10.0
_DEFAULT_WORLD = "alder"
_SIMULATED = ("synthetic", "virtual")


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
class _Task:
    """Everything one recording needs to know."""

    header: SessionHeader
    options: SourceOptions
    total_s: float
    out: Path
    progress: Callable[[Progress], None]
    face: Callable[[], Face] | None = None
    left: LeftSession | None = None


def record_session(
    *,
    specimen: str,
    state: str = "as_found",
    script: str | Script = "default",
    source: str = "auto",
    simulate: str = "",
    seconds: float | None = None,
    out: Path | str = ".",
    seed: int = 0,
    low_power: bool = False,
    device: str = "",
    operator: str = "",
    facts: Mapping[str, str] | None = None,
    progress: Callable[[Progress], None] | None = None,
    face: Callable[[], Face] | None = None,
) -> Path:
    """Record a session and return its folder.

    Parameters
    ----------
    specimen, state : str
        Labels; they name the folder, and a number is added where it exists already.
    script : str or Script
        What the person is asked to do.
    source : str
        Name of a source plugin (``"auto"`` is the pad), or ``"replay"`` of the session that `device` names.
    simulate : str
        Simulated world; without it the one named like the specimen, else ``"alder"``.
    seconds : float or None
        Where to stop, if before the script's end.
    out : Path or str
        Folder in which the session's folder is made.
    seed : int
        Seed of a simulated world.
    low_power : bool
        Rest between polls.
    device : str
        Which pad, by part of its name; or the session that is replayed.
    operator : str
        Who records.
    facts : Mapping[str, str]
        Connection, firmware, cap, spring, ... as they are known.
    progress : callable
        Called about ten times a second with a `Progress`.
    face : callable
        Makes the window or the terminal that leads a person through the script; without it, and for sources that play
        the script themselves, the prompts come at the script's own times.

    Raises
    ------
    SourceError
        If there is no device, it fails, or the disk is full; what was recorded is kept.
    FormatError
        On a label, script or folder that cannot be used.
    PluginError
        On an unknown or broken source.
    KeyboardInterrupt
        On Ctrl-C or where the person stops, after the session was closed as interrupted.

    Notes
    -----
    A source in real time is read by a process of its own that does nothing else; this one only keeps the header, syncs
    the file to the disk twice a second and shows the progress.
    """
    steps = load_script(script) if isinstance(script, str) else script
    folder_name(specimen, state)
    if seconds is not None and not seconds > 0:
        raise SourceError("A recording lasts longer than no time.", {"got": seconds}, "Give --seconds above 0.")
    name = "gamepad" if source == "auto" else source
    options = SourceOptions(
        script=steps,
        simulate=simulate or (_world_of(specimen) if name in _SIMULATED else ""),
        seed=seed,
        seconds=seconds,
        low_power=low_power,
        device=device,
    )
    header = SessionHeader(
        specimen=specimen,
        state=state,
        script=steps.name,
        source=name,
        device={},
        started=datetime.now().astimezone().isoformat(timespec="seconds"),
        tool_version=__version__,
        operator=operator,
        facts=dict(facts or {}),
    )
    total_s = steps.duration_s if seconds is None else min(seconds, steps.duration_s)
    shown = progress or (lambda _: None)
    task = _Task(header=header, options=options, total_s=total_s, out=Path(out), progress=shown, face=face)
    if name == "replay":
        return _record_here(task, _replay(device))
    plugin, kind = plugins.find("feelcheck.sources", name)
    return _record(task, plugin.reference, kind)


def resume_session(
    folder: Path | str,
    *,
    device: str = "",
    low_power: bool = False,
    progress: Callable[[Progress], None] | None = None,
    face: Callable[[], Face] | None = None,
) -> Path:
    """Go on with a session that was left, from the request it was left at, and return its folder.

    Parameters
    ----------
    folder : Path or str
        The unfinished session.
    device, low_power, progress, face
        As in `record_session`.

    Raises
    ------
    FormatError
        If the folder is no session, or its script is not known here.
    SourceError
        If it is finished, closed, being written, simulated, or of another pad than the one that is plugged in.
    """
    left = left_session(Path(folder))
    steps = script_left(load_script(left.header.script), left.shown)
    task = _Task(
        header=left.header,
        options=SourceOptions(script=steps, low_power=low_power, device=device),
        total_s=steps.duration_s,
        out=left.folder.parent,
        progress=progress or (lambda _: None),
        face=face,
        left=left,
    )
    plugin, kind = plugins.find("feelcheck.sources", left.header.source)
    return _record(task, plugin.reference, kind)


def _record(task: _Task, reference: str, kind: Any) -> Path:
    if not isinstance(kind, SourceKind):
        raise PluginError(
            "A source plugin must be a SourceKind.", {"got": type(kind).__name__, "plugin": reference}, "Mend it."
        )
    if kind.realtime:
        return _record_in_child(task, reference, gives_cues=kind.gives_cues)
    return _record_here(task, kind.make(task.options))


def _world_of(specimen: str) -> str:
    from feelcheck.sources.synthetic import world_names

    return specimen if specimen in world_names() else _DEFAULT_WORLD


def _replay(device: str) -> Source:
    from feelcheck.formats.session import READER
    from feelcheck.sources.replay import ReplaySource

    return ReplaySource(READER.read(Path(device)), pace=0.0)


def _begin(task: _Task, described: Mapping[str, Any], start_ns: int) -> Path:
    """Make the session's folder with its header on the disk, or open the one that is gone on with."""
    if task.left is not None:
        return _begin_again(task, task.left, described)
    clock = described.get("clock", "host")
    clock = dict(clock) if isinstance(clock, dict) else {"kind": clock}
    task.header = replace(task.header, device={**described, "clock": {**clock, "start_ns": start_ns}})
    folder = new_session_folder(task.out, task.header.specimen, task.header.state)
    try:
        task.header.write(folder)
    except OSError as problem:
        raise _unwritten(folder, problem) from None
    return folder


def _begin_again(task: _Task, left: LeftSession, described: Mapping[str, Any]) -> Path:
    before, now = (str(one.get("guid") or one.get("name", "")) for one in (left.header.device, described))
    if before != now:
        raise SourceError(
            "A session goes on with the pad that it was begun with.",
            {"begun with": before, "plugged in": now},
            "Plug that one in, or name it with --device.",
        )
    try:
        mark_resumed(left)
        replace(task.header, recording="recording").write(left.folder)
    except OSError as problem:
        raise _unwritten(left.folder, problem) from None
    return left.folder


def _end(task: _Task, folder: Path, *, complete: bool) -> None:
    """Say in the header how the recording ended; on a full disk the old header stays, which says unfinished."""
    with contextlib.suppress(OSError):
        sync_file(folder / EVENTS_FILE)
        replace(task.header, recording="complete" if complete else "interrupted").write(folder)


def _unwritten(folder: Path, problem: OSError) -> SourceError:
    return SourceError(
        "The recording cannot be written.",
        {"folder": folder, "reason": problem.strerror or problem},
        "Make room or name another folder with --out; what was written is kept.",
    )


def _record_here(task: _Task, source: Source) -> Path:
    """Record a source that goes as fast as it can."""
    source.open()
    complete = False
    try:
        folder = _begin(task, source.describe(), 0)
        try:
            log = EventLog(folder / EVENTS_FILE)
            try:
                for batch in source.events():
                    log.add(batch)
                    log.flush()
                    elapsed_s = batch[-1][1] * 1e-9 if batch else 0.0
                    task.progress(Progress(elapsed_s=elapsed_s, total_s=task.total_s, step=None, n_rows=log.n_rows))
                complete = True
            finally:
                log.close()
        except OSError as problem:
            raise problem if isinstance(problem, FeelcheckError) else _unwritten(folder, problem) from None
        finally:
            _end(task, folder, complete=complete)
    finally:
        source.close()
    return folder


def _record_in_child(task: _Task, reference: str, *, gives_cues: bool) -> Path:
    """Record a source that goes in real time, in a process of its own."""
    guided = task.face is not None and not gives_cues
    options = {**asdict(task.options), "script": script_to_wire(task.options.script)}
    order = {
        "kind": reference,
        "options": options,
        "cues": [] if gives_cues or guided else _cues(task.options.script),
        "limit_ns": round(_limit_s(task, guided=guided, ends_itself=gives_cues) * 1e9),
    }
    child = CaptureChild(order, capture_environment())
    try:
        ready = _heard(child, "ready")
        if guided and task.face is not None:
            return _lead(task, child, ready, task.face())
        with _session(task, child, ready) as (folder, start_ns):
            _watch(task, child, folder, start_ns)
    finally:
        child.close()
    return folder


@contextlib.contextmanager
def _session(task: _Task, child: CaptureChild, ready: Mapping[str, Any]) -> Iterator[tuple[Path, int]]:
    """Begin the session's folder and the recording; close both as finished or, on any error, as interrupted."""
    folder = _begin(task, ready, time.perf_counter_ns())
    complete = False
    try:
        child.tell({"go": str((folder / EVENTS_FILE).absolute())})
        yield folder, _heard(child, "started")
        complete = True
    except SourceError as problem:
        raise SourceError(problem.sentence, {**problem.facts, "folder": folder}, problem.next_step) from None
    finally:
        child.close()
        _end(task, folder, complete=complete)


def _lead(task: _Task, child: CaptureChild, ready: Mapping[str, Any], face: Face) -> Path:
    """Record while a person is led through the script."""
    guide = Guide(task.options.script, ready.get("axes", []))
    try:
        with _session(task, child, ready) as (folder, start_ns):

            def shown(n_rows: int) -> None:
                elapsed_s = (time.perf_counter_ns() - start_ns) * 1e-9
                step = guide.view().step
                task.progress(Progress(elapsed_s=elapsed_s, total_s=task.total_s, step=step, n_rows=n_rows))

            if not run_guide(guide, child, folder, face, progress=shown) and task.options.seconds is None:
                raise SourceError(
                    "The recording took too long and was ended.", {"allowed s": _LONGEST_S}, "Resume or record again."
                )
        face.end(guide)
    finally:
        face.close()
    return folder


def _limit_s(task: _Task, *, guided: bool, ends_itself: bool) -> float:
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


def _watch(task: _Task, child: CaptureChild, folder: Path, start_ns: int) -> None:
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
