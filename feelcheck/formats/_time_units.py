"""The unit of a time column: an ordered list of small rules, for logs and captures alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.formats._columns import Column, are_whole, usual_step
from feelcheck.formats._names import UNIT_SECONDS, Unit, find_unit, name_words, time_unit_name
from feelcheck.formats._scope_settings import StatedInterval, horizontal_unit, unit_by_division
from feelcheck.formats._settings import Setting
from feelcheck.formats._time_choice import are_serial_days, is_counter
from feelcheck.formats.numbers import (
    FASTEST_LOG_S,
    FIRST_DATE_S,
    FIRST_SERIAL_DAY,
    INTERVAL_OFF,
    LAST_DATE_S,
    LAST_SERIAL_DAY,
    LONGEST_CAPTURE_S,
    SHORTEST_CAPTURE_S,
    SLOWEST_LOG_S,
)
from feelcheck.model import FloatArray

__all__ = ["RULES", "TimeUnit", "UnitRule", "UnitsAsked", "find_time_unit", "infer_unit", "stated_unit"]

_DAY_TICKS = "100 ns"
DAY_S = 86_400.0
_TICKS = frozenset(["tick", "ticks", "cycles", "jiffies"])
"""Words of clocks whose rate only their maker knows."""
_ALL_SECONDS: Mapping[str, float] = MappingProxyType({**UNIT_SECONDS, _DAY_TICKS: 1e-7})
"""The same, with the one that only a date tells."""

_TICKS_BEFORE_1970 = (116_444_736_000_000_000, 621_355_968_000_000_000)
"""Steps of 100 ns from 1601 and from the year 1 to 1970 (134,774 and 719,162 days), as file times and calendars of the
common desktop system count them (their public documentation; from memory, the days checked with datetime)."""


def stated_unit(text: str | None) -> Unit | None:
    """Return the unit that the user states of a time column, which may be samples; None where nothing is stated.

    Raises
    ------
    FormatError
        If it is no unit of time.
    """
    unit = find_unit(text) if text else None
    if text and (unit is None or unit.kind not in ("time", "index")):
        facts = {"got": text, "allowed": "s, ms, us, ns, min, samples"}
        raise FormatError("The unit of the time column is not known.", facts, "Choose one of them.")
    return unit


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitsAsked:
    """What is known of the unit beside the column itself.

    Parameters
    ----------
    factor : float or None, s
        The user's word.
    interval : StatedInterval or None
        The sample interval that the file or the user states.
    settings : sequence of Setting
        The text round the data.
    is_capture : bool
        Whether the table is a capture.
    is_first : bool
        Whether the column is the first of its table.
    """

    factor: float | None = None
    interval: StatedInterval | None = None
    settings: Sequence[Setting] = ()
    is_capture: bool = False
    is_first: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeUnit:
    """Seconds in one unit of a time column, who says so, and a remark; no factor where the column only counts."""

    factor: float | None
    told: str
    remark: str = ""


class UnitRule(NamedTuple):
    """One rule: a name, and a function that returns the unit or None."""

    name: str
    find: Callable[[Column, UnitsAsked], TimeUnit | None]


def _stated(_column: Column, asked: UnitsAsked) -> TimeUnit | None:
    told = f"{time_unit_name(asked.factor or 0.0)} (given by the user)"
    return TimeUnit(factor=asked.factor, told=told) if asked.factor is not None else None


def _own(column: Column, asked: UnitsAsked) -> TimeUnit | None:
    if column.known_unit is not None and column.known_unit.kind == "index":
        return TimeUnit(factor=None, told="samples")
    told = column.unit if asked.is_capture else time_unit_name(column.time_factor or 0.0)
    return TimeUnit(factor=column.time_factor, told=told) if column.time_factor is not None else None


def _horizontal(_column: Column, asked: UnitsAsked) -> TimeUnit | None:
    factor = horizontal_unit(asked.settings)
    return TimeUnit(factor=factor, told="from the horizontal unit in the settings") if factor is not None else None


def _by_interval(column: Column, asked: UnitsAsked) -> TimeUnit | None:
    values = column.finite
    mean = abs(values[-1] - values[0]) / max(1, values.size - 1)
    if asked.interval is None or not mean > 0:
        return None
    for name, factor in UNIT_SECONDS.items():
        if abs(mean * factor / asked.interval.interval_s - 1.0) < INTERVAL_OFF + 1.5 / values.size:
            return TimeUnit(factor=factor, told=f"{name}, since its steps then match the {asked.interval.origin}")
    return None


def _by_division(column: Column, asked: UnitsAsked) -> TimeUnit | None:
    name = unit_by_division(asked.settings, float(np.ptp(column.finite)))
    if name is None:
        return None
    factor = UNIT_SECONDS[name]
    return TimeUnit(factor=factor, told=f"{factor:g} s, since the record then fits the time per division")


def _spreadsheet(column: Column, asked: UnitsAsked) -> TimeUnit | None:
    if not are_serial_days(column) and not (not asked.is_capture and _are_days(column)):
        return None
    remark = f"column {column.label}: its numbers are dates and times as spreadsheets count them, in days"
    return TimeUnit(factor=DAY_S, told="days of a spreadsheet's calendar", remark=f"{remark} (else: --time-unit s)")


def _are_days(column: Column) -> bool:
    """Whether a log's times are days of a spreadsheet's calendar: in seconds they would follow too fast for a stick."""
    if not FIRST_SERIAL_DAY < column.finite[0] < LAST_SERIAL_DAY:
        return False
    step = usual_step(column.finite)
    return step < 0.1 * FASTEST_LOG_S and FASTEST_LOG_S <= DAY_S * step <= SLOWEST_LOG_S


def _by_steps(column: Column, asked: UnitsAsked) -> TimeUnit | None:
    if asked.is_capture:
        return None
    unit = infer_unit(column.label, column.finite)
    remark = f"the unit of column '{column.label}' was told from its steps: {unit}"
    return TimeUnit(factor=_ALL_SECONDS[unit], told=unit, remark=remark)


def _since_1970(column: Column, asked: UnitsAsked) -> TimeUnit | None:
    """Whole numbers as large as today's date in one unit, over a record as long in that unit as captures are."""
    dated = [unit for unit in _dated(float(column.finite[0])) if unit != "s"]
    if not asked.is_capture or len(dated) != 1 or not are_whole(column.finite):
        return None
    factor = _ALL_SECONDS[dated[0]]
    is_usual = SHORTEST_CAPTURE_S <= np.ptp(column.finite) * factor <= LONGEST_CAPTURE_S
    return TimeUnit(factor=factor, told=_since(dated[0])) if is_usual else None


