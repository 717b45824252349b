"""Which column is the time, in what unit, and the line of time it gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats._delimited_names import UNIT_SECONDS, read_name
from feelcheck.formats._delimited_options import LogOptions, find_column
from feelcheck.formats._delimited_stamps import looks_like_stamps, parse_stamps
from feelcheck.formats._delimited_stretches import TimeLine, lay_out, unwrapped
from feelcheck.model import FloatArray

__all__ = ["LogTime", "infer_unit", "read_time"]

Columns = Mapping[str, NDArray[Any]]

STEP_RANGE_S = (1e-4, 0.1)
"""Median steps that a stick log can have: 10 kHz to 10 Hz."""

COARSE_SHARE = 0.95
"""Stamps that more than this share of the rows have from the row before tell no time of a report."""

_EPOCH_S = (9.4e8, 4.2e9)
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
    A stated rate makes the rows (or a counter column) the time. Else the time column is the stated one, the first one
    named as a time, the first one with text stamps, or the one column that runs forward steadily. Its unit is stated,
    stands in its name, or is inferred (`infer_unit`).
    """
    if options.rate_hz is not None or options.time_unit == "samples":
        return _from_rate(columns, options)
    pair = None if options.time else _paired(columns)
    if pair is not None:
        seconds = columns[pair[0]] - columns[pair[0]][0] + columns[pair[1]] * UNIT_SECONDS[read_name(pair[1]).unit]
        return _finish(columns, " + ".join(pair), seconds.astype(np.float64), {"time unit": "s"}, ())
    name = _time_column(columns, options)
    cells = columns[name]
    if cells.dtype.kind not in "iuf":
        seconds, style = _stamps(name, cells)
        return _finish(columns, name, seconds, {"time unit": style}, ())
    ticks, keep, wrap = _ticks(cells)
    unit = options.time_unit or read_name(name).unit
    unit = unit if unit in UNIT_SECONDS else ""
    remarks = (wrap,) if wrap else ()
    if not unit:
        unit = infer_unit(name, ticks[keep])
        if read_name(name).role != "time" and not options.time:
            remarks = (*remarks, f"column '{name}' was taken as the time: it alone runs forward")
        remarks = (*remarks, f"the unit of column '{name}' was told from its steps: {unit}")
    seconds = ticks * UNIT_SECONDS[unit] if np.abs(ticks[keep]).max(initial=0.0) < 2**53 else _exact(cells, unit)
    return _finish(columns, name, seconds, {"time unit": unit}, remarks)


def infer_unit(name: str, ticks: FloatArray) -> str:
    """Return the unit of a time column that does not state it.

    Parameters
    ----------
    name : str
        For the error text.
    ticks : ndarray, shape (n,)
        Finite values of the column.

    Raises
    ------
    FormatError
        When more than one unit, or none, is possible.

    Notes
    -----
    The unit is the one of s, ms, us, ns in which the median step lies in 0.1 to 100 ms, if there is exactly one. Whole
    numbers with a median step of 1 may be milliseconds or samples and are asked for. Values the size of a date (seconds
    since 1970, years 2000 to 2103) must agree with the step. The range is common practice, no source.

    Examples
    --------
    >>> infer_unit("t", np.array([0.0, 0.001, 0.002]))
    's'
    """
    steps = np.diff(ticks)
    steps = steps[steps > 0]
    step = float(np.median(steps)) if steps.size else 0.0
    low, high = STEP_RANGE_S
    fits = [unit for unit, s in UNIT_SECONDS.items() if low * (1 - 1e-6) <= step * s <= high * (1 + 1e-6)]
    start = float(ticks[0]) if ticks.size else 0.0
    dated = [unit for unit, s in UNIT_SECONDS.items() if _EPOCH_S[0] <= start * s <= _EPOCH_S[1]]
    if step == 1.0 and not np.any(ticks[:1000] % 1) and dated != ["ms"]:
        fits = [] if dated == ["s"] else ["ms", "samples"]
    if dated and set(dated) & set(fits):
        fits = [unit for unit in fits if unit in dated]
    if len(fits) != 1 or start > _EPOCH_S[1] * 1e9:
        raise FormatError(
            f"The unit of time column '{name}' cannot be told from its numbers.",
            {"median step": f"{step:g}", "possible": ", ".join(fits) or "none", "first value": f"{start:g}"},
            "State it with --time-unit s, ms, us or ns; for a row counter give --rate-hz.",
        )
    return fits[0]


