"""The time axis of a capture: which column it is, in which unit, and what its interval is really."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.formats._scope_clock import seconds_of
from feelcheck.formats._scope_grid import BY_USER, MAX_BACKWARD, RawTimes, TimeAxis, settle_times
from feelcheck.formats._scope_settings import (
    StatedInterval,
    horizontal_unit,
    stated_interval,
    stated_start,
    unit_by_division,
)
from feelcheck.formats._table import Table, TableColumn
from feelcheck.formats._units import find_unit, is_time_name
from feelcheck.model.stream import FloatArray
from feelcheck.numerics.si_values import format_si

__all__ = ["find_time"]

_INDEX_NAMES = re.compile(r"index|samples?|n|no\.?|nr\.?|#|points?|pts?|row|count(?:er)?|sequence|seq|id|i", re.I)
_INTERVAL_NAMES = frozenset(
    ("dt", "delta t", "delta_t", "interval", "δt", "time step", "step", "period", "delta", "d_t")
)
_FREQUENCY_NAMES = ("freq", "frequency", "frequenz", "f")


def find_time(
    table: Table, file: str, *, time: str | None = None, unit: str | None = None, interval_s: float | None = None
) -> TimeAxis:
    """Return the time axis of a table.

    Parameters
    ----------
    table : Table
        From `read_table`.
    file : str
        For messages.
    time, unit : str, optional
        The user's word which column is time and what its unit is.
    interval_s : float, optional
        The user's word on the sample interval.

    Raises
    ------
    FormatError
        If there is no time axis, if it is a frequency axis, runs backwards, or was destroyed by rounding.
    """
    stated = stated_interval(table.settings, table.n_rows)
    if interval_s is not None:
        stated = StatedInterval(interval_s=interval_s, origin=BY_USER)
    times = _time_columns(table, time, file)
    counters = [c for c in table.columns if c not in times and _is_counter(c, table)]
    parts = [c for c in table.columns if table.times and _is_fraction(c)]
    used = frozenset(c.index for c in (*times, *counters, *parts))
    raw = _from_column(times[0], table, stated, unit, file) if times else _from_text(table)
    if raw is not None and raw.is_counter:
        counters, raw = [times[0], *counters], None
    if raw is None:
        return _from_settings(table, counters, stated, used, file)
    axis = settle_times(raw, stated, used, file)
    for column in times[1:]:
        other = _from_column(column, table, stated, unit, file)
        if other is not None and not other.is_counter:
            axis.others[column.index] = other.values
    return axis


def _time_columns(table: Table, time: str | None, file: str) -> list[TableColumn]:
    """Return the columns that are time axes, the main one first."""
    if time is not None:
        try:
            return [table.column(time)]
        except KeyError:
            facts = {
                "file": file,
                "got": time,
                "columns": ", ".join(c.name or f"#{c.index + 1}" for c in table.columns),
            }
            raise FormatError("The named time column is not in the file.", facts, "Name one of the columns.") from None
    candidates = [c for c in table.columns if not np.isnan(c.values).all() and not (table.times and _is_fraction(c))]
    by_unit = [c for c in candidates if (u := find_unit(c.unit)) and u.kind == "time" and not _is_duration(c)]
    by_name = [c for c in candidates if not c.unit and is_time_name(c.name) and (_rises(c.values) or _is_interval(c))]
    by_interval = [c for c in candidates if _is_interval(c)]
    found = sorted({c.index: c for c in (*by_unit, *by_name)}.values(), key=lambda c: c.index)
    fallen = [c for c in candidates if is_time_name(c.name) and (u := find_unit(c.unit)) and u.kind == "time"]
    found = [c for c in found if _rises(c.values)] or found or by_interval or ([] if table.times else fallen[:1])
    if found:
        return found
    _refuse_frequency(candidates[0] if candidates else None, file)
    return [] if table.times else _unnamed_times(candidates, table)


def _unnamed_times(candidates: Sequence[TableColumn], table: Table) -> list[TableColumn]:
    """Return the first column without name or unit that rises in even steps, and its twins of other channels."""
    keyed = table.heading.origin == "keyed rows"
    rising = [
        c
        for c in candidates
        if find_unit(c.unit) is None
        and (not c.name or c.name[0].isdigit() or (keyed and c is candidates[0]))
        and not _is_counter(c, table)
        and _is_uniform(c.values)
    ]
    if not rising or len(candidates) < 2:
        return []
    first = rising[0]
    others = [c for c in rising if c.index > first.index + 1 and not c.name]
    return [first, *(c for c in others if _is_twin(c.values, first.values))]


def _refuse_frequency(column: TableColumn | None, file: str) -> None:
    if column is None or not _rises(column.values):
        return
    unit = find_unit(column.unit)
    by_unit = unit is not None and unit.kind in ("frequency", "level")
    if by_unit or column.name.strip().lower().split(" ")[0].split("_")[0] in _FREQUENCY_NAMES:
        facts = {"file": file, "column": f"{column.name} ({column.unit})"}
        raise FormatError(
            "A response needs a time axis, but this is a spectrum.", facts, "Export the waveform instead."
        )


def _is_interval(column: TableColumn) -> bool:
    unit = find_unit(column.unit)
    named = column.name.strip().lower() in _INTERVAL_NAMES
    return named and (unit is None or unit.kind == "time") and bool(np.nanmin(column.values) > 0)


def _is_duration(column: TableColumn) -> bool:
    return not _rises(column.values) and not _is_interval(column) and bool(np.ptp(_finite(column.values)) > 0)


def _finite(values: FloatArray) -> FloatArray:
    good = np.isfinite(values)
    return values if good.all() else values[good]


def _rises(values: FloatArray) -> bool:
    """Tell whether values never fall but for a few restarts, or never rise; constants do not count."""
    steps = np.diff(_finite(values))
    if steps.size == 0 or not steps.any():
        return False
    falls = np.count_nonzero(steps < 0)
    return bool(falls <= MAX_BACKWARD * steps.size or falls == steps.size or (falls <= 3 and steps.size > 20))


def _is_uniform(values: FloatArray) -> bool:
    steps = np.diff(_finite(values))
    if steps.size < 2 or not _rises(values):
        return False
    return bool(np.mean(np.abs(steps - np.median(steps)) <= 0.51 * abs(np.median(steps)) + 1e-15) > 0.95)


def _is_whole(values: FloatArray) -> bool:
    return bool(np.all(values == np.rint(values), where=np.isfinite(values)))


def _is_twin(values: FloatArray, first: FloatArray) -> bool:
    """Tell whether two columns are time axes of two channels: uniform, with the same step."""
    if not _is_uniform(values):
        return False
    steps = [float(np.median(np.diff(_finite(column)))) for column in (values, first)]
    return abs(steps[0] - steps[1]) < 0.01 * abs(steps[1])


def _is_counter(column: TableColumn, table: Table) -> bool:
    """Tell a row counter: whole numbers one apart, by name or without any."""
    unit = find_unit(column.unit)
    name = column.name.strip().lower()
    if unit is not None and unit.kind != "index":
        return False
    if not _is_whole(column.values[:1000]):
        return False
    values = _finite(column.values)
    steps = np.diff(values)
    if values.size < 3 or not _is_whole(values) or np.ptp(steps) != 0 or steps[0] <= 0:
        return False
    named = bool(_INDEX_NAMES.fullmatch(name)) or (unit is not None and unit.kind == "index")
    return bool(named or (steps[0] == 1 and column is table.columns[0] and not table.times))


def _from_column(
    column: TableColumn, table: Table, stated: StatedInterval | None, unit: str | None, file: str
) -> RawTimes | None:
    label = f"column {column.name or column.index + 1}"
    known = find_unit(unit) if unit is not None else find_unit(column.unit)
    if known is not None and known.kind == "index":
        return RawTimes(values=column.values, label=label, unit="samples", resolution_s=1.0, is_counter=True)
    told = "given by the user" if unit is not None else column.unit
    factor = known.factor if known is not None and known.kind == "time" else None
    if factor is None:
        factor, told = _guess_factor(column, table, stated, file)
        if factor is None:
            return RawTimes(values=column.values, label=label, unit="samples", resolution_s=1.0, is_counter=True)
    values = column.values * factor
    # Nanoseconds since 1970 exceed what a double can hold exactly: its own rounding counts too.
    resolution = max(column.resolution, 4 * np.finfo(np.float64).eps * float(np.nanmax(np.abs(column.values))))
    if _is_interval(column) and not _rises(column.values):
        values = np.concatenate(([0.0], np.cumsum(np.nan_to_num(values[1:]))))
        label += " (intervals, summed)"
    return RawTimes(values=values, label=label, unit=told, resolution_s=resolution * factor)


def _guess_factor(
    column: TableColumn, table: Table, stated: StatedInterval | None, file: str
) -> tuple[float | None, str]:
    """Return the factor to seconds of a time column without a unit, and why; no factor if it only counts samples."""
    factor = horizontal_unit(table.settings)
    if factor is not None:
        return factor, "from the horizontal unit in the settings"
    values = _finite(column.values)
    mean = abs(values[-1] - values[0]) / max(1, values.size - 1)
    if stated is not None and mean > 0:
        for factor, name in ((1.0, "s"), (1e-3, "ms"), (1e-6, "us"), (1e-9, "ns")):
            if abs(mean * factor / stated.interval_s - 1.0) < 0.02 + 1.5 / values.size:
                return factor, f"{name}, since its steps then match the {stated.origin}"
    fitting = find_unit(unit_by_division(table.settings, float(np.ptp(values))) or "")
    if fitting is not None:
        return fitting.factor, f"{fitting.factor:g} s, since the record then fits the time per division"
    if not np.array_equal(values, np.rint(values)):
        return 1.0, "s (assumed: no unit is told)"
    if stated is not None or _is_counter(column, table):
        return None, ""
    if not values.any() or np.ptp(values) == 0:
        return 1.0, "s (assumed: no unit is told)"
    facts = {"file": file, "column": column.name or column.index + 1, "first values": values[:3].tolist()}
    raise FormatError(
        "The unit of the time column cannot be told: whole numbers without a unit.",
        facts,
        "Name the unit with --time-unit, or write it into the column's name (time_us).",
    )


def _from_text(table: Table) -> RawTimes | None:
    for column in table.times:
        seconds, resolution_s = seconds_of(column.cells)
        if seconds is not None and (":" in column.cells[0] or len(table.times) == 1):
            part = next((c for c in table.columns if _is_fraction(c)), None)
            if part is not None and resolution_s >= 1.0:
                resolution_s = find_unit(part.unit).factor * part.resolution  # type: ignore[union-attr]
                seconds = seconds + part.values * find_unit(part.unit).factor  # type: ignore[union-attr]
            label = f"column {column.name or column.index + 1}"
            return RawTimes(values=seconds, label=label, unit="time as text", resolution_s=resolution_s)
    return None


def _is_fraction(column: TableColumn) -> bool:
    """Tell a column of milliseconds or microseconds beside clock times that are written in whole seconds."""
    unit = find_unit(column.unit)
    if unit is None or unit.kind != "time" or unit.factor not in (1e-3, 1e-6):
        return False
    values = _finite(column.values)
    return bool(values.size and values.min() >= 0 and values.max() * unit.factor < 1.0)


def _from_settings(
    table: Table, counters: Sequence[TableColumn], stated: StatedInterval | None, used: frozenset[int], file: str
) -> TimeAxis:
    """Return the time axis from start and interval in the settings, stretched by a counter column if there is one."""
    if stated is None:
        facts = {"file": file, "columns": ", ".join(c.name or f"#{c.index + 1}" for c in table.columns)}
        raise FormatError(
            "A capture needs a time axis: neither a time column nor a sample interval was found.",
            facts,
            "Name the time column with --time, or state the sample interval.",
        )
    n = table.n_rows
    count = np.arange(n, dtype=np.float64)
    label = "none (start and interval)"
    rows = np.arange(n)
    if counters:
        values = counters[0].values
        label = f"none (counter column {counters[0].name or counters[0].index + 1} and interval)"
        good = np.isfinite(values)
        steps = np.diff(values[good])
        if steps.size and np.all(steps > 0) and np.all(steps == np.rint(steps)):
            rows, count = rows[good], values[good] - values[good][0]
    start = stated_start(table.settings)
    regular = bool(np.ptp(np.diff(count)) == 0) if count.size > 1 else True
    step = float(count[1] - count[0]) if count.size > 1 else 1.0
    return TimeAxis(
        t_s=start + count * stated.interval_s,
        rows=rows,
        interval_s=stated.interval_s * step if regular else None,
        used=used | {c.index for c in counters},
        understood={
            "time": label,
            "interval": format_si(stated.interval_s, "s", digits=9),
            "interval from": stated.origin,
        },
    )
