"""The columns of a capture that hold values: their names, their units, and the time axes they stand on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.formats._columns import Column, are_whole
from feelcheck.formats._names import find_unit
from feelcheck.formats._numbers import parse_quantity
from feelcheck.formats._scope_grid import TimeAxis
from feelcheck.formats._table import Table
from feelcheck.formats._words import folded, words_of
from feelcheck.formats.numbers import SAME_TIME
from feelcheck.model.bench import Capture, Channel
from feelcheck.model.stream import FloatArray

_INSIDE = {"voltage": "V", "current": "A", "field": "mT"}
_PLAIN_UNITS = {"v": "V", "mv": "mV", "uv": "uV", "a": "A", "ma": "mA", "mt": "mT"}
_VERTICAL_UNIT_KEYS = ("vertical units", "vertical unit", "y unit", "y units", "v unit", "unit", "units")


def channels_of(table: Table, axis: TimeAxis) -> tuple[tuple[Channel, ...], list[str], dict[str, str]]:
    """Return the value columns in volts, amperes or mT, remarks on them, and what was understood of each."""
    found: list[Channel] = []
    remarks: list[str] = []
    understood: dict[str, str] = {}
    others = sorted(axis.others)
    columns = [column for column in table.columns if column.index not in axis.used]
    fallback = _settings_names(table, len(columns))
    for k, column in enumerate(columns):
        values = axis.take(column.values)
        own = [index for index in others if index < column.index]
        if own:
            values, remark = _onto(axis, axis.others[own[-1]], column)
            remarks += [remark] if remark else []
        if np.isnan(values).all():
            remarks.append(f"column {column.name or column.index + 1} holds no numbers and was left out")
            continue
        label = (fallback[k] or column.name) if folded(column.name) in words_of("plain value") else column.name
        name = _unique(label or fallback[k] or f"column {column.index + 1}", found)
        values, unit, told = _in_unit(values, column, table, k)
        understood[f"unit of {name}"] = told
        found.append(Channel(name=name, values=values, unit=unit, written=column.written))
    if not any(np.nanmax(channel.values) > np.nanmin(channel.values) for channel in found):
        facts = {"channels": ", ".join(channel.name for channel in found) or "none"}
        raise FormatError("A capture needs a column that varies.", facts, "Check the probe, or name the right file.")
    return tuple(found), remarks, understood


def _settings_names(table: Table, n: int) -> list[str]:
    """Return channel names from settings such as ``Source,CH1``, where there is one for each channel."""
    values = [s.value for s in table.settings if s.key in ("source", "channel", "trace", "trace name", "channel name")]
    values = [value for value in values if parse_quantity(value) is None]
    return values if len(values) == n else [""] * n


def _unique(name: str, found: Sequence[Channel]) -> str:
    taken = {channel.name for channel in found}
    k, tried = 2, name
    while tried in taken:
        tried, k = f"{name} {k}", k + 1
    return tried


def _onto(axis: TimeAxis, times: FloatArray, column: Column) -> tuple[FloatArray, str]:
    """Return a column with its own time axis on the main one."""
    good = np.isfinite(times) & np.isfinite(column.values)
    own = axis.take(times)
    step = axis.interval_s or float(np.median(np.diff(axis.t_s)))
    if own.size == axis.t_s.size and np.all(np.abs(own - axis.t_s) < SAME_TIME * step):
        return axis.take(column.values), ""
    order = np.argsort(times[good], kind="stable")
    if order.size < 2:
        return np.full(axis.t_s.size, np.nan), ""
    values = np.interp(axis.t_s, times[good][order], column.values[good][order], left=np.nan, right=np.nan)
    return values, f"column {column.name or column.index + 1} was interpolated from its own time axis"


def _in_unit(values: FloatArray, column: Column, table: Table, place: int) -> tuple[FloatArray, str, str]:
    """Return values, unit and where the unit came from."""
    unit = find_unit(column.unit)
    whole = are_whole(values)
    origin = f"{_PLAIN_UNITS.get(column.unit, column.unit)} (named with the column)"
    if unit is None or unit.kind in ("index", "time"):
        stated = [find_unit(s.value) for s in table.settings if s.key in _VERTICAL_UNIT_KEYS]
        unit = stated[min(place, len(stated) - 1)] if stated else None
        origin = "from the vertical unit in the settings"
        if whole:
            unit = None
    if unit is not None and unit.kind in _INSIDE:
        return (values if unit.factor == 1.0 else values * unit.factor), _INSIDE[unit.kind], origin
    if unit is not None and unit.kind == "counts":
        return values, "counts", origin
    if unit is not None and column.unit:
        return values, column.unit, origin
    if whole and np.nanmax(np.abs(values)) > 1:
        return values, "counts", "raw converter counts (whole numbers, no unit is told)"
    return values, "", "none is told"


def are_channels(captures: Sequence[Capture]) -> bool:
    """Tell whether files are channels on one time axis, not repeats: repeats hold the same several channels each."""
    first = captures[0]
    step = first.interval_s or float(np.median(np.diff(first.t_s)))
    for other in captures[1:]:
        if other.t_s.size != first.t_s.size or np.any(np.abs(other.t_s - first.t_s) > SAME_TIME * step):
            return False
    names = [tuple(channel.name for channel in capture.channels) for capture in captures]
    return not (len(set(names)) == 1 and len(names[0]) > 1)


def joined_channels(captures: Sequence[Capture]) -> Capture:
    """Return one capture of files with one channel each."""
    first = captures[0]
    channels: list[Channel] = []
    taken = [channel.name for capture in captures for channel in capture.channels]
    for capture in captures:
        for channel in capture.channels:
            stem = Path(capture.provenance.path).stem
            name = channel.name if taken.count(channel.name) == 1 else f"{channel.name} ({stem})"
            channels.append(replace(channel, name=_unique(name, channels)))
    provenance = replace(
        first.provenance,
        path=", ".join(capture.provenance.path for capture in captures),
        facts=MappingProxyType({k: v for c in reversed(captures) for k, v in c.provenance.facts.items()}),
        sha256=", ".join(capture.provenance.sha256 for capture in captures),
        remarks=tuple(dict.fromkeys(remark for capture in captures for remark in capture.provenance.remarks)),
    )
    understood = {**first.understood, "files": f"{len(captures)} files on one time axis, one channel each"}
    return replace(first, channels=tuple(channels), provenance=provenance, understood=MappingProxyType(understood))
