"""Specimens by reference: a record, a state of it, or sessions and captures that have no record yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal, cast, get_args

from feelcheck.comparison.samples import LIKE_KEYS
from feelcheck.errors import FormatError, ProfileError
from feelcheck.formats.readings import is_readings
from feelcheck.formats.session_shelf import sessions_on_shelf
from feelcheck.model import BenchRecord, BenchResult, Condition, HandRecord, HandResult, Part, Profile, StateRecord
from feelcheck.model.profile import PartRole
from feelcheck.numerics.si_values import PartUnit, component_value, parse_si
from feelcheck.pipeline._captures import capture_claim
from feelcheck.pipeline._hand import analyze
from feelcheck.profiles import (
    add_part,
    add_state,
    bench_record_of,
    hand_record_of,
    read_profile,
    write_profile,
)

__all__ = [
    "HELD_AXES",
    "LOOSE_AXIS",
    "Specimen",
    "is_unfinished",
    "new_profile",
    "note_part",
    "note_state",
    "part_found",
    "read_profile",
    "reference_parts",
    "sessions_in",
    "side_of",
    "specimen_of",
    "state_step",
]

STATE_MARK = "@"
LOOSE_AXIS = "output"
"""Axis of a capture that belongs to no record."""
HELD_AXES = "its axes"
"""Stands for the axes of a recording that was not measured yet."""
LIKELY_CAPTURE = 0.3
MEASURED = ("marked", "in_circuit", "out_of_circuit", "assumed")


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
        return self.profile.specimen if self.state == "as_found" else f"{self.profile.specimen}{STATE_MARK}{self.state}"

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
        If the record has no such state.
    FormatError
        If there is nothing to read.
    """
    path, state = reference_parts(reference)
    if path.suffix == ".toml" and not is_readings(path):
        profile = read_profile(path)
        return (
            _imagined(profile, state) if "=" in state else Specimen(profile=profile, state=_known_state(profile, state))
        )
    name = path.stem if path.suffix else path.name
    captures, sessions = _sorted_out(_finished(sessions_in(path)))
    recordings = tuple(analyze(session) for session in sessions)
    records = tuple(map(hand_record_of, recordings))
    results = _on_the_bench(captures)
    profile = Profile(
        specimen=name,
        hand=tuple(replace(record, state="as_found") for record in records),
        bench=tuple(bench_record_of(result, axis=LOOSE_AXIS) for result in results),
    )
    return Specimen(profile=profile, state="as_found", captures=results, recordings=recordings)


def reference_parts(reference: str) -> tuple[Path, str]:
    """Return the file or folder that a reference names, and the state behind it, empty if none."""
    path, mark, state = reference.rpartition(STATE_MARK)
    return (Path(path), state) if mark and not Path(reference).exists() else (Path(reference), "")


def side_of(reference: str) -> Specimen:
    """Return what kind of evidence stands behind a reference, with nothing measured: empty results hold its place."""
    path = Path(reference)
    if not path.exists() or (path.suffix == ".toml" and not is_readings(path)):
        return specimen_of(reference)
    captures, sessions = _sorted_out(sessions_in(path))
    hand = tuple(_unmeasured(session) for session in sessions)
    bench = tuple(BenchRecord(axis=LOOSE_AXIS, path=str(path)) for path in captures)
    return Specimen(profile=Profile(specimen=path.stem, hand=hand, bench=bench), state="as_found")


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


def _check_changes(profile: Profile, state: StateRecord) -> None:
    """Refuse a value that the part in question can't have."""
    units = {part.position: part.unit for part in profile.parts}
    for place, value in state.changes.items():
        if value != "lifted" and place in units:
            _number(value, units[place], place)