def _since(unit: str) -> str:
    return f"steps of {unit} since 1601 or the year 1" if unit == _DAY_TICKS else f"{unit} since 1970"


def _dated(start: float) -> list[str]:
    """Units in which a number is today's date, counted from 1970 (steps of 100 ns: from 1601 or the year 1)."""
    dated = [unit for unit, s in UNIT_SECONDS.items() if FIRST_DATE_S <= start * s <= LAST_DATE_S]
    ticks = any(FIRST_DATE_S <= 1e-7 * (start - before) <= LAST_DATE_S for before in _TICKS_BEFORE_1970)
    return [*dated, _DAY_TICKS] if ticks else dated


def _assumed(column: Column, asked: UnitsAsked) -> TimeUnit | None:
    values = column.finite
    if not are_whole(values) or not values.any() or np.ptp(values) == 0:
        remark = f"column {column.label}: seconds were assumed, since no unit is told{_alternative(values)}"
        return TimeUnit(factor=1.0, told="s (assumed: no unit is told)", remark=remark)
    if asked.interval is not None or is_counter(column, is_first=asked.is_first):
        return TimeUnit(factor=None, told="samples")
    return None


def _alternative(values: FloatArray) -> str:
    """Return the plausible other unit in words, where seconds make a record longer than captures usually are."""
    span = float(np.ptp(values))
    other = next((unit for unit, s in UNIT_SECONDS.items() if SHORTEST_CAPTURE_S <= span * s <= LONGEST_CAPTURE_S), "s")
    if other == "s":
        return ""
    return f": the record is then {span:.4g} s long; as {other} it is {span:.4g} {other}: --time-unit {other}"


RULES: tuple[UnitRule, ...] = (
    UnitRule("the user's word", _stated),
    UnitRule("the column's own unit", _own),
    UnitRule("the horizontal unit in the settings", _horizontal),
    UnitRule("steps that match the stated interval", _by_interval),
    UnitRule("a record that fits the time per division", _by_division),
    UnitRule("days of a spreadsheet's calendar", _spreadsheet),
    UnitRule("the only unit that gives steps of a stick log", _by_steps),
    UnitRule("the only unit in which the numbers are today's date", _since_1970),
    UnitRule("seconds, where the numbers have decimals", _assumed),
)
"""In order: the first rule that returns a unit decides."""


def find_time_unit(column: Column, asked: UnitsAsked) -> TimeUnit:
    """Return the unit of a time column.

    Raises
    ------
    FormatError
        Where no rule tells it.
    """
    for rule in RULES:
        found = rule.find(column, asked)
        if found is not None:
            return found
    raise FormatError(
        "The unit of the time column cannot be told: whole numbers without a unit.",
        {"column": column.label, "first values": column.finite[:3].tolist()},
        "Name the unit with --time-unit, or write it into the column's name (time_us).",
    )


def infer_unit(name: str, ticks: FloatArray) -> str:
    """Return the unit of a log's time column that does not state it.

    Parameters
    ----------
    name : str
        For the error.
    ticks : ndarray, shape (n,)
        The column's finite numbers.

    Raises
    ------
    FormatError
        Unless exactly one unit is possible.

    Notes
    -----
    A unit is possible when the median forward step is one a stick log can have (`FASTEST_LOG_S` to `SLOWEST_LOG_S`)
    and the first instant is no later than a date can be. Numbers near today's seconds, milli-, micro- or nanoseconds
    since 1970, or near its steps of 100 ns, leave only that unit. Whole numbers one apart may be milliseconds or rows.
    """
    step = usual_step(ticks)
    start = float(ticks[0]) if ticks.size else 0.0
    dated = _dated(start)
    fits = [
        unit
        for unit, s in _ALL_SECONDS.items()
        if FASTEST_LOG_S * (1 - 1e-6) <= step * s <= SLOWEST_LOG_S * (1 + 1e-6)
        and (unit in dated or (unit in UNIT_SECONDS and start * s <= LAST_DATE_S))
    ]
    if step == 1.0 and are_whole(ticks) and dated != ["ms"]:
        fits = [] if dated == ["s"] else ["ms", "samples"]
    if _TICKS & set(name_words(name)) and not dated:
        fits = []
    if dated and set(dated) & set(fits):
        fits = [unit for unit in fits if unit in dated]
    if len(fits) != 1:
        raise FormatError(
            f"The unit of time column '{name}' cannot be told from its numbers.",
            {"median step": f"{step:g}", "possible": ", ".join(fits) or "none", "first value": f"{start:g}"},
            "State it with --time-unit s, ms, us or ns; for a row counter give --rate-hz.",
        )
    return fits[0]
