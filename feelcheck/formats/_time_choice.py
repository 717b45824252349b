"""Which column is the time: an ordered list of small rules, for logs and captures alike."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from feelcheck.formats._columns import Column, are_whole, find_column
from feelcheck.formats._names import name_words, split_name
from feelcheck.formats._stamps import looks_like_stamps
from feelcheck.formats._time_line import unwrapped
from feelcheck.formats._words import words_of
from feelcheck.formats.numbers import (
    ALWAYS_ISOLATED,
    EVEN_SHARE,
    FEWEST_TIME_STEPS,
    FIRST_SERIAL_DAY,
    LAST_SERIAL_DAY,
    LONGEST_OF_A_DAY,
    LONGEST_SERIAL_STEP,
    MOST_ALIKE,
    MOST_BACK,
    STEADY,
)
from feelcheck.model import FloatArray

__all__ = [
    "RULES",
    "Choice",
    "TimeRule",
    "are_serial_days",
    "choose_time",
    "find_counter",
    "is_counter",
    "is_even_interval",
    "is_interval",
    "is_uniform",
    "rises",
    "runs_forward",
]

_INDEX_NAMES = re.compile(r"index|samples?|n|no\.?|nr\.?|#|points?|pts?|row|count(?:er)?|sequence|seq|id|i", re.I)
_CLOCK_FRACTION = re.compile(r":\d{1,2}(?:[.,]\d+|:\d{1,2}:\d+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The columns that tell the time.

    Parameters
    ----------
    rule : str
        Name of the rule that chose them.
    columns : tuple of Column
        The main one first; behind it the fraction of a pair, or the time columns of further channels.
    remark : str
        What had to be decided; empty where the file says it.
    """

    rule: str
    columns: tuple[Column, ...]
    remark: str = ""

    @property
    def parts(self) -> tuple[Column, ...]:
        """The columns that hold the fraction of the main one's seconds, the coarsest first."""
        return self.columns[1:] if "fraction" in self.rule else ()


Find = Callable[[Sequence[Column], bool], list[Column]]


class TimeRule(NamedTuple):
    """One rule.

    `finds` takes the columns and whether the table is a capture (an ``x`` is a time there and an axis of a stick in a
    log; any column in seconds is a time) and returns the columns that tell the time, the main one first.
    """

    name: str
    finds: Find
    remark: str = ""


