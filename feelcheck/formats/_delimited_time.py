"""The line of time of a log: its time column, wraps undone, impossible stamps left out, restarts laid out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats._columns import Column, find_column
from feelcheck.formats._delimited_options import LogOptions
from feelcheck.formats._names import read_name, time_unit_name
from feelcheck.formats._scope_settings import stated_interval
from feelcheck.formats._settings import Setting
from feelcheck.formats._time_choice import choose_time, find_counter
from feelcheck.formats._time_line import TimedRows, TimeLine, in_order, lay_out
from feelcheck.formats._time_told import ToldTimes, counted_rows, told_times
from feelcheck.formats._time_units import UnitsAsked
from feelcheck.formats.numbers import COARSE, FASTEST_LOG_S, LATE_START_S, SLOWEST_LOG_S

__all__ = ["LogTime", "read_time"]

Columns = Mapping[str, NDArray[Any]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogTime:
    """The time of each row.

    Parameters
    ----------
    line : TimeLine
        Instants of the kept rows.
    timed : TimedRows
        The rows that have a time, in order of time.
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
    timed: TimedRows
    used: frozenset[str]
    regular_interval_s: float | None = None
    facts: dict[str, str] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()


def read_time(columns: Columns, options: LogOptions, settings: Sequence[Setting] = ()) -> LogTime:
    """Return the time of each row of a table.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (n_rows,)
        Numbers (NaN where a cell was empty) or text.
    options : LogOptions
        What the user stated.
    settings : sequence of Setting
        What the lines above the table state.

    Raises
    ------
    FormatError
        Where the column, its unit or the rate cannot be told; the text names the option that settles it.

    Notes
    -----
    A rate that the user states makes the rows (or a counter column) the time. Else the rules of `choose_time` name the
    column and those of `find_time_unit` its unit. A table without a time has the interval that the lines above state.
    """
    if options.rate_hz is not None or (options.time_unit is not None and options.time_unit.kind == "index"):
        return _from_rate(columns, options)
    fields = _fields(columns)
    choice = choose_time(fields, options.time)
    interval = stated_interval(settings, next(iter(columns.values())).size)
    if choice is None and interval is not None and FASTEST_LOG_S <= interval.interval_s <= SLOWEST_LOG_S:
        return _from_rate(columns, replace(options, rate_hz=1.0 / interval.interval_s), interval.origin)
    if choice is None:
        raise _no_time(columns)
    factor = options.time_unit.factor if options.time_unit is not None else None
    told = told_times(choice, UnitsAsked(factor=factor, interval=interval, settings=settings))
    if told.is_counter:
        raise _no_time({choice.columns[0].name: choice.columns[0].cells})
    told = replace(told, unit=time_unit_name(factor) if factor else told.unit)
    remarks = (*((choice.remark,) if choice.remark else ()), *told.remarks)
    parts = (choice.columns[0], *choice.parts)
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


def _finish(columns: Columns, name: str, told: ToldTimes, remarks: tuple[str, ...]) -> LogTime:
    timed = in_order(told.values, 0.5 * told.resolution_s, keeps=True)
    kept = timed.t_s
    facts = {"time column": name, "time unit": told.unit}
    if kept.size and abs(float(kept[0])) > LATE_START_S:
        facts["time origin (s)"] = f"{float(kept[0]):.6f}"
        kept = kept - kept[0]
    same = int(np.count_nonzero(np.diff(kept) == 0))
    if kept.size > 20 and COARSE * kept.size < same < kept.size - 1:
        raise FormatError(
            f"The stamps of time column '{name}' are too coarse: most rows share theirs with the row before.",
            {"rows": kept.size, "rows with the same stamp": same},
            "Name a finer column with --time, or state the rate of the rows with --rate-hz N.",
        )
    remarks = (*remarks, *timed.remarks)
    if same:
        remarks = (*remarks, counted(same, "row shares its", "rows share their") + " time stamp with the row before")
    line = lay_out(kept)
    others = {other for other in columns if read_name(other).role in ("time", "counter")}
    used = frozenset(others | set(name.split(" + ")) | {name})
    remarks = (*remarks, *line.remarks)
    return LogTime(line=line, timed=timed, used=used, facts=facts, remarks=remarks)


def _from_rate(columns: Columns, options: LogOptions, origin: str = "") -> LogTime:
    if options.rate_hz is None:
        raise FormatError(
            "A time in samples needs the rate of the samples.",
            {"time unit": "samples"},
            "State it with --rate-hz N.",
        )
    counter = _counter_column(_fields(columns), options.time)
    name = counter.name if counter is not None else ""
    told = counted_rows(counter, next(iter(columns.values())).size)
    timed = in_order(told.values / options.rate_hz, keeps=True)
    line = lay_out(timed.t_s)
    used = {other for other in columns if read_name(other).role in ("time", "counter")} | ({name} if name else set())
    regular = bool(np.all(np.diff(told.values[timed.rows]) == 1))
    return LogTime(
        line=line,
        timed=timed,
        used=frozenset(used),
        regular_interval_s=1 / options.rate_hz if regular else None,
        facts={"time column": name or "rows", "time unit": "samples", "rate (Hz)": f"{options.rate_hz:g}"},
        remarks=(
            *((f"no column tells the time: {origin} does",) if origin else ()),
            *told.remarks,
            *timed.remarks,
            *line.remarks,
        ),
    )


def _counter_column(fields: Sequence[Column], stated: str) -> Column | None:
    if not stated:
        return find_counter(fields)
    counter = fields[find_column([column.name for column in fields], stated, "--time")]
    if not counter.is_number:
        raise FormatError(
            f"Column '{counter.name}' holds text, a counter needs numbers.", {}, "Name another with --time."
        )
    return counter
