"""Specimens by reference: a record, a state of it, or sessions and captures that have no record yet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from feelcheck.comparison.samples import LIKE_KEYS
from feelcheck.errors import FormatError, ProfileError
from feelcheck.formats.readings import is_readings
from feelcheck.formats.session_shelf import sessions_on_shelf
from feelcheck.model import BenchRecord, BenchResult, Condition, HandRecord, HandResult, Profile
from feelcheck.model.labels import AS_FOUND, STATE_MARK, specimen_label
from feelcheck.pipeline._captures import looks_captured
from feelcheck.pipeline._measuring import Measurements, ToMeasure
from feelcheck.pipeline._record_edits import check_changes, state_step
from feelcheck.pipeline._references import reference_parts
from feelcheck.profiles import (
    bench_record_of,
    hand_record_of,
    read_profile,
)

__all__ = [
    "HELD_AXES",
    "LOOSE_AXIS",
    "Specimen",
    "is_unfinished",
    "sessions_in",
    "side_of",
    "specimen_of",
    "specimens_of",
]

LOOSE_AXIS = "output"
"""Axis of a capture that belongs to no record."""
HELD_AXES = "its axes"
"""Stands for the axes of a recording that was not measured yet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Specimen:
    """A profile looked at in one state, and the captures and recordings that were measured for it now."""

    profile: Profile
    state: str
    captures: tuple[BenchResult, ...] = ()
    recordings: tuple[HandResult, ...] = ()

    @property
    def label(self) -> str:
        """Name shown in tables: the specimen, and its state unless that is as found."""
        return specimen_label(self.profile.specimen, self.state)

    @property
    def hand(self) -> tuple[HandRecord, ...]:
        """The hand sessions of this state."""
        return tuple(record for record in self.profile.hand if record.state == self.state)

    @property
    def bench(self) -> tuple[BenchRecord, ...]:
        """The bench results of this state."""
        return tuple(record for record in self.profile.bench if record.state == self.state)


def specimen_of(reference: str) -> Specimen:
    """Return the specimen behind a reference.

    Parameters
    ----------
    reference : str
        ``alder.toml`` (a record), ``alder.toml@c3_lifted`` (one state of it), ``alder.toml@c3=lifted`` (what if:
        predicted from its parts), a session folder, an axis log, a scope capture, or a folder of sessions, logs or
        captures: repeats of one thing.

    Raises
    ------
    ProfileError
        If the record has no such state, or a state is asked of what is no record.
    FormatError
        If there is nothing to read.
    """
    return specimens_of([reference], Measurements())[0]


def specimens_of(references: Iterable[str], measurements: Measurements | None = None) -> list[Specimen]:
    """Return the specimens behind several references.

    Parameters
    ----------
    references : iterable of str
        As `specimen_of` takes them; it raises the same.
    measurements : Measurements, optional
        What is measured already, and what is said meanwhile.
    """
    measurements = measurements or Measurements()
    found = [_behind(reference) for reference in references]
    measurements.ahead(one for own in found if isinstance(own, _Files) for one in own.files)
    return [own if isinstance(own, Specimen) else _measured(own, measurements) for own in found]


@dataclass(frozen=True, slots=True)
class _Files:
    """A specimen without a record: its name, and its captures and recordings."""

    name: str
    files: tuple[ToMeasure, ...]


def _behind(reference: str) -> Specimen | _Files:
    """What a record tells, or what is to be measured."""
    path, state = reference_parts(reference)
    if path.suffix == ".toml" and not is_readings(path):
        profile = read_profile(path)
        return (
            _imagined(profile, state) if "=" in state else Specimen(profile=profile, state=_known_state(profile, state))
        )
    if state:
        facts = {"file": path, "got": f"{STATE_MARK}{state}"}
        raise ProfileError("Only a record has states, and parts to change.", facts, f"Name {path} alone, or a record.")
    captures, recordings = _sorted_out(_finished(sessions_in(path)))
    files = (*map(ToMeasure.recording, recordings), *map(ToMeasure.capture, captures))
    return _Files(path.stem if path.suffix else path.name, files)


