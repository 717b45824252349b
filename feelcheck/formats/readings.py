"""Cursor readings typed in by hand: a small TOML file, a table with one edge a row, or lines in words."""

from __future__ import annotations

import csv
import math
import os
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from feelcheck.errors import FormatError
from feelcheck.formats._names import find_unit, split_name
from feelcheck.formats._numbers import parse_number
from feelcheck.formats._text import DecodedText, read_head, read_text
from feelcheck.formats.reading_lines import EXAMPLE, are_reading_lines, parse_readings
from feelcheck.inputs import toml_document
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.model.readings import TypedEdge, TypedReadings
from feelcheck.model.recording import Provenance

__all__ = ["is_readings", "read_readings"]

FORMS = (
    "Write a table with the header direction,t10_ms,t50_ms,t90_ms,error_ms and a row such as rising,0.5,3.7,10.8,0.1 "
    f"(drive_rise_ms may stand in it), or lines such as {EXAMPLE}."
)
_INSTANTS = ("t10", "t50", "t90", "drive")
_EDGE_KEYS = frozenset((*_INSTANTS, "direction", "points", "time_error", "value_error"))
_FILE_KEYS = frozenset(
    ("time_unit", "value_unit", "time_error", "value_error", "specimen", "state", "note", "edge", "scope", "drive_rise")
)


def is_readings(path: str | os.PathLike[str]) -> bool:
    """Tell whether a file holds typed readings: TOML with edges, a table that begins with ``direction``, or words.

    Parameters
    ----------
    path : path-like
        The file.
    """
    try:
        text = read_head(Path(path)).text
    except FormatError:
        return False
    if Path(path).suffix.lower() == ".toml":
        return "[[edge]]" in text
    lines = [line for line in text.split("\n") if line.strip() and not line.startswith("#")]
    table = bool(lines) and lines[0].strip().strip('"').lower().startswith("direction")
    return table or are_reading_lines(text)


def read_readings(path: str | os.PathLike[str]) -> TypedReadings:
    r"""Return the edges that were read with cursors and typed in.

    Parameters
    ----------
    path : path
        A TOML file, a delimited table, or lines in words.

    Returns
    -------
    TypedReadings
        Times in seconds, values in volts.

    Raises
    ------
    FormatError
        If a key is unknown, an instant out of order, the reading error missing, or too little was read.

    Notes
    -----
    The TOML file has ``time_unit``, ``value_unit``, ``time_error`` and ``value_error`` for the whole file (an edge may
    have errors of its own) and a table ``[[edge]]`` for each edge with ``direction``, any of ``t10``, ``t50``, ``t90``
    and ``drive`` (the instant at which the drive is half-way), or ``points = [[t, v], ...]``. In a table the header is
    ``direction,t10_ms,t50_ms,t90_ms,error_ms``, with ``drive_ms`` if it was read. ``drive_rise`` (a key of the file,
    a column ``drive_rise_ms``) is the drive's own 10-90 %. Lines in words are as `parse_readings` has them. An error is
    how far a reading can be off, either way.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> path = pathlib.Path(tempfile.mkdtemp()) / "birch.csv"
    >>> _ = path.write_text("direction,t10_ms,t90_ms,error_ms\nrising,0.5,10.8,0.1\n")
    >>> round(read_readings(path).edges[0].transition_10_90_s, 6)
    0.0103
    """
    path = Path(path)
    source = read_text(path)
    if path.suffix.lower() == ".toml":
        return _from_toml(source, path)
    if are_reading_lines(source.text):
        told = parse_readings(source.text, name=str(path))
        return replace(told, provenance=replace(told.provenance, sha256=source.sha256))
    return _from_rows(source, path)


def _refusal(path: Path, sentence: str, **facts: object) -> FormatError:
    return FormatError(sentence, {"file": path.name, **facts}, FORMS)


def _provenance(path: Path, source: DecodedText, head: Mapping[str, Any]) -> Provenance:
    return Provenance(
        path=str(path),
        format="readings",
        specimen=str(head.get("specimen", "")),
        state=str(head.get("state", "")),
        facts=MappingProxyType({str(key): str(value) for key, value in dict(head.get("scope", {})).items()}),
        sha256=source.sha256,
        remarks=(str(head["note"]),) if "note" in head else (),
    )


def _from_toml(source: DecodedText, path: Path) -> TypedReadings:
    try:
        data = toml_document(source.text, path)
    except FormatError as problem:
        raise _refusal(
            path, "The readings are no valid TOML.", reason=problem.facts.get("got", problem.sentence)
        ) from None
    unknown = sorted(set(data) - _FILE_KEYS)
    edges = data.get("edge")
    if unknown or not isinstance(edges, list) or not all(isinstance(edge, dict) for edge in edges):
        raise _refusal(path, "Readings need tables [[edge]] and known keys only.", unknown=", ".join(unknown) or "none")
    factors = (_factor(data, "time_unit", "time", "ms", path), _factor(data, "value_unit", "voltage", "V", path))
    errors: dict[str, Any] = {key: data[key] for key in ("time_error", "value_error") if key in data}
    found = tuple(_edge({**errors, **edge}, factors, k, path) for k, edge in enumerate(edges, start=1))
    told = data.get("drive_rise")
    if told is not None and not _is_number(told):
        raise _refusal(path, "The drive's own rise must be a number in the unit of time.", got=told)
    drive_s = None if told is None else told * factors[0]
    return _with_drive(found, drive_s, path, _provenance(path, source, data))