def _sorted_out(paths: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Captures (or readings) and recordings in the hand."""
    captures = [p for p in paths if p.is_file() and (is_readings(p) or capture_claim(p) > LIKELY_CAPTURE)]
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
    _check_changes(profile, state)
    return Specimen(profile=replace(profile, states=(state,)), state=state.name)


def _on_the_bench(captures: Sequence[Path]) -> tuple[BenchResult, ...]:
    if not captures:
        return ()
    from feelcheck.pipeline._bench import bench

    return tuple(bench(capture) for capture in captures)


def _known_state(profile: Profile, state: str) -> str:
    known = ["as_found", *(record.name for record in profile.states)]
    if state and state not in known:
        facts = {"file": profile.path, "got": state, "allowed": ", ".join(known)}
        raise ProfileError("A reference names a state of the record.", facts, "Check the part behind the @.")
    return state or "as_found"


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


def new_profile(specimen: str, folder: Path, *, pad: str = "", stick: str = "", kind: str = "") -> Path:
    """Make a new record and return its path."""
    if not specimen.replace("_", "").replace("-", "").isalnum():
        raise ProfileError(
            "A specimen's name is made of letters, digits, - and _.", {"got": specimen}, "Choose such a name."
        )
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{specimen}.toml"
    write_profile(Profile(specimen=specimen, pad=pad, stick=stick, kind=kind), path)
    return path


def note_part(path: Path, part: Part) -> Profile:
    """Add a part found on the board to a record."""
    return add_part(path, part)


def part_found(
    position: str,
    value: str,
    *,
    role: str,
    axis: str = "",
    measured: str = "marked",
    tolerance_percent: float | None = None,
    size_code: str = "",
    dielectric: str = "",
) -> Part:
    """Return a part from what a person types.

    Raises
    ------
    ProfileError
        If the place, the value, the tolerance, the role or the way it was measured makes no sense.
    """
    for word, allowed in ((role, get_args(PartRole)), (measured, MEASURED)):
        if word not in allowed:
            facts = {"got": word, "allowed": ", ".join(allowed)}
            raise ProfileError("A part has a known role and a known origin.", facts, "Choose one of these words.")
    if not position.strip():
        raise ProfileError(
            "A part has a place on the board.", {"got": position}, "Name it as on the board, such as c3."
        )
    if tolerance_percent is not None and not 0 <= tolerance_percent < 100:
        raise ProfileError("A tolerance is less than 100 %.", {"got": f"{tolerance_percent:g} %"})
    unit: Literal["ohm", "F"] = "F" if role.endswith("capacitor") else "ohm"
    return Part(
        position=position,
        role=cast(PartRole, role),
        value=_number(value, unit, position),
        unit=unit,
        axis=axis,
        measured=cast(Literal["marked", "in_circuit", "out_of_circuit", "assumed"], measured),
        tolerance_fraction=None if tolerance_percent is None else tolerance_percent / 100,
        size_code=size_code,
        dielectric=dielectric,
    )


def _number(value: str, unit: PartUnit, position: str) -> float:
    try:
        return component_value(value, unit)
    except FormatError as error:
        raise ProfileError(error.sentence, {"part": position, **error.facts}, error.next_step) from None


def _check_value(value: str) -> None:
    """Refuse what is no value of any part; which part it is for is not known here."""
    try:
        parse_si(value)
    except ValueError as error:
        facts = {"got": value if len(value) < 30 else f"{len(value)} characters"}
        raise ProfileError("A part needs a value such as 4.7k or 560n.", facts, "Write it so.") from error


def note_state(path: Path, state: StateRecord) -> Profile:
    """Add a step of the timeline to a record.

    Raises
    ------
    ProfileError
        If the name is empty, or would be taken for a change that nobody made yet.
    """
    if not state.name.strip() or "=" in state.name:
        raise ProfileError("A state's name holds no equals sign.", {"got": state.name}, "Try c3_lifted.")
    _check_changes(read_profile(path), state)
    return add_state(path, state)


def state_step(name: str, changes: Sequence[str], *, note: str = "", undone: bool = False) -> StateRecord:
    """Return a step of the timeline from what a person types.

    Raises
    ------
    ProfileError
        If a change is not written ``place=lifted`` or ``place=value``, or the value is none.
    """
    pairs: dict[str, str] = {}
    for change in changes:
        place, equals, value = change.partition("=")
        if not (place and equals and value):
            raise ProfileError("A change is written place=lifted or place=value.", {"got": change}, "Try c3=lifted.")
        if value != "lifted":
            _check_value(value)
        pairs[place] = value
    return StateRecord(name=name, note=note, undone=undone, changes=pairs, date=date.today().isoformat())