def _measured(own: _Files, measurements: Measurements) -> Specimen:
    results = [measurements.of(one, f"reading {one.name}") for one in own.files]
    recordings = tuple(result for result in results if isinstance(result, HandResult))
    captures = tuple(result for result in results if isinstance(result, BenchResult))
    profile = Profile(
        specimen=own.name,
        hand=tuple(replace(hand_record_of(result), state=AS_FOUND) for result in recordings),
        bench=tuple(bench_record_of(result, axis=LOOSE_AXIS) for result in captures),
    )
    return Specimen(profile=profile, state=AS_FOUND, captures=captures, recordings=recordings)


def side_of(reference: str) -> Specimen:
    """Return what kind of evidence stands behind a reference, with nothing measured: empty results hold its place."""
    path = Path(reference)
    if not path.exists() or (path.suffix == ".toml" and not is_readings(path)):
        return specimen_of(reference)
    captures, sessions = _sorted_out(sessions_in(path))
    hand = tuple(_unmeasured(session) for session in sessions)
    bench = tuple(BenchRecord(axis=LOOSE_AXIS, path=str(path)) for path in captures)
    return Specimen(profile=Profile(specimen=path.stem, hand=hand, bench=bench), state=AS_FOUND)


def _unmeasured(recording: Path) -> HandRecord:
    """A recording by its header alone: how it was made, as far as that is written there."""
    blank = HandRecord(session=recording.name, axes={HELD_AXES: {}})
    if not recording.is_dir():
        return blank
    (told,) = sessions_on_shelf(recording) or (None,)
    if told is None:
        return blank
    known = {"script": told.script, "source": told.source, **told.facts}
    facts = {key: known[key] for key in LIKE_KEYS if known.get(key)}
    return replace(blank, condition=Condition(facts=facts, operator=told.operator), simulated=told.simulated)


def _sorted_out(paths: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Captures (or readings) and recordings in the hand."""
    captures = [p for p in paths if p.is_file() and (is_readings(p) or looks_captured(p))]
    return captures, [path for path in paths if path not in captures]


def _imagined(profile: Profile, changes: str) -> Specimen:
    """A state that nobody made yet: its name is the change, and only its parts can tell of it."""
    state = replace(state_step(changes, changes.split(",")), date="")
    for place in state.changes:
        if place not in {part.position for part in profile.parts}:
            known = ", ".join(sorted(part.position for part in profile.parts)) or "none"
            facts = {"file": profile.path, "got": place, "allowed": known}
            raise ProfileError(
                "A change names a part of the record.", facts, "Add the part with: feelcheck profile part"
            )
    check_changes(profile, state)
    return Specimen(profile=replace(profile, states=(state,)), state=state.name)


def _known_state(profile: Profile, state: str) -> str:
    if state and state not in profile.state_names:
        facts = {"file": profile.path, "got": state, "allowed": ", ".join(profile.state_names)}
        raise ProfileError("A reference names a state of the record.", facts, "Check the part behind the @.")
    return state or AS_FOUND


def sessions_in(path: Path) -> list[Path]:
    """Return the path itself if it is one log, or the logs in the folder, in order of name.

    Raises
    ------
    FormatError
        If there is nothing there.
    """
    if not path.exists():
        raise FormatError("There is no such file or folder.", {"path": path}, "Check the path.")
    if path.is_file() or (path / "datapackage.json").exists():
        return [path]
    inside = sorted(child for child in path.iterdir() if _may_be_log(child))
    if not inside:
        raise FormatError("A folder of recordings holds at least one.", {"path": path}, "Record with: feelcheck log")
    return inside


def is_unfinished(path: Path) -> bool:
    """Return whether a path is a session that was left before its script's end and not closed."""
    found = sessions_on_shelf(path) if path.is_dir() and (path / "datapackage.json").exists() else ()
    return any(session.unfinished for session in found)


def _finished(paths: list[Path]) -> list[Path]:
    """What of a folder can be measured: unfinished sessions only where there is nothing else."""
    return [path for path in paths if not is_unfinished(path)] or paths


def _may_be_log(child: Path) -> bool:
    if child.is_dir():
        return (child / "datapackage.json").exists()
    return child.suffix.lower() in (".csv", ".tsv", ".txt", ".log", ".dat")
