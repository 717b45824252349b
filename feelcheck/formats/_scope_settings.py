"""What a capture's settings tell: its sample interval and start, and the scope settings that matter later."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from feelcheck.formats._names import UNIT_SECONDS, Unit, find_unit
from feelcheck.formats._numbers import parse_quantity
from feelcheck.formats._settings import Setting
from feelcheck.formats.numbers import AMBIGUOUS_INTERVAL, FEWEST_DIVISIONS, MOST_DIVISIONS, OVER_RANGE

__all__ = [
    "SETTING_NAMES",
    "StatedInterval",
    "horizontal_unit",
    "scope_facts",
    "stated_interval",
    "stated_start",
    "unit_by_division",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedInterval:
    """The sample interval that the settings state, and the setting that says so."""

    interval_s: float
    origin: str


_WHAT = (
    r"(?:(?:x|h|t|time|horizontal|horiz|sample|sampling|samples|samp|acquisition|acq|adc|logging|log|scan|waveform|data"
    r"|point|dot|abtast|per)\s*)"
)
_STRONG_INTERVAL = re.compile(
    rf"{_WHAT}+(?:interval|increment|incr|inc|period|step|spacing|delta|cycle|intervall|distance)(?: x| t| time)?"
    r"|increment|d ?[tx]|(?:delta|Δ) ?[xt]|delta time|time delta|x ?incr?\w*|t ?inc\w*|h ?inc\w*|sampling time"
    r"|sample time|time (?:per|/) ?(?:sample|point|pt)|abtastintervall?|[xh] ?resolution|(?:time|horizontal) resolution"
)
_WEAK_INTERVAL = re.compile(r"interval|period|resolution|clock|step|timestep|tick|sample size")
_MEASURED = re.compile(
    r".*(?:pk ?pk|peak|vpp|rms|amplitude|\bmean\b|\bmax\b|\bmin\b|duty|rise|fall|overshoot|\bavg\b).*"
)
_RATE = re.compile(
    r"(?:effective |real |actual )?"
    r"(?:sample|sampling|samp|abtast|acquisition|acq|adc|data|scan|logging|log|report|poll)\w* ?"
    r"(?:rate|frequency|freq|speed|clock|frequenz)|rate|fs|f s|samples? ?rate|samples? (?:per|/) ?s(?:ec(?:ond)?)?"
    r"|sps|abtastrate|points? (?:per|/) ?s(?:ec(?:ond)?)?"
)
_WEAK_RATE = re.compile(r"frequency|freq|clock|speed")
_POINTS_PER = re.compile(r"(?:points?|samples?|pts|dots) ?(?:per|/) ?(s|sec|second|ms|us|µs|div|division)")
_TIME_PER_DIV = re.compile(
    r"(?:time|sec\w*|s|horizontal|h|t) ?(?:/|per) ?div\w*|time ?base(?: scale)?|horizontal scale|h scale|time scale"
)
_DURATION = re.compile(
    r"(?:record|capture|acquisition|total|window|sweep) (?:time|duration|span|window)|duration"
    r"|time (?:window|span|range)|horizontal (?:span|range)"
)
_START = re.compile(
    r"(?:(?:x|h|t|time|horizontal|horiz|waveform)\s*)?(?:start|zero|origin|begin)(?: time)?|[xth] ?(?:0|zero|or\w*)"
    r"|(?:x|h|time|horizontal) offset|first (?:point|sample)(?: time)?|time of first (?:point|sample)"
)
_HORIZONTAL_UNIT = re.compile(r"(?:horizontal|h|x|time|t|horiz)(?: axis)? ?(?:units?|unit label)")


def _first_quantity(
    settings: Sequence[Setting], pattern: re.Pattern[str]
) -> list[tuple[Setting, float, Unit | None, str]]:
    found = []
    for setting in settings:
        if not pattern.fullmatch(setting.key):
            continue
        quantity = parse_quantity(setting.value)
        if quantity is None:
            continue
        value, unit, tail = quantity
        if unit is None and setting.unit:
            unit = find_unit(setting.unit)
        found.append((setting, value, unit, tail))
    return found


def stated_interval(settings: Sequence[Setting], n_rows: int) -> StatedInterval | None:
    """Return the sample interval that the settings state, the most explicit kind first; None if there is none.

    Parameters
    ----------
    settings : sequence of Setting
        From the table.
    n_rows : int
        For settings that state the whole record's duration.

    Notes
    -----
    A bare interval above 0.5 without any unit could be seconds or microseconds and is left alone. ``Period`` and
    ``Frequency`` alone may also be measured values of the signal: they count only where no other measured value stands
    beside them and the record's length fits the time per division.
    """
    factor = horizontal_unit(settings)
    measured = any(_MEASURED.fullmatch(setting.key) for setting in settings)
    per_division = [t * (u.factor if u else 1.0) for _, t, u, _ in _first_quantity(settings, _TIME_PER_DIV)]
    for pattern, is_rate in ((_STRONG_INTERVAL, False), (_RATE, True), (_WEAK_INTERVAL, False), (_WEAK_RATE, True)):
        is_weak = pattern in (_WEAK_INTERVAL, _WEAK_RATE)
        for setting, value, unit, tail in _first_quantity(settings, pattern):
            interval = _as_interval(value, unit, tail, is_rate, factor)
            if is_weak and interval is not None and (measured or not _fits(interval * n_rows, per_division)):
                continue
            if interval is not None:
                return StatedInterval(interval_s=interval, origin=_origin(setting))
    return _indirect_interval(settings, n_rows)


def _fits(span_s: float, per_division: Sequence[float]) -> bool:
    return not per_division or any(
        FEWEST_DIVISIONS <= span_s / one <= MOST_DIVISIONS for one in per_division if one > 0
    )


def _origin(setting: Setting) -> str:
    value = f"{setting.value} {setting.unit}".strip()
    return f"setting {setting.key!r} = {value}" + (f" (line {setting.line})" if setting.line else "")


def _as_interval(value: float, unit: Unit | None, tail: str, is_rate: bool, factor: float | None) -> float | None:
    if not 0.0 < value < OVER_RANGE:
        return None
    interval: float | None = None
    if unit is not None and unit.kind == "time":
        interval = value * unit.factor
    elif unit is not None and unit.kind == "frequency":
        interval = 1.0 / (value * unit.factor)
    elif unit is None and not tail and is_rate:
        interval = 1.0 / value if value >= 1.0 else None
    elif unit is None and not tail and factor is not None:
        interval = value * factor
    elif unit is None and not tail and value <= AMBIGUOUS_INTERVAL:
        interval = value
    return interval


def _indirect_interval(settings: Sequence[Setting], n_rows: int) -> StatedInterval | None:
    """Return the interval from points per second or division, or from the record's duration."""
    for setting, value, _, tail in _first_quantity(settings, _POINTS_PER):
        per = _POINTS_PER.fullmatch(setting.key)
        span = find_unit(per[1]) if per else None
        if value > 0 and not tail and span is not None and span.kind == "time":
            return StatedInterval(interval_s=span.factor / value, origin=_origin(setting))
        for other, time, unit, _ in _first_quantity(settings, _TIME_PER_DIV):
            if value > 0 and time > 0 and (unit is None or unit.kind == "time"):
                per_division = time * (unit.factor if unit else 1.0)
                return StatedInterval(interval_s=per_division / value, origin=f"{_origin(setting)}, {_origin(other)}")
    for setting, value, unit, _ in _first_quantity(settings, _DURATION):
        if value > 0 and unit is not None and unit.kind == "time" and n_rows >= 200:
            return StatedInterval(interval_s=value * unit.factor / n_rows, origin=_origin(setting))
    return None


