"""The time axis of a capture: which column it is, in which unit, and what its interval is really."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.formats._columns import Column, are_whole
from feelcheck.formats._scope_grid import BY_USER, TimeAxis, settle_times
from feelcheck.formats._scope_roles import role_by_name
from feelcheck.formats._scope_settings import StatedInterval, stated_interval, stated_start
from feelcheck.formats._table import Table
from feelcheck.formats._time_choice import Choice, choose_time, find_counter, is_counter, is_uniform, rises
from feelcheck.formats._time_told import ToldTimes, counted_rows, told_times
from feelcheck.formats._time_units import UnitsAsked, stated_unit
from feelcheck.formats.numbers import OTHER_ZERO
from feelcheck.model import FloatArray

__all__ = ["find_times"]

_FREQUENCY_NAMES = ("freq", "frequency", "frequenz", "f")
_SPECTRUM_RULES = ("text that holds times", "the only column that runs forward")


def find_times(
    table: Table, *, time: str | None = None, unit: str | None = None, interval_s: float | None = None
) -> list[TimeAxis]:
    """Return the time axis of a table, one for each block where time begins anew.

    Parameters
    ----------
    table : Table
        From `parse_table`.
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
    choice = _choice(table, time or "")
    parts = () if choice is None else choice.parts
    times = [] if choice is None else [column for column in choice.columns if column not in parts]
    counters = [c for c in table.columns if c not in times and _counts(c, table, beside_a_time=choice is not None)]
    used = frozenset(c.index for c in (*times, *counters, *parts))
    raw = None if choice is None else _told(choice, table, stated, unit)
    if raw is None or raw.is_counter:
        counter = next(iter([*times, *counters]), None) or find_counter(table.columns)
        return _from_interval(table, counter, stated, used)
    axes = settle_times(raw, stated, used)
    for column in times[1:]:
        other = _told(Choice(rule="a further channel's", columns=(column,)), table, stated, unit)
        for axis in axes:
            if not (other.is_counter or _has_other_zero(raw.values, other.values)):
                axis.others[column.index] = other.values
    return axes


def _counts(column: Column, table: Table, *, beside_a_time: bool) -> bool:
    """Whether a column counts rows: beside a time by ones from 0 or 1 on, unless its name says it drives."""
    from_start = beside_a_time and column.finite.size > 0 and column.finite[0] in (0.0, 1.0)
    if (
        beside_a_time
        and not column.name
        and column.known_unit is None
        and is_uniform(column)
        and are_whole(column.finite)
    ):
        return True
    by_ones = from_start and role_by_name(column.name, column.unit) != "drive"
    return is_counter(column, is_first=by_ones or _is_first(column, table))


def _has_other_zero(times: FloatArray, others: FloatArray) -> bool:
    """Whether two times of each row are the same clock counted from two instants."""
    apart, steps = others - times, np.diff(times)
    if not np.isfinite(apart).any() or not np.isfinite(steps).any():
        return False
    step = abs(float(np.nanmedian(steps)))
    return bool(np.nanmax(apart) - np.nanmin(apart) < step and abs(np.nanmedian(apart)) > OTHER_ZERO * step)


def _is_first(column: Column, table: Table) -> bool:
    return column is table.columns[0] and not table.times


def _choice(table: Table, stated: str) -> Choice | None:
    columns = [*table.columns, *table.times]
    if table.heading.origin == "keyed rows" and not stated:
        # A keyed row (`TraceName,CH1`) names channels; what stands over the first column is the key itself.
        columns[0] = replace(columns[0], name="")
    choice = choose_time(columns, stated, is_capture=True)
    if choice is None or choice.rule in _SPECTRUM_RULES:
        _refuse_frequency(table.columns[0])
    if choice is None:
        return None
    own = {column.index: column for column in (*table.columns, *table.times)}
    return replace(choice, columns=tuple(own[column.index] for column in choice.columns))


def _refuse_frequency(column: Column) -> None:
    if not rises(column.finite):
        return
    unit = column.known_unit
    by_unit = unit is not None and unit.kind in ("frequency", "level")
    if by_unit or column.name.strip().lower().split(" ")[0].split("_")[0] in _FREQUENCY_NAMES:
        facts = {"column": f"{column.name} ({column.unit})"}
        raise FormatError(
            "A response needs a time axis, but this is a spectrum.", facts, "Export the waveform instead."
        )


def _told(columns: Choice, table: Table, stated: StatedInterval | None, unit: str | None) -> ToldTimes:
    main = columns.columns[0]
    known = stated_unit(unit)
    if known is not None and known.kind == "index" and main.is_number:
        return counted_rows(main, table.n_rows)
    asked = UnitsAsked(
        factor=known.factor if known is not None else None,
        interval=stated,
        settings=table.settings,
        is_capture=True,
        is_first=_is_first(main, table),
    )
    return told_times(columns, asked)


def _from_interval(
    table: Table, counter: Column | None, stated: StatedInterval | None, used: frozenset[int]
) -> list[TimeAxis]:
    """Return the time axes from the stated interval: rows apart, or the steps of a column that counts them."""
    if stated is None:
        facts = {"columns": ", ".join(c.name or f"#{c.index + 1}" for c in table.columns)}
        raise FormatError(
            "A capture needs a time axis: neither a time column nor a sample interval was found.",
            facts,
            "Name the time column with --time, or state the sample interval.",
        )
    told = counted_rows(counter, table.n_rows)
    label = "start and interval" if counter is None else f"counter {told.label} and interval"
    t_s = stated_start(table.settings) + told.values * stated.interval_s
    raw = replace(told, values=t_s, label=f"none ({label})")
    own = frozenset() if counter is None else frozenset((counter.index,))
    return settle_times(raw, stated, used | own)
