"""From records to TOML tables: only what differs from its default is written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import MISSING, fields
from typing import Any

import tomlkit

from feelcheck.model import (
    BenchRecord,
    Caveat,
    Condition,
    Estimate,
    HandRecord,
    Part,
    Profile,
    RehearsalRecord,
    SensorFound,
    StateRecord,
)
from feelcheck.numerics.si_values import format_si, parse_si
from feelcheck.profiles._reading import PROFILE_VERSION

__all__ = ["bench_table", "hand_table", "part_table", "plain_fields", "profile_table", "rehearsal_table", "toml_table"]

TABLED = ("parts", "states", "bench", "hand", "rehearsals")


def toml_table(row: Mapping[str, Any]) -> Any:
    """Return a row as a TOML table."""
    table = tomlkit.table()
    for key, value in row.items():
        table[key] = value
    return table


def plain_fields(record: Any, kind: type[Any], skip: Sequence[str] = ()) -> dict[str, Any]:
    """Return the fields that differ from their defaults, as TOML values."""
    found: dict[str, Any] = {}
    for field in fields(kind):
        value = getattr(record, field.name)
        default = field.default_factory() if field.default_factory is not MISSING else field.default
        if field.name in skip or value is None or value == default:
            continue
        found[field.name] = dict(value) if isinstance(value, Mapping) else value
    return found


def _estimate_table(estimate: Estimate) -> Any:
    """An estimate on one line: ``{unit = "s", status = "ok", value = 0.0101, u = 0.0001, n = 24}``."""
    row = plain_fields(estimate, Estimate, skip=("quantity", "caveats", "terms", "decided_by"))
    line = tomlkit.inline_table()
    for key, value in row.items():
        line[key] = str(value) if key == "status" else value
    if estimate.caveats:
        line["caveats"] = [plain_fields(caveat, Caveat) for caveat in estimate.caveats]
    return line


def _estimate_tables(estimates: Mapping[str, Estimate]) -> dict[str, Any]:
    return {key: _estimate_table(estimate) for key, estimate in estimates.items()}


def part_table(part: Part) -> dict[str, Any]:
    """Return a part as a TOML row; its value as people write it where that is exact."""
    row = plain_fields(part, Part)
    text = format_si(part.value, digits=6).replace(" ", "")
    return {**row, "value": text if parse_si(text) == part.value else part.value}


def bench_table(record: BenchRecord) -> dict[str, Any]:
    """Return a bench result as a TOML row."""
    row = plain_fields(record, BenchRecord, skip=("directions", "overall", "caveats"))
    row["directions"] = {key: _estimate_tables(found) for key, found in record.directions.items()}
    row["overall"] = _estimate_tables(record.overall)
    if record.caveats:
        row["caveats"] = [plain_fields(caveat, Caveat) for caveat in record.caveats]
    return row


def hand_table(record: HandRecord) -> dict[str, Any]:
    """Return a hand session as a TOML row."""
    row = plain_fields(record, HandRecord, skip=("axes", "release", "report_interval", "condition"))
    row["condition"] = plain_fields(record.condition, Condition)
    if record.report_interval is not None:
        row["report_interval"] = _estimate_table(record.report_interval)
    row["release"] = _estimate_tables(record.release)
    row["axes"] = {
        axis: {key or "both": _estimate_tables(found) for key, found in groups.items()}
        for axis, groups in record.axes.items()
    }
    return row


def rehearsal_table(record: RehearsalRecord) -> dict[str, Any]:
    """Return a rehearsal as a TOML row."""
    row = plain_fields(record, RehearsalRecord, skip=("estimates", "specimens", "intervals"))
    row["specimens"] = list(record.specimens)
    row["intervals"] = {name: list(ends) for name, ends in record.intervals.items()}
    row["estimates"] = _estimate_tables(record.estimates)
    return row


def profile_table(profile: Profile) -> dict[str, Any]:
    """Return a whole record as TOML sections in reading order."""
    row = plain_fields(profile, Profile, skip=(*TABLED, "path", "feel", "sensor", "version"))
    tables = {
        "parts": [part_table(part) for part in profile.parts],
        "states": [plain_fields(state, StateRecord) for state in profile.states],
        "bench": [bench_table(record) for record in profile.bench],
        "hand": [hand_table(record) for record in profile.hand],
        "rehearsals": [rehearsal_table(record) for record in profile.rehearsals],
    }
    sensor = plain_fields(profile.sensor, SensorFound)
    head = {"version": PROFILE_VERSION, **row, **({"sensor": sensor} if sensor else {})}
    return {**head, **{key: _toml_rows(rows) for key, rows in tables.items() if rows}}


def _toml_rows(rows: Sequence[Mapping[str, Any]]) -> Any:
    array = tomlkit.aot()
    for row in rows:
        array.append(toml_table(row))
    return array