def _factor(data: Mapping[str, Any], key: str, kind: str, default: str, path: Path) -> float:
    unit = find_unit(str(data.get(key, default)))
    if unit is None or unit.kind != kind:
        raise _refusal(path, f"The {key} of readings must be a unit of {kind}.", got=data.get(key))
    return unit.factor


def _from_rows(source: DecodedText, path: Path) -> TypedReadings:
    try:
        return _edges_of_rows(source, path)
    except csv.Error as problem:
        raise _refusal(path, "Readings are a table of short cells.", reason=problem) from None


def _edges_of_rows(source: DecodedText, path: Path) -> TypedReadings:
    lines = [line for line in source.text.split("\n") if line.strip() and not line.startswith("#")]
    if not lines:
        raise _refusal(path, "Readings are a table with a row of names.", got="no rows")
    separator = next((mark for mark in ";\t" if mark in lines[0]), ",")
    decimal = "," if separator != "," and "." not in "".join(lines[1:]) else "."
    heads = [split_name(cell) for cell in next(csv.reader(lines[:1], delimiter=separator, skipinitialspace=True))]
    edges, drive_s = [], None
    for k, row in enumerate(csv.reader(lines[1:], delimiter=separator, skipinitialspace=True), start=1):
        edge: dict[str, Any] = {}
        for (name, unit), cell in zip(heads, row, strict=False):
            key = "time_error" if name.lower() in ("error", "reading_error", "reading error") else name.lower()
            if cell.strip():
                edge[key] = cell.strip().lower() if key == "direction" else _cell(cell, unit, decimal, k, path)
        drive_s = edge.pop("drive_rise", drive_s)
        edges.append(_edge(edge, (1.0, 1.0), k, path))
    return _with_drive(tuple(edges), drive_s, path, _provenance(path, source, {}))


def _with_drive(
    edges: tuple[TypedEdge, ...], drive_s: float | None, path: Path, provenance: Provenance
) -> TypedReadings:
    if drive_s is not None and not 0 < drive_s < math.inf:
        raise _refusal(path, "The drive's own rise must be greater than zero.", got=f"{drive_s:g} s")
    return TypedReadings(edges=edges, provenance=provenance, drive_transition_s=drive_s)


def _cell(cell: str, unit: str, decimal: str, k: int, path: Path) -> float:
    value = parse_number(cell, decimal)
    known = find_unit(unit)
    if value is None or known is None or known.kind not in ("time", "voltage"):
        raise _refusal(path, "Readings need numbers, with the unit in the column's name.", edge=k, got=cell, unit=unit)
    return value * known.factor


def _edge(data: Mapping[str, Any], factors: tuple[float, float], k: int, path: Path) -> TypedEdge:
    unknown = sorted(set(data) - _EDGE_KEYS)
    if unknown or data.get("direction") not in DIRECTIONS:
        sentence = "An edge needs a direction, rising or falling, and known keys only."
        raise _refusal(path, sentence, edge=k, direction=data.get("direction"), unknown=", ".join(unknown) or "none")
    numbers = {key: data[key] for key in (*_INSTANTS, "time_error", "value_error") if key in data}
    points = data.get("points", [])
    if not all(_is_number(value) for value in numbers.values()) or not _are_points(points):
        raise _refusal(path, "Instants, errors and points of an edge must be numbers.", edge=k)
    if not numbers.get("time_error", 0) > 0:
        raise _refusal(path, "Readings need their reading error (time_error), greater than zero.", edge=k)
    instants = [numbers[key] for key in ("t10", "t50", "t90") if key in numbers]
    if instants != sorted(set(instants)) or [p[0] for p in points] != sorted({p[0] for p in points}):
        raise _refusal(path, "The instants of an edge must rise: t10, t50, t90.", edge=k, got=instants)
    if len(instants) < 2 and len(points) < 3 and not (instants and "drive" in numbers):
        sentence = "An edge needs at least two of t10, t50, t90, or one of them and the drive, or three points."
        raise _refusal(path, sentence, edge=k)
    time, value = factors
    return TypedEdge(
        direction=data["direction"],
        points=tuple((float(t) * time, float(v) * value) for t, v in points),
        time_error_s=numbers["time_error"] * time,
        value_error_v=numbers.get("value_error", 0.0) * value,
        **{f"{key}_s": numbers[key] * time for key in _INSTANTS if key in numbers},
    )


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e12


def _are_points(points: object) -> bool:
    return isinstance(points, list) and all(
        isinstance(point, list) and len(point) == 2 and all(map(_is_number, point)) for point in points
    )
