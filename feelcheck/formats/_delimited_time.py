"""The line of time of a log: its time column, wraps undone, impossible stamps left out, restarts laid out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats._columns import Column, find_column
from feelcheck.formats._delimited_options import LogOptions
from feelcheck.formats._names import read_name
from feelcheck.formats._stamps import looks_like_stamps, read_stamps
from feelcheck.formats._time_choice import Choice, choose_time, runs_forward
from feelcheck.formats._time_line import TimeLine, lay_out, strays, unwrapped
from feelcheck.formats._time_units import UNIT_SECONDS, UnitsAsked, find_time_unit
from feelcheck.model import FloatArray

__all__ = ["LogTime", "read_time"]

Columns = Mapping[str, NDArray[Any]]

COARSE_SHARE = 0.95
"""Stamps that more than this share of the rows have from the row before tell no time of a report."""

_FAR_ORIGIN_S = 1e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogTime:
    """The time of each row.

    Parameters
    ----------
    line : TimeLine
        Instants of the kept rows.
    keep : ndarray of bool, shape (n_rows,)
        Rows that have a time.
    used : frozenset of str
        Columns that are no axes because they tell the time or count rows.
    regular_interval_s : float or None
        One over the stated rate where the rows are a regular grid.
    facts : dict
        Column, unit, origin.
    remarks : tuple of str
        What had to be decided.
    """

    line: TimeLine
    keep: NDArray[np.bool_]
    used: frozenset[str]
    regular_interval_s: float | None = None
    facts: dict[str, str] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Told:
    """Seconds of every row (NaN where there is none), the unit in words, and remarks."""

    seconds: FloatArray
    unit: str
    remarks: tuple[str, ...] = ()


def read_time(columns: Columns, options: LogOptions) -> LogTime:
    """Return the time of each row of a table.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (n_rows,)
        Numbers (NaN where a cell was empty) or text.
    options : LogOptions
        What the user stated.

    Raises
    ------
    FormatError
        Where the column, its unit or the rate cannot be told; the text names the option that settles it.

    Notes
    -----
    A stated rate makes the rows (or a counter column) the time. Else the rules of `choose_time` name the column and
    those of `find_time_unit` its unit.
    """
    if options.rate_hz is not None or options.time_unit == "samples":
        return _from_rate(columns, options)
    fields = _fields(columns)
    choice = choose_time(fields, options.time)
    if choice is None:
        raise _no_time(columns)
    told = _seconds_of(choice, options)
    remarks = (*((choice.remark,) if choice.remark else ()), *told.remarks)
    parts = choice.columns[:2] if "fraction" in choice.rule else choice.columns[:1]
    return _finish(columns, " + ".join(part.name for part in parts), told, remarks)


def _fields(columns: Columns) -> tuple[Column, ...]:
    return tuple(
        Column(index=k, name=name, unit=read_name(name).unit_text, cells=cells)
        for k, (name, cells) in enumerate(columns.items())
    )


def _no_time(columns: Columns) -> FormatError:
    counters = [name for name in columns if read_name(name).role == "counter"]
    facts = {"columns": ", ".join(list(columns)[:12])} | ({"counter": counters[0]} if counters else {})
    return FormatError(
        "A log needs a time column, and none of its columns is one for certain.",
        facts,
        "Name it with --time COLUMN, or state the rate of the rows with --rate-hz N.",
    )


def _seconds_of(choice: Choice, options: LogOptions) -> _Told:
    main = choice.columns[0]
    if choice.rule == "whole seconds beside their fraction":
        part = choice.columns[1]
        whole = np.asarray(main.cells - main.cells[0], dtype=np.float64)
        return _Told(seconds=whole + part.values * (part.time_factor or 1.0), unit="s")
    if not main.is_number:
        return _from_text(choice)
    ticks, wrap = _ticks(main)
    if choice.rule == "intervals from row to row":
        ticks = np.cumsum(np.nan_to_num(ticks))
    finite = ticks[np.isfinite(ticks)]
    asked = UnitsAsked(factor=UNIT_SECONDS.get(options.time_unit))
    unit = find_time_unit(Column(index=main.index, name=main.name, unit=main.unit, cells=finite), asked)
    if unit.factor is None:
        raise _no_time({main.name: main.cells})
    told = options.time_unit or unit.told
    remarks = tuple(remark for remark in (wrap, unit.remark) if remark)
    exact = main.cells.dtype.kind in "iu" and not wrap and np.abs(finite).max(initial=0.0) >= 2**53
    return _Told(seconds=_exact(main, unit.factor) if exact else ticks * unit.factor, unit=told, remarks=remarks)


def _from_text(choice: Choice) -> _Told:
    main = choice.columns[0]
    if not looks_like_stamps(main.cells):
        raise FormatError(
            f"Column '{main.name}' holds text that is no time stamp.",
            {"first cell": str(main.cells[0])[:40] if main.cells.size else "", "understood": "ISO 8601, hh:mm:ss.fff"},
            "Name another column with --time, or give --rate-hz.",
        )
    stamps = read_stamps(main.cells)
    if choice.rule != "a clock beside its fraction":
        return _Told(seconds=stamps.seconds, unit=stamps.style)
    part = choice.columns[1]
    return _Told(seconds=stamps.seconds + part.values * (part.time_factor or 1.0), unit=stamps.style)


def _ticks(column: Column) -> tuple[FloatArray, str]:
    ticks = column.values.copy()
    keep = np.isfinite(ticks)
    straight, remark = unwrapped(ticks[keep])
    if remark:
        ticks[keep] = straight
    return ticks, remark


def _exact(column: Column, factor: float) -> FloatArray:
    """Return big integers (nanoseconds since 1970) in seconds from the first one's whole day, so no digit is lost."""
    cells = column.cells
    if cells.dtype.kind not in "iu":
        return np.asarray(cells * factor, dtype=np.float64)
    per_day = round(86400 / factor)
    first, least, most = (int(cell) for cell in (cells[0], cells.min(), cells.max()))
    day = first // per_day * per_day
    if max(map(abs, (day, least, most, least - day, most - day))) >= 2**63:
        return np.asarray((cells.astype(np.float64) - float(day)) * factor, dtype=np.float64)
    return np.asarray((cells.astype(np.int64) - day) * factor, dtype=np.float64)


