"""A flick script run against any source, into a new session folder or one that was left."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from feelcheck import __version__, plugins
from feelcheck.errors import FormatError, PluginError, SourceError
from feelcheck.formats.session_header import SessionHeader, folder_name
from feelcheck.model import Script, SourceKind, SourceOptions
from feelcheck.plugins import Plugin
from feelcheck.recorder.guided import Face
from feelcheck.recorder.keeping import Progress, Task
from feelcheck.recorder.other_source import source_of, told_whose
from feelcheck.recorder.resuming import left_session, script_left
from feelcheck.recorder.running import record_here, record_in_child
from feelcheck.recorder.script_files import load_script, script_names

__all__ = ["Progress", "RecordingAsked", "record_session", "resume_session"]

_DEFAULT_WORLD = "alder"
_SIMULATED = ("synthetic", "virtual")


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingAsked:
    """What a recording is asked to do.

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
    facts : Mapping[str, str] or callable
        Connection, firmware, cap, spring, ... as they are known; a callable that asks for them is called when the
        source is there and before its recording begins.
    progress : callable
        Called about ten times a second with a `Progress`.
    face : callable
        Makes the window or the terminal that leads a person through the script; without it, and for sources that play
        the script themselves, the prompts come at the script's own times.
    tell : callable
        Takes one line that says which pad is recorded, before the recording begins.
    """

    specimen: str
    state: str = "as_found"
    script: str | Script = "default"
    source: str = "auto"
    simulate: str = ""
    seconds: float | None = None
    out: Path | str = "."
    seed: int = 0
    low_power: bool = False
    device: str = ""
    operator: str = ""
    facts: Mapping[str, str] | Callable[[], Mapping[str, str]] = field(default_factory=dict)
    progress: Callable[[Progress], None] | None = None
    face: Callable[[], Face] | None = None
    tell: Callable[[str], None] | None = None


def record_session(asked: RecordingAsked) -> Path:
    """Record a session and return its folder.

    Parameters
    ----------
    asked : RecordingAsked
        What to do.

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
    steps = load_script(asked.script) if isinstance(asked.script, str) else asked.script
    folder_name(asked.specimen, asked.state)
    _possible(asked.seconds, asked.seed)
    name = "gamepad" if asked.source == "auto" else asked.source
    options = SourceOptions(
        script=steps,
        simulate=asked.simulate or (_world_of(asked.specimen) if name in _SIMULATED else ""),
        seed=asked.seed,
        seconds=asked.seconds,
        low_power=asked.low_power,
        device=asked.device,
    )
    header = SessionHeader(
        specimen=asked.specimen,
        state=asked.state,
        script=steps.name,
        source=name,
        device={},
        started=datetime.now().astimezone().isoformat(timespec="seconds"),
        tool_version=__version__,
        operator=asked.operator,
        facts={} if callable(asked.facts) else dict(asked.facts),
    )
    task = Task(
        header=header,
        options=options,
        total_s=steps.duration_s if asked.seconds is None else min(asked.seconds, steps.duration_s),
        out=Path(asked.out),
        progress=asked.progress or (lambda _: None),
        face=asked.face,
        ask=asked.facts if callable(asked.facts) else None,
        tell=asked.tell,
    )
    if name == "replay":
        return _replay(task)
    plugin, kind = plugins.find("feelcheck.sources", name, also=("auto", "replay"))
    return _record(task, plugin, kind)


def resume_session(
    folder: Path | str,
    *,
    script: str = "",
    device: str = "",
    low_power: bool = False,
    progress: Callable[[Progress], None] | None = None,
    face: Callable[[], Face] | None = None,
    tell: Callable[[str], None] | None = None,
) -> Path:
    """Go on with a session that was left, from the request it was left at, and return its folder.

    Parameters
    ----------
    folder : Path or str
        The unfinished session.
    script : str
        Where its script was a file of your own: that file; else the session knows.
    device, low_power, progress, face, tell
        As in `RecordingAsked`.

    Raises
    ------
    FormatError
        If the folder is no session, or its script is not known here.
    SourceError
        If it is finished, closed, being written, simulated, or of another pad than the one that is plugged in.
    """
    left = left_session(Path(folder))
    if not script and left.header.script not in script_names():
        raise FormatError(
            "The session was recorded with a script of its own; going on needs that file.",
            {"folder": left.folder, "script": left.header.script},
            f"Name it: feelcheck log --resume {left.folder} --script {left.header.script}.toml",
        )
    steps = script_left(load_script(script or left.header.script), left.shown)
    task = Task(
        header=left.header,
        options=SourceOptions(
            script=steps,
            low_power=low_power,
            device=device,
            simulate=str(left.header.device.get("world", "")),
            seed=int(left.header.device.get("seed", 0)) + 1,
        ),
        total_s=steps.duration_s,
        out=left.folder.parent,
        progress=progress or (lambda _: None),
        face=face,
        tell=tell,
        left=left,
    )
    plugin, kind = plugins.find("feelcheck.sources", left.header.source)
    return _record(task, plugin, kind)


def _record(task: Task, plugin: Plugin, kind: Any) -> Path:
    if not isinstance(kind, SourceKind):
        raise PluginError(
            "A source plugin must be a SourceKind.",
            {"got": type(kind).__name__, "plugin": plugin.reference},
            "Mend it.",
        )
    if kind.realtime:
        with told_whose(plugin):
            return record_in_child(task, plugin.reference, kind)
    return record_here(task, source_of(plugin, kind, task.options))


def _world_of(specimen: str) -> str:
    from feelcheck.sources.synthetic import world_names

    return specimen if specimen in world_names() else _DEFAULT_WORLD


def _possible(seconds: float | None, seed: int) -> None:
    if seconds is not None and not (seconds > 0 and math.isfinite(seconds)):
        raise SourceError("A recording lasts longer than no time.", {"got": seconds}, "Give --seconds above 0.")
    if seed < 0:
        raise SourceError("The seed of a simulated recording is not negative.", {"got": seed}, "Give --seed 0 or more.")


def _replay(task: Task) -> Path:
    """Record a session anew at its own pace, as the script that it was recorded with."""
    from feelcheck.formats.session import READER
    from feelcheck.sources.replay import ReplaySource

    played = Path(task.options.device)
    if not task.options.device:
        raise SourceError("A replay needs a session to play.", {"got": "none"}, "Name its folder with --device.")
    source = ReplaySource(READER.read(played), seconds=task.options.seconds)
    task.header = replace(task.header, script=SessionHeader.read(played).script)
    task.total_s = source.duration_s
    return record_here(task, source)
