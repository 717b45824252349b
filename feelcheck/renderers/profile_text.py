"""A specimen's record in text and JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from feelcheck.model import BenchRecord, Estimate, HandRecord, Part, Profile, RehearsalRecord, StateRecord
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.numerics.si_values import format_si
from feelcheck.renderers._format import format_estimate
from feelcheck.renderers._json import dump, encoded, picked
from feelcheck.renderers._table import text_table
from feelcheck.renderers.rehearsal_json import rehearsal_record_object
from feelcheck.renderers.rehearsal_text import KIND_WORDS, estimate_words, with_interval

__all__ = [
    "PART_HEADER",
    "PROFILE_SCHEMA",
    "STEP_HEADER",
    "added_text",
    "part_cells",
    "profile_document",
    "profile_json",
    "profile_text",
    "step_cells",
]

PROFILE_SCHEMA = "feelcheck.profile/1"
UNTOLD = "not resolved"
PART_HEADER = ("place", "role", "value", "within", "axis", "case", "how known")
STEP_HEADER = ("state", "date", "changes", "note")


def profile_text(profile: Profile) -> str:
    """Return the record in words and tables.

    Parameters
    ----------
    profile : Profile
        The record.
    """
    parts = [
        _heading(profile),
        _parts(profile.parts),
        _states(profile),
        _bench(profile.bench),
        _hand(profile.hand),
        _rehearsals(profile.rehearsals),
        f"Notes\n  {profile.notes.strip()}" if profile.notes.strip() else "",
    ]
    return "\n\n".join(part for part in parts if part)


def _heading(profile: Profile) -> str:
    sensor = profile.sensor
    facts = {
        "pad": profile.pad,
        "stick": profile.stick,
        "kind": profile.kind,
        "sensor": " ".join(filter(None, [sensor.marking, sensor.package, sensor.pins])),
        "supply": "" if sensor.supply_v is None else format_si(sensor.supply_v, "V"),
        "polarity": ", ".join(f"{axis} {sign:+d}" for axis, sign in profile.polarity.items()),
        "photos": ", ".join(profile.photos),
    }
    return "\n".join([profile.specimen, *(f"  {name}: {value}" for name, value in facts.items() if value)])


def _parts(parts: tuple[Part, ...]) -> str:
    if not parts:
        return ""
    return "Parts found\n" + text_table(PART_HEADER, [part_cells(part) for part in parts])


def part_cells(part: Part) -> tuple[str, ...]:
    """Return a part of the board under `PART_HEADER`.

    Parameters
    ----------
    part : Part
        As the record has it.
    """
    return (
        part.position,
        part.role.replace("_", " "),
        format_si(part.value, part.unit),
        "" if part.tolerance_fraction is None else f"+-{100 * part.tolerance_fraction:g} %",
        part.axis or "all",
        " ".join(filter(None, [part.size_code, part.dielectric])),
        part.measured.replace("_", " ") + ("" if part.fitted else ", lifted"),
    )


def _states(profile: Profile) -> str:
    if not profile.states:
        return ""
    return "Timeline\n" + text_table(STEP_HEADER, [step_cells(state) for state in profile.states])


def step_cells(state: StateRecord) -> tuple[str, ...]:
    """Return a step of a timeline under `STEP_HEADER`.

    Parameters
    ----------
    state : StateRecord
        As the record has it.
    """
    changes = ", ".join(f"{place}: {change}" for place, change in state.changes.items())
    return state.name, state.date, changes, state.note + (" (undone)" if state.undone else "")


def _bench(records: tuple[BenchRecord, ...]) -> str:
    rows = [
        (record.axis, record.state, direction, *_delays(found), record.path)
        for record in records
        for direction, found in record.directions.items()
    ]
    if not rows:
        return ""
    header = ("axis", "state", "volts", "smoothing delay", "time constant", "capture")
    return "On the bench\n" + text_table(header, rows)


def _hand(records: tuple[HandRecord, ...]) -> str:
    rows = [
        (
            record.session,
            record.state,
            "" if record.condition.mounting is None else str(record.condition.mounting),
            axis,
            direction,
            *_delays(groups[direction]),
        )
        for record in records
        for axis, groups in record.axes.items()
        for direction in DIRECTIONS
        if direction in groups and _delays(groups[direction]) != (UNTOLD, UNTOLD)
    ]
    if not rows:
        return "In the hand\n  no session tells a response" if records else ""
    header = ("session", "state", "mounting", "axis", "code", "smoothing delay", "time constant")
    return "In the hand\n" + text_table(header, rows)


def added_text(record: BenchRecord | HandRecord) -> str:
    """Return what was just added to a record: its delays, or that it tells none.

    Parameters
    ----------
    record : BenchRecord or HandRecord
        What was added.
    """
    if isinstance(record, BenchRecord):
        return _bench((record,)) or "On the bench\n  no edge tells a response"
    return _hand((record,))


def _rehearsals(records: tuple[RehearsalRecord, ...]) -> str:
    rows = [
        (
            KIND_WORDS[record.kind],
            " against ".join(record.specimens),
            record.person,
            estimate_words(name),
            with_interval(estimate, record.intervals.get(name)),
            ", ".join(filter(None, ["simulated" if record.simulated else "", "ended early" if record.aborted else ""])),
        )
        for record in records
        for name, estimate in record.estimates.items()
    ]
    header = ("what", "played", "who", "figure", "value", "remark")
    return "Rehearsals\n" + text_table(header, rows) if rows else ""


def _delays(found: Mapping[str, Estimate]) -> tuple[str, str]:
    def words(name: str) -> str:
        return format_estimate(found[name]) if name in found else ""

    return words("smoothing_delay"), words("time_constant")


def profile_json(profile: Profile) -> str:
    """Return the record as one JSON document.

    Parameters
    ----------
    profile : Profile
        The record.
    """
    return dump(profile_document(profile))


def profile_document(profile: Profile) -> dict[str, Any]:
    """Return the JSON object of a record.

    Parameters
    ----------
    profile : Profile
        A specimen's record.
    """
    names = ("specimen", "pad", "stick", "kind", "sensor", "polarity", "parts", "photos", "states")
    return {
        "schema": PROFILE_SCHEMA,
        **picked(profile, *names),
        "bench": [_bench_object(record) for record in profile.bench],
        "hand": [_hand_object(record) for record in profile.hand],
        "rehearsals": [rehearsal_record_object(record) for record in profile.rehearsals],
        "notes": profile.notes,
    }


def _bench_object(record: BenchRecord) -> dict[str, Any]:
    names = ("axis", "state", "path", "sha256", "drive_kind", "directions", "overall", "models", "simulated", "caveats")
    return picked(record, *names)


def _hand_object(record: HandRecord) -> dict[str, Any]:
    return {
        **picked(record, "session", "state", "path", "sha256", "date"),
        **picked(record.condition, "mounting", "operator", "facts"),
        "axes": {
            axis: {direction or "both": encoded(found) for direction, found in groups.items()}
            for axis, groups in record.axes.items()
        },
        **picked(record, "release", "simulated"),
    }
