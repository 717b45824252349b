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
from feelcheck.formats._names import read_name
from feelcheck.formats._scope_settings import stated_interval
from feelcheck.formats._settings import Setting
from feelcheck.formats._time_choice import choose_time, runs_forward
from feelcheck.formats._time_line import TimeLine, lay_out, strays
from feelcheck.formats._time_told import ToldTimes, straight, told_times
from feelcheck.formats._time_units import STEP_RANGE_S, UNIT_SECONDS, UnitsAsked
from feelcheck.formats.numbers import COARSE, FAR_ORIGIN_S

__all__ = ["LogTime", "read_time"]

Columns = Mapping[str, NDArray[Any]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogTime:
    """The time of each row.

    Parameters
    ----------
    line : TimeLine
        Instants of the kept rows.
    keep : ndarray of bool, shape (n_rows,)
        Rows that have a time, in order of time.
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

    def take(self, cells: NDArray[Any]) -> NDArray[Any]:
        """Return a column's cells, shape (n_rows,), of the rows that have a time, in order of time."""
        return cells if self.keep.all() else cells[self.keep]


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
    if options.rate_hz is not None or options.time_unit == "samples":
        return _from_rate(columns, options)
    fields = _fields(columns)
    choice = choose_time(fields, options.time)
    interval = stated_interval(settings, next(iter(columns.values())).size)
    if choice is None and interval is not None and STEP_RANGE_S[0] <= interval.interval_s <= STEP_RANGE_S[1]:
        return _from_rate(columns, replace(options, rate_hz=1.0 / interval.interval_s), interval.origin)
    if choice is None:
        raise _no_time(columns)
    factor = UNIT_SECONDS.get(options.time_unit)
    told = told_times(choice, UnitsAsked(factor=factor, interval=interval, settings=settings))
    if told.is_counter:
        raise _no_time({choice.columns[0].name: choice.columns[0].cells})
    told = replace(told, unit=options.time_unit if factor else told.unit)
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
    keep = np.isfinite(told.values)
    if not keep.all():
        remarks = (*remarks, f"{counted(int(np.count_nonzero(~keep)), 'row')} without a time left out")
    kept = told.values[keep]
    impossible = strays(kept)
    if impossible.any():
        first, n = int(np.flatnonzero(keep)[impossible][0]) + 1, int(np.count_nonzero(impossible))
        said = f"{counted(n, 'row')} with an impossible time left out (the first is row {first})"
        remarks = (*remarks, said)
        keep[np.flatnonzero(keep)[impossible]] = False
        kept = kept[~impossible]
    facts = {"time column": name, "time unit": told.unit}
    if kept.size and abs(float(kept[0])) > FAR_ORIGIN_S:
        facts["time origin (s)"] = f"{float(kept[0]):.6f}"
        kept = kept - kept[0]
    same = int(np.count_nonzero(np.diff(kept) == 0))
    if kept.size > 20 and COARSE * kept.size < same < kept.size - 1:
        raise FormatError(
            f"The stamps of time column '{name}' are too coarse: most rows share theirs with the row before.",
            {"rows": kept.size, "rows with the same stamp": same},
            "Name a finer column with --time, or state the rate of the rows with --rate-hz N.",
        )
    if same:
        remarks = (*remarks, counted(same, "row shares its", "rows share their") + " time stamp with the row before")
    line = lay_out(kept)
    others = {other for other in columns if read_name(other).role in ("time", "counter")}
    used = frozenset(others | set(name.split(" + ")) | {name})
    remarks = (*remarks, *line.remarks)
    return LogTime(line=line, keep=keep, used=used, facts=facts, remarks=remarks)


def _from_rate(columns: Columns, options: LogOptions, origin: str = "") -> LogTime:
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
        ticks, remark = straight(Column(index=0, name=name, unit="", cells=columns[name]))
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
        remarks=((f"no column tells the time: {origin} does",) if origin else ())
        + ((remark,) if remark else ())
        + line.remarks,
    )


def _counter_column(columns: Columns, options: LogOptions) -> str:
    if options.time:
        names = list(columns)
        name = names[find_column(names, options.time, "--time")]
        if columns[name].dtype.kind not in "iuf":
            raise FormatError(f"Column '{name}' holds text, a counter needs numbers.", {}, "Name another with --time.")
        return name
    for field_ in _fields(columns):
        if field_.role == "counter" and runs_forward(field_):
            return field_.name
    return ""