def rises(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> bool:
    """Return whether finite values never fall but for a few restarts, or never rise; constants do not count."""
    steps = np.diff(values)
    if steps.size == 0 or not steps.any():
        return False
    falls = np.count_nonzero(steps < 0)
    few = ALWAYS_ISOLATED if steps.size > FEWEST_TIME_STEPS else 0
    return bool(falls <= max(few, MOST_BACK * steps.size) or falls == steps.size)


def runs_forward(column: Column, *, advancing: float = 0.5) -> bool:
    """Return whether a column of numbers goes on from row to row, in more than a share `advancing` of the rows."""
    if not column.is_number or column.cells.size < 3:
        return False
    with np.errstate(invalid="ignore"):  # between two endless numbers there is no step
        steps = np.diff(column.values)
    return bool(
        np.count_nonzero(steps >= 0) >= STEADY * steps.size and np.count_nonzero(steps > 0) > advancing * steps.size
    )


def is_interval(column: Column) -> bool:
    """Return whether a column holds the time since the row before, by its name and by going forward."""
    words = set(name_words(split_name(column.name)[0]))
    named = bool(words & words_of("since")) and words <= words_of("since", "since beside")
    named = named or words in ({"time", "step"}, {"d", "t"}, {"step"})
    timed = column.known_unit is None or column.time_factor is not None
    if not (named and timed and column.is_number and column.finite.size):
        return False
    return bool(column.finite.min() >= 0 and np.median(column.finite) > 0)


def is_uniform(column: Column) -> bool:
    """Return whether a column rises in even steps."""
    values = column.finite
    steps = np.diff(values)
    if steps.size < 2 or not rises(values):
        return False
    step = float(np.median(steps))
    return step != 0 and bool(np.mean(np.abs(steps - step) <= 0.51 * abs(step) + 1e-15) > EVEN_SHARE)


def is_counter(column: Column, *, is_first: bool = False) -> bool:
    """Return whether a column counts rows: whole numbers one step apart, by name, or by ones in the first column."""
    unit = column.known_unit
    if not column.is_number or (unit is not None and unit.kind != "index"):
        return False
    values = column.finite
    steps = np.diff(values)
    if values.size < 3 or not are_whole(values) or np.ptp(steps) != 0 or steps[0] <= 0:
        return False
    named = bool(_INDEX_NAMES.fullmatch(column.name.strip().lower())) or unit is not None
    return bool(named or (steps[0] == 1 and is_first))


def find_counter(columns: Sequence[Column]) -> Column | None:
    """Return the first column that counts rows by its name and runs forward, lost ones left out; None without any."""
    named = (column for column in columns if column.role == "counter" and column.name)
    return next((column for column in named if runs_forward(column)), None)


def _is_named(column: Column, is_capture: bool) -> bool:
    return column.role == "time" or (is_capture and column.role == "abscissa")


def _filled(columns: Sequence[Column]) -> list[Column]:
    return [column for column in columns if column.is_number and bool(np.isfinite(column.values).any())]


def _goes_on(column: Column, is_capture: bool) -> bool:
    straight = unwrapped(column.finite)[0] if column.finite.size == column.cells.size else column.values
    if is_capture:
        return rises(straight[np.isfinite(straight)])
    return runs_forward(replace(column, cells=straight), advancing=0.0)


def _pair(columns: Sequence[Column], is_capture: bool) -> list[Column]:
    """Whole seconds, and their fraction in smaller units that falls back now and then."""
    whole = [c for c in _filled(columns) if _is_named(c, is_capture) and _counts_up_from_zero(c)]
    seconds = [c for c in whole if c.time_factor == 1.0]
    parts = [
        c
        for c in whole
        if (factor := c.time_factor) is not None
        and factor < 0.1
        and c.finite.max() < 1 / factor
        and np.any(np.diff(c.finite) < 0)
    ]
    return [seconds[0], parts[0]] if seconds and parts else []


def _counts_up_from_zero(column: Column) -> bool:
    return are_whole(column.values) and bool(column.finite.min() >= 0)


def _clock_and_fraction(columns: Sequence[Column], is_capture: bool) -> list[Column]:
    """A clock in whole seconds as text, and its fraction as numbers in columns of their own."""
    stamps = [column for column in _stamps(columns, is_capture) if not _CLOCK_FRACTION.search(str(column.cells[0]))]
    parts: list[Column] = []
    for column in sorted(filter(is_fraction, columns), key=lambda c: -(c.time_factor or 0.0)):
        finest = min([1.0, *(part.time_factor or 1.0 for part in parts)])
        if column.finite.max() * (column.time_factor or 1.0) < finest:  # microseconds of a second hold its milliseconds
            parts.append(column)
    return [stamps[0], *parts] if stamps and parts else []


def is_fraction(column: Column) -> bool:
    """Return whether a column may be the milliseconds or microseconds of whole seconds in another one."""
    factor = column.time_factor
    if factor not in (1e-3, 1e-6) or not column.is_number:
        return False
    values = column.finite
    falls = bool(np.any(np.diff(values) < 0))
    return bool(values.size and values.min() >= 0 and values.max() * factor < 1.0 and (falls or column.role == "time"))


def _with_unit(columns: Sequence[Column], is_capture: bool) -> list[Column]:
    timed = [c for c in _filled(columns) if c.time_factor is not None and (is_capture or _is_named(c, is_capture))]
    named = [c for c in _filled(columns) if not c.unit and _is_named(c, is_capture)] if is_capture else []
    found = sorted({c.index: c for c in (*timed, *named)}.values(), key=lambda c: c.index)
    return _ends_first([c for c in found if _goes_on(c, is_capture) and not is_even_interval(c)])


def is_even_interval(column: Column) -> bool:
    """Return whether a column says how long after the row before each row came, nearly always the same."""
    return is_interval(column) and bool(np.mean(column.finite == np.median(column.finite)) > MOST_ALIKE)


def _ends_first(columns: list[Column]) -> list[Column]:
    """Where the two ends of a bracket are logged, the later one is the time that was seen."""
    return sorted(columns, key=lambda c: "hi" not in re.split(r"[^a-z]+", c.name.lower()))


def _without_unit(columns: Sequence[Column], is_capture: bool) -> list[Column]:
    named = [c for c in _filled(columns) if _is_named(c, is_capture)]
    return _ends_first([c for c in named if _goes_on(c, is_capture)])


def _pairs(columns: Sequence[Column], is_capture: bool) -> list[Column]:
    """The first of each pair that names tell apart by their last word alone: ``CH1_X``, ``CH1_Y``."""
    words = {column.index: name_words(column.name) for column in columns}
    answers = [own[:-1] for own in words.values() if own[-1:] == ["y"]]
    firsts = [c for c in _filled(columns) if words[c.index][-1:] == ["x"] and words[c.index][:-1] in answers]
    return [c for c in firsts if is_uniform(c)] if is_capture else []


def _named_stamps(columns: Sequence[Column], is_capture: bool) -> list[Column]:
    return [column for column in _stamps(columns, is_capture) if _is_named(column, is_capture)][:1]


def _stamps(columns: Sequence[Column], _is_capture: bool) -> list[Column]:
    texts = [column for column in columns if column.cells.dtype.kind == "O"]
    found = [column for column in texts if looks_like_stamps(column.cells)]
    return found[:1]


def are_serial_days(column: Column) -> bool:
    """Return whether a column holds instants as spreadsheets count them: days since the end of 1899, with a fraction.

    Notes
    -----
    By its name, or because the same numbers as seconds would be samples a few nanoseconds apart, hours after a start.
    """
    values = column.finite if column.is_number and column.known_unit is None else np.empty(0)
    if values.size < 3 or not rises(values):
        return False
    if _are_times_of_day(values) and column.role == "time":
        return True
    if not FIRST_SERIAL_DAY < values[0] < LAST_SERIAL_DAY or are_whole(values):
        return False
    step = (values[-1] - values[0]) / (values.size - 1)
    named = set(name_words(split_name(column.name)[0])) & words_of("date")
    return bool((named and 0 < step < 1) or 0 < step < LONGEST_SERIAL_STEP)


def _are_times_of_day(values: FloatArray) -> bool:
    """Whether numbers are fractions of a day: as seconds they would be a record 300 times shorter than its age."""
    first, span = float(values[0]), float(values[-1] - values[0])
    return 0.0 < first < 1.0 and 0.0 < span < LONGEST_OF_A_DAY * first and float(np.max(values)) <= 1.0


def _serial_days(columns: Sequence[Column], _is_capture: bool) -> list[Column]:
    return [column for column in columns if are_serial_days(column)][:1]


def _intervals(columns: Sequence[Column], _is_capture: bool) -> list[Column]:
    return [column for column in columns if is_interval(column)][:1]


def _fallen(columns: Sequence[Column], is_capture: bool) -> list[Column]:
    """A time by its name that does not run forward: the reader says what is wrong with it."""
    return [c for c in _filled(columns) if _is_named(c, is_capture) and (not is_capture or c.time_factor)][:1]


def _alone(columns: Sequence[Column], is_capture: bool) -> list[Column]:
    if is_capture:
        return _unnamed(columns)
    timed = [column for column in columns if column.time_factor is not None and runs_forward(column)]
    steady = [column for column in columns if column.role in ("", "abscissa") and runs_forward(column)]
    return timed[:1] or (steady if len(steady) == 1 else [])


def _unnamed(columns: Sequence[Column]) -> list[Column]:
    """The first column without name or unit that rises in even steps, and its twins of other channels."""
    numbers = _filled(columns)
    rising = [
        column
        for column in numbers
        if column.known_unit is None
        and (not column.name or column.name[0].isdigit())
        and not is_counter(column, is_first=column is numbers[0])
        and is_uniform(column)
    ]
    if not rising or len(numbers) < 2:
        return []
    first = rising[0]
    step = float(np.median(np.diff(first.finite)))
    others = [column for column in rising if column.index > first.index + 1 and not column.name]
    alike = [c for c in others if abs(float(np.median(np.diff(c.finite))) - step) < 0.01 * abs(step)]
    return [first, *alike]


_SUMMED = "column '{name}' was summed: it is the time since the row before"
_FORWARD = "column '{name}' was taken as the time: it alone runs forward"

RULES: tuple[TimeRule, ...] = (
    TimeRule("whole seconds beside their fraction", _pair),
    TimeRule("a clock beside its fraction", _clock_and_fraction),
    TimeRule("a time with its unit", _with_unit),
    TimeRule("a time written as text", _named_stamps),
    TimeRule("a time without a unit", _without_unit),
    TimeRule("the first of each pair", _pairs),
    TimeRule("text that holds times", _stamps),
    TimeRule("days of a spreadsheet's calendar", _serial_days),
    TimeRule("intervals from row to row", _intervals, _SUMMED),
    TimeRule("a time that does not run forward", _fallen),
    TimeRule("the only column that runs forward", _alone, _FORWARD),
)
"""In order: the first rule that finds a column decides."""


def choose_time(columns: Sequence[Column], stated: str = "", *, is_capture: bool = False) -> Choice | None:
    """Return the columns that tell the time, None where no rule finds one.

    Parameters
    ----------
    columns : sequence of Column
        The table.
    stated : str
        The user's word; it goes before every rule.
    is_capture : bool
        See `TimeRule`.

    Raises
    ------
    FormatError
        If there is no column of the stated name.

    Examples
    --------
    >>> t = Column(index=0, name="Zeit", unit="ms", cells=np.arange(5.0))
    >>> choose_time([t]).rule
    'a time with its unit'
    """
    if stated:
        names, written = [column.name for column in columns], [column.written for column in columns]
        return Choice(rule="stated", columns=(columns[find_column(names, stated, "--time", written=written)],))
    for rule in RULES:
        found = rule.finds(columns, is_capture)
        if found:
            remark = rule.remark.format(name=found[0].label)
            return Choice(rule=rule.name, columns=tuple(found), remark=remark)
    return None