def _finish(columns: Columns, name: str, told: _Told, remarks: tuple[str, ...]) -> LogTime:
    keep = np.isfinite(told.seconds)
    if not keep.all():
        remarks = (*remarks, f"{np.count_nonzero(~keep)} rows without a time were dropped")
    kept = told.seconds[keep]
    impossible = strays(kept)
    if impossible.any():
        first = int(np.flatnonzero(keep)[impossible][0]) + 1
        said = f"{np.count_nonzero(impossible)} rows with an impossible time (the first is row {first}) were left out"
        remarks = (*remarks, said)
        keep[np.flatnonzero(keep)[impossible]] = False
        kept = kept[~impossible]
    facts = {"time column": name, "time unit": told.unit}
    if kept.size and abs(float(kept[0])) > _FAR_ORIGIN_S:
        facts["time origin (s)"] = f"{float(kept[0]):.6f}"
        kept = kept - kept[0]
    same = int(np.count_nonzero(np.diff(kept) == 0))
    if kept.size > 20 and COARSE_SHARE * kept.size < same < kept.size - 1:
        raise FormatError(
            f"The stamps of time column '{name}' are too coarse: most rows share theirs with the row before.",
            {"rows": kept.size, "rows with the same stamp": same},
            "Name a finer column with --time, or state the rate of the rows with --rate-hz N.",
        )
    if same:
        remarks = (*remarks, f"{same} rows share their time stamp with the row before")
    line = lay_out(kept)
    others = {other for other in columns if read_name(other).role in ("time", "counter")}
    used = frozenset(others | set(name.split(" + ")) | {name})
    return LogTime(line=line, keep=keep, used=used, facts=facts, remarks=(*remarks, *line.remarks))


def _from_rate(columns: Columns, options: LogOptions) -> LogTime:
    if options.rate_hz is None:
        raise FormatError(
            "A time in samples needs the rate of the samples.",
            {"time unit": "samples"},
            "State it with --rate-hz N.",
        )
    name = _counter_column(columns, options)
    n_rows = next(iter(columns.values())).size
    ticks, remark = np.arange(n_rows, dtype=np.float64), ""
    if name:
        ticks, remark = _ticks(Column(index=0, name=name, unit="", cells=columns[name]))
    keep = np.isfinite(ticks)
    kept = ticks[keep]
    line = lay_out((kept - kept[0] if kept.size else kept) / options.rate_hz)
    used = {other for other in columns if read_name(other).role in ("time", "counter")} | ({name} if name else set())
    regular = bool(np.all(np.diff(kept) == 1))
    return LogTime(
        line=line,
        keep=keep,
        used=frozenset(used),
        regular_interval_s=1 / options.rate_hz if regular else None,
        facts={"time column": name or "rows", "time unit": "samples", "rate (Hz)": f"{options.rate_hz:g}"},
        remarks=((remark,) if remark else ()) + line.remarks,
    )


def _counter_column(columns: Columns, options: LogOptions) -> str:
    if options.time:
        name = find_column(columns, options.time, "--time")
        if columns[name].dtype.kind not in "iuf":
            raise FormatError(f"Column '{name}' holds text, a counter needs numbers.", {}, "Name another with --time.")
        return name
    for field_ in _fields(columns):
        if field_.role == "counter" and runs_forward(field_):
            return field_.name
    return ""
