"""Rounded, repeated and restarting times turned into the instants that they stand for."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats._scope_settings import StatedInterval
from feelcheck.formats._time_line import TimedRows, anew, in_order, steps_back
from feelcheck.formats._time_told import ToldTimes
from feelcheck.formats.numbers import (
    CLOCK_OFF,
    FEWEST_ROWS,
    FEWEST_TIME_STEPS,
    INTERVAL_OFF,
    LATE_START_S,
    LEAST_BLOCK,
    MANY_STEPS,
    MOST_BLOCKS,
    OFF_GRID,
    RECKONED,
    RECKONED_S,
)
from feelcheck.model.stream import FloatArray
from feelcheck.numerics.si_values import format_si

__all__ = ["BY_USER", "TimeAxis", "settle_times"]

BY_USER = "given by the user"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimeAxis:
    """The time axis found in a table.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Strictly increasing.
    rows : ndarray of int, shape (n,)
        The table's rows that these times belong to.
    interval_s : float or None
        The sample interval where the times are a regular grid.
    used : frozenset of int
        Columns (places in the row) that are times or counters, so no channels.
    others : Mapping of int to ndarray
        Further time axes in seconds over the table's rows, by the column's place.
    understood : dict
        Column, unit, interval, and from where.
    remarks : tuple of str
        What had to be mended.
    """

    t_s: FloatArray
    rows: NDArray[np.intp]
    interval_s: float | None
    used: frozenset[int]
    others: dict[int, FloatArray] = field(default_factory=dict)
    understood: dict[str, str] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()

    def take(self, values: FloatArray) -> FloatArray:
        """Return a table column's values at these times; the column itself where every row is used.

        Parameters
        ----------
        values : ndarray, shape (n_table_rows,)
            The column as it stands in the table.
        """
        return values if _is_every_row(self.rows, values.size) else values[self.rows]


def _is_every_row(rows: NDArray[np.intp], n: int) -> bool:
    return bool(rows.size == n and n > 1 and rows[0] == 0 and rows[1] == 1 and rows[-1] == n - 1)


def settle_times(raw: ToldTimes, stated: StatedInterval | None, used: frozenset[int]) -> list[TimeAxis]:
    """Return the axis of each block, with restarts, repeats and rounding dealt with.

    Raises
    ------
    FormatError
        If time runs backwards, or was destroyed by rounding and no interval is stated.
    """
    timed = in_order(raw.values, 0.5 * raw.resolution_s)
    if timed.t_s.size < FEWEST_ROWS:
        raise _destroyed(raw, timed.t_s)
    blocks, more = _blocks(timed, raw)
    return [_axis(part, raw, stated, used, (*raw.remarks, *timed.remarks, *more)) for part in blocks]


def _axis(
    block: tuple[NDArray[np.intp], FloatArray],
    raw: ToldTimes,
    stated: StatedInterval | None,
    used: frozenset[int],
    before: tuple[str, ...],
) -> TimeAxis:
    """Return the axis of one block, given by its rows and their times."""
    rows, values = block
    remarks = list(before)
    understood = {"time": raw.label, "time unit": raw.unit}
    if abs(values[0]) > LATE_START_S:
        understood["time zero"] = f"at {values[0]:.9g} s of the file"
        values = values - values[0]
    interval, origin = _grid(values, raw, stated)
    remarks += _disagreement(values, raw, stated)
    if interval is not None:
        start = (
            float(values[0]) if raw.resolution_s < 0.5 * interval else float(np.mean(values - _ramp(values, interval)))
        )
        values = start + _ramp(values, interval)
        understood |= {"interval": format_si(interval, "s", digits=9), "interval from": origin}
    else:
        values, spread = _spread_repeats(values)
        remarks += [spread] if spread else []
        understood |= {"interval": "irregular", "interval from": origin}
    return TimeAxis(
        t_s=values, rows=rows, interval_s=interval, used=used, understood=understood, remarks=tuple(remarks)
    )


def _ramp(values: FloatArray, interval: float) -> FloatArray:
    return np.arange(values.size, dtype=np.float64) * interval


def _blocks(timed: TimedRows, raw: ToldTimes) -> tuple[list[tuple[NDArray[np.intp], FloatArray]], list[str]]:
    """Return rows and times of each stretch from where time begins anew, what it tells twice left out, and remarks."""
    rows, values, rounding_s = timed.rows, timed.t_s, 0.5 * raw.resolution_s
    back = steps_back(values, rounding_s)
    if back.size == 0:
        return [(rows, values)], []
    begun = anew(values, back)
    edges = [0, *begun, values.size]
    least = max(FEWEST_ROWS, LEAST_BLOCK * float(np.max(np.diff(edges))))
    parts = [slice(a, b) for a, b in itertools.pairwise(edges) if b - a >= least][:MOST_BLOCKS]
    if not parts:
        raise _destroyed(raw, values)
    remarks = []
    if begun:
        said = f"time begins anew {counted(len(begun), 'time')}: "
        remarks.append(
            said + (f"{len(parts)} blocks were read" if len(parts) > 1 else "only the longest block was read")
        )
    on = [values[part] >= np.maximum.accumulate(values[part]) - rounding_s for part in parts]
    n_left_out = sum(int(np.count_nonzero(~good)) for good in on)
    if n_left_out:
        remarks.append(f"{counted(n_left_out, 'row')} whose time steps back left out")
    return [(rows[part][good], values[part][good]) for part, good in zip(parts, on, strict=True)], remarks


def _grid(values: FloatArray, raw: ToldTimes, stated: StatedInterval | None) -> tuple[float | None, str]:
    """Return the interval of the regular grid that the rounded times come from, None where they are irregular."""
    n = values.size
    span = float(values[-1] - values[0])
    if raw.is_counter and stated is not None:
        interval = stated.interval_s * round((values[1] - values[0]) / stated.interval_s)
        is_whole = np.ptp(values - _ramp(values, interval)) < 0.5 * stated.interval_s
        return interval if is_whole else None, stated.origin
    rounding = raw.resolution_s
    if rounding < RECKONED_S:
        rounding = max(rounding, RECKONED * float(np.max(np.abs(values))))
    if stated is not None and stated.origin == BY_USER:
        return stated.interval_s, stated.origin
    if stated is not None:
        # what is stated stands if the times are on its grid, but for its clock's error and a tenth of a sample
        off = OFF_GRID * rounding + CLOCK_OFF * span + 0.1 * stated.interval_s
        if np.ptp(values - _ramp(values, stated.interval_s)) <= off:
            return stated.interval_s, stated.origin
    if span < FEWEST_TIME_STEPS * raw.resolution_s and span < (n - 1.5) * raw.resolution_s:
        raise _destroyed(raw, values)
    interval, origin = span / (n - 1), "(last - first)/(n - 1)"
    if np.unique(values[:MANY_STEPS]).size < min(n, MANY_STEPS):
        # rounded times repeat: both ends may be off by a step, a line through all of them is not
        count = np.arange(n, dtype=np.float64)
        interval = float(np.polyfit(count - count.mean(), values - values.mean(), 1)[0])
        origin = "straight line through the times"
    if np.ptp(values - _ramp(values, interval)) <= OFF_GRID * rounding + 1e-3 * interval:
        return interval, origin
    return None, "the times themselves"


def _disagreement(values: FloatArray, raw: ToldTimes, stated: StatedInterval | None) -> list[str]:
    """Say so where the stated interval is not that of the times."""
    mean = float(values[-1] - values[0]) / (values.size - 1)
    if stated is None or raw.is_counter or abs(stated.interval_s - mean) <= INTERVAL_OFF * mean:
        return []
    return [f"the times are {mean:.6g} s apart, although {stated.interval_s:.6g} s is stated ({stated.origin})"]


def _destroyed(raw: ToldTimes, values: FloatArray) -> FormatError:
    n_distinct = np.unique(values).size
    facts = {"column": raw.label, "rows": values.size, "distinct times": n_distinct}
    return FormatError(
        "The time axis was destroyed by rounding, and no sample interval is stated in the file.",
        facts,
        "Export again with more digits, or state the sample interval.",
    )


def _spread_repeats(values: FloatArray) -> tuple[FloatArray, str]:
    """Spread equal times evenly up to the next one, so that the axis rises strictly."""
    values = np.maximum.accumulate(values)
    repeats = np.count_nonzero(np.diff(values) <= 0)
    if repeats == 0:
        return values, ""
    starts = np.flatnonzero(np.concatenate(([True], np.diff(values) > 0)))
    last_step = values[starts[-1]] - values[starts[-2]] if starts.size > 1 else 1.0
    knots = np.append(starts, values.size)
    instants = np.append(values[starts], values[starts[-1]] + last_step)
    spread = np.interp(np.arange(values.size, dtype=np.float64), knots, instants)
    return spread, f"{counted(int(repeats), 'repeated time')} spread evenly up to the next"
