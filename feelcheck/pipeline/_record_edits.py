"""Edits of a specimen's record that measure nothing: a new one, parts found, steps of the timeline."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Literal, cast, get_args

from feelcheck.errors import FormatError, ProfileError
from feelcheck.model import Part, Profile, StateRecord
from feelcheck.model.profile import PartRole
from feelcheck.numerics.si_values import PartUnit, component_value, parse_si
from feelcheck.profiles import add_part, add_state, read_profile, write_profile

__all__ = [
    "check_changes",
    "new_profile",
    "note_part",
    "note_state",
    "part_found",
    "part_value",
    "read_profile",
    "state_step",
]

MEASURED = ("marked", "in_circuit", "out_of_circuit", "assumed")


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
        value=part_value(value, unit, position),
        unit=unit,
        axis=axis,
        measured=cast(Literal["marked", "in_circuit", "out_of_circuit", "assumed"], measured),
        tolerance_fraction=None if tolerance_percent is None else tolerance_percent / 100,
        size_code=size_code,
        dielectric=dielectric,
    )


def note_state(path: Path, state: StateRecord) -> Profile:
    """Add a step of the timeline to a record.

    Raises
    ------
    ProfileError
        If the name is empty, or would be taken for a change that nobody made yet.
    """
    if not state.name.strip() or "=" in state.name:
        raise ProfileError("A state's name holds no equals sign.", {"got": state.name}, "Try c3_lifted.")
    check_changes(read_profile(path), state)
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


def part_value(value: str, unit: PartUnit, position: str) -> float:
    """Return a part's value in its unit.

    Raises
    ------
    ProfileError
        If it is none; the part is named.
    """
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


def check_changes(profile: Profile, state: StateRecord) -> None:
    """Refuse a value that the part in question can't have."""
    units = {part.position: part.unit for part in profile.parts}
    for place, value in state.changes.items():
        if value != "lifted" and place in units:
            part_value(value, units[place], place)