def _time_column(columns: Columns, options: LogOptions) -> str:
    if options.time:
        return find_column(columns, options.time, "--time")
    named = [name for name in columns if read_name(name).role == "time" and _may_be_time(columns[name])]
    named.sort(key=lambda name: "hi" not in read_name(name).words)
    known = [name for name in named if read_name(name).unit or columns[name].dtype.kind not in "iuf"]
    if known or named:
        forward = [name for name in known or named if _runs_forward(columns[name], advancing=0.0)]
        return (forward or known or named)[0]
    for name, cells in columns.items():
        if cells.dtype.kind not in "iuf" and looks_like_stamps(cells):
            return name
    steady = [name for name, cells in columns.items() if read_name(name).role == "" and _runs_forward(cells)]
    if len(steady) == 1:
        return steady[0]
    counters = [name for name in columns if read_name(name).role == "counter"]
    facts = {"columns": ", ".join(list(columns)[:12])}
    if counters:
        facts["counter"] = counters[0]
    raise FormatError(
        "A log needs a time column, and none of its columns is one for certain.",
        facts,
        "Name it with --time COLUMN, or state the rate of the rows with --rate-hz N.",
    )


def _paired(columns: Columns) -> tuple[str, str] | None:
    """Return a column of whole seconds and the one of their fraction in smaller units, where a log has them apart."""
    whole = {name: cells for name, cells in columns.items() if cells.dtype.kind in "iu" and cells.min() >= 0}
    timed = {name: read_name(name).unit for name in whole if read_name(name).role == "time"}
    seconds = [name for name, unit in timed.items() if unit == "s"]
    parts = [
        name
        for name, unit in timed.items()
        if unit in ("ms", "us", "ns")
        and whole[name].max() < 1 / UNIT_SECONDS[unit]
        and np.any(np.diff(whole[name]) < 0)
    ]
    return (seconds[0], parts[0]) if seconds and parts else None


def _may_be_time(cells: NDArray[Any]) -> bool:
    return bool(np.isfinite(cells).any()) if cells.dtype.kind in "iuf" else looks_like_stamps(cells)


def _runs_forward(cells: NDArray[Any], *, advancing: float = 0.5) -> bool:
    if cells.dtype.kind not in "iuf" or cells.size < 3:
        return False
    steps = np.diff(cells.astype(np.float64))
    return bool(
        np.count_nonzero(steps >= 0) >= 0.99 * steps.size and np.count_nonzero(steps > 0) > advancing * steps.size
    )


def _ticks(cells: NDArray[Any]) -> tuple[FloatArray, NDArray[np.bool_], str]:
    ticks = cells.astype(np.float64)
    keep = np.isfinite(ticks)
    straight, remark = unwrapped(ticks[keep])
    if remark:
        ticks[keep] = straight
    return ticks, keep, remark


def _exact(cells: NDArray[Any], unit: str) -> FloatArray:
    """Return big integers (nanoseconds since 1970) in seconds from the first one's whole day, so no digit is lost."""
    if cells.dtype.kind not in "iu":
        return np.asarray(cells * UNIT_SECONDS[unit], dtype=np.float64)
    per_day = round(86400 / UNIT_SECONDS[unit])
    return np.asarray((cells - int(cells[0]) // per_day * per_day) * UNIT_SECONDS[unit], dtype=np.float64)


def _stamps(name: str, cells: NDArray[Any]) -> tuple[FloatArray, str]:
    if not looks_like_stamps(cells):
        raise FormatError(
            f"Column '{name}' holds text that is no time stamp.",
            {"first cell": str(cells[0])[:40] if cells.size else "", "understood": "ISO 8601, hh:mm:ss.fff, numbers"},
            "Name another column with --time, or give --rate-hz.",
        )
    return parse_stamps(cells)


def _finish(
    columns: Columns, name: str, seconds: FloatArray, facts: dict[str, str], remarks: tuple[str, ...]
) -> LogTime:
    keep = np.isfinite(seconds)
    kept = seconds[keep]
    if kept.size < keep.size:
        remarks = (*remarks, f"{keep.size - kept.size} rows without a time were dropped")
    facts = {"time column": name, **facts}
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
    return LogTime(
        line=line, keep=keep, used=frozenset(others | {name}), facts=facts, remarks=(*remarks, *line.remarks)
    )


def _from_rate(columns: Columns, options: LogOptions) -> LogTime:
    if options.rate_hz is None:
        raise FormatError(
            "A time in samples needs the rate of the samples.",
            {"time unit": "samples"},
            "State it with --rate-hz N.",
        )
    name = _counter_column(columns, options)
    n_rows = next(iter(columns.values())).size
    ticks, keep, remark = (
        _ticks(columns[name]) if name else (np.arange(n_rows, dtype=np.float64), np.ones(n_rows, bool), "")
    )
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
    for name, cells in columns.items():
        if read_name(name).role == "counter" and _runs_forward(cells):
            return name
    return ""
