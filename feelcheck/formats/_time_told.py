"""What the columns that tell the time say: seconds of every row, for logs and captures alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.formats._columns import Column
from feelcheck.formats._stamps import looks_like_stamps, read_stamps
from feelcheck.formats._time_choice import Choice, is_even_interval, is_interval, rises
from feelcheck.formats._time_line import unwrapped
from feelcheck.formats._time_units import UnitsAsked, find_time_unit
from feelcheck.model import FloatArray

__all__ = ["ToldTimes", "counted_rows", "told_times"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ToldTimes:
    """The times of a table's rows as its columns tell them.

    Parameters
    ----------
    values : ndarray, shape (n_rows,), s
        NaN where a row has none; counts where the column only counts.
    label : str
        Which columns.
    unit : str
        The unit in words, or how stamps are written.
    resolution_s : float, s
        The step to which the file rounds them.
    is_counter : bool
        Whether the column only counts rows.
    remarks : tuple of str
        What had to be decided.
    """

    values: FloatArray
    label: str
    unit: str
    resolution_s: float
    is_counter: bool = False
    remarks: tuple[str, ...] = ()


def told_times(choice: Choice, asked: UnitsAsked) -> ToldTimes:
    """Return what the chosen columns tell.

    Raises
    ------
    FormatError
        Where a column holds text that is no time, or its unit cannot be told.
    """
    main = choice.columns[0]
    if not main.is_number:
        return _from_text(choice)
    if not choice.parts:
        return _from_numbers(main, asked)
    label = f"columns {' and '.join(column.label for column in choice.columns)}"
    told = ToldTimes(values=main.values - main.finite[0], label=label, unit="s", resolution_s=1.0)
    return _with_fractions(told, choice.parts)


def counted_rows(counter: Column | None, n_rows: int) -> ToldTimes:
    """Return the samples since the first row, by a column that counts them, else by the rows themselves."""
    ticks, wraps = (np.arange(n_rows, dtype=np.float64), "") if counter is None else _straight(counter)
    return ToldTimes(
        values=ticks - ticks[np.isfinite(ticks)][:1],
        label="rows" if counter is None else f"column {counter.label}",
        unit="samples",
        resolution_s=0.0,
        is_counter=True,
        remarks=(wraps,) if wraps else (),
    )


def _from_text(choice: Choice) -> ToldTimes:
    main = choice.columns[0]
    if not looks_like_stamps(main.cells):
        raise FormatError(
            f"Column '{main.name}' holds text that is no time stamp.",
            {"first cell": str(main.cells[0])[:40] if main.cells.size else "", "understood": "ISO 8601, hh:mm:ss.fff"},
            "Name another column with --time, or state the rate or the interval of the rows.",
        )
    stamps = read_stamps(main.cells)
    told = ToldTimes(
        values=stamps.seconds, label=f"column {main.label}", unit=stamps.style, resolution_s=stamps.resolution_s
    )
    return _with_fractions(told, choice.parts)


def _with_fractions(told: ToldTimes, parts: Sequence[Column]) -> ToldTimes:
    """Whole seconds with the fractions that stand in columns of their own."""
    for part in parts:
        factor = part.time_factor or 1.0
        told = replace(told, values=told.values + part.values * factor, resolution_s=factor * part.resolution)
    return told


def _from_numbers(column: Column, asked: UnitsAsked) -> ToldTimes:
    label = f"column {column.label}"
    ticks, wraps = _straight(column)
    summed = is_even_interval(column) or (is_interval(column) and not rises(column.finite))
    unit = find_time_unit(replace(column, cells=_summed(ticks) if summed else ticks), asked)
    if unit.factor is None:
        return ToldTimes(values=ticks, label=label, unit="samples", resolution_s=1.0, is_counter=True)
    # Nanoseconds since 1970 exceed what a double can hold exactly: its own rounding counts too.
    resolution = max(column.resolution, 4 * np.finfo(np.float64).eps * float(np.nanmedian(np.abs(ticks))))
    is_exact = column.cells.dtype.kind in "iu" and not wraps and np.abs(column.finite).max(initial=0.0) >= 2**53
    seconds = _exact(column, unit.factor) if is_exact else ticks * unit.factor
    if summed:
        seconds, label = _summed(seconds), f"{label} (intervals, summed)"
    return ToldTimes(
        values=seconds,
        label=label,
        unit=unit.told,
        resolution_s=resolution * unit.factor,
        remarks=tuple(remark for remark in (wraps, unit.remark) if remark),
    )


def _summed(steps: FloatArray) -> FloatArray:
    """Return the time of each row from the first one's on, where each tells how long after the row before it came."""
    return np.concatenate(([0.0], np.cumsum(np.nan_to_num(steps[1:]))))


def _straight(column: Column) -> tuple[FloatArray, str]:
    """Return a column's numbers, shape (n_rows,), with the wraps of a counter undone, and what was done."""
    values = column.values
    good = np.isfinite(values)
    unrolled, remark = unwrapped(values[good])
    if not remark:
        return values, ""
    values = values.copy()
    values[good] = unrolled
    return values, remark


def _exact(column: Column, factor: float) -> FloatArray:
    """Return big integers (nanoseconds since 1970) in seconds from the first one's whole day, so no digit is lost."""
    cells = column.cells
    per_day = round(86400 / factor)
    first, least, most = (int(cell) for cell in (cells[0], cells.min(), cells.max()))
    day = first // per_day * per_day
    if max(map(abs, (day, least, most, least - day, most - day))) >= 2**63:
        return np.asarray((cells.astype(np.float64) - float(day)) * factor, dtype=np.float64)
    return np.asarray((cells.astype(np.int64) - day) * factor, dtype=np.float64)