def unit_by_division(settings: Sequence[Setting], span: float) -> str | None:
    """Return the only unit of time in which a record of that span fills 4 to 100 divisions; None if it is not one."""
    per_division = [t * (u.factor if u else 1.0) for _, t, u, _ in _first_quantity(settings, _TIME_PER_DIV)]
    fitting = [name for name, factor in UNIT_SECONDS.items() if _fits(span * factor, per_division)]
    return fitting[0] if per_division and len(fitting) == 1 else None


def stated_start(settings: Sequence[Setting]) -> float:
    """Return the time of the first sample that the settings state, in seconds; 0.0 if they state none."""
    factor = horizontal_unit(settings) or 1.0
    for _, value, unit, tail in _first_quantity(settings, _START):
        if unit is not None and unit.kind == "time":
            return value * unit.factor
        if unit is None and not tail:
            return value * factor
    return 0.0


def horizontal_unit(settings: Sequence[Setting]) -> float | None:
    """Return the factor to seconds of the horizontal unit that the settings state, None if they state none."""
    for setting in settings:
        if _HORIZONTAL_UNIT.fullmatch(setting.key):
            unit = find_unit(setting.value)
            if unit is not None and unit.kind == "time":
                return unit.factor
    return None


_FACTS = (
    ("averaging", r"averag\w*(?: n\w*)?|(?:n|no|number)?(?: of)? ?(?:averages|acqs|acquisitions)|avg"),
    ("bandwidth_limit", r"(?:\w+ )?band ?width(?: limit)?|(?:\w+ )?bw ?l\w*|bwl?"),
    ("probe_attenuation", r"(?:\w+ )?probe(?: atten\w*| ratio| factor)?|(?:\w+ )?attenuation|atten"),
    ("coupling", r"(?:\w+ )?coupling"),
    ("supply", r"(?:\w+ )?supply(?: v\w*)?|vdd|vcc|bias(?: voltage)?"),
    ("acquisition_mode", r"acq\w*(?: mode| type)|acquire(?: mode| type)?|sampl\w* mode|mode"),
    ("probe_point", r"probe point|measured at|test point|probed at"),
    ("filter", r"(?:\w+ )?filter(?: \w+)?"),
    ("vertical_scale", r"vertical scale|v(?:olts?)? ?(?:/|per) ?div\w*|vertical|y scale"),
    ("time_base", r"time ?base(?: scale)?|horizontal scale|time ?(?:/|per) ?div\w*"),
    ("trigger_level", r"trigger level"),
)


SETTING_NAMES = tuple(name for name, _ in _FACTS)
"""Names of the scope settings that are recorded with a result."""


def scope_facts(settings: Sequence[Setting]) -> Mapping[str, str]:
    """Return the scope settings that later steps ask for, under one set of keys; several channels joined by commas."""
    facts: dict[str, str] = {}
    for name, pattern in _FACTS:
        values = [
            f"{setting.value} {setting.unit if setting.unit not in setting.value else ''}".strip()
            for setting in settings
            if re.fullmatch(pattern, setting.key) and setting.value
        ]
        if values:
            facts[name] = ", ".join(dict.fromkeys(values))
    return facts
