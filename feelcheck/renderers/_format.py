"""Numbers in words: digits led by the uncertainty, statuses said plainly, seconds shown as milliseconds."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from feelcheck.model import Estimate, Provenance, Status
from feelcheck.numerics.uncertainty import coverage_interval

__all__ = [
    "Shown",
    "decimals_for",
    "format_bound",
    "format_brief",
    "format_difference",
    "format_estimate",
    "format_interval",
    "format_number",
    "format_object",
    "format_plain",
    "model_words",
    "name_and_state",
    "name_of",
    "shown",
    "title_of",
]

_DISPLAY = {"s": ("ms", 1e3)}
_WORDS = {Status.NOT_RESOLVED: "not resolved", Status.NOT_PRESENT: "none seen"}
_IN_WORDS = {"fraction": ("%", 1e2), "ratio": ("", 1.0)}
_MODELS = {
    "none": "no smoothing seen",
    "two_pole": "two poles",
    "average": "moving average",
    "pole_average": "pole and average",
    "recursive": "recursive filter",
    "pole_recursive": "pole and recursive filter",
    "not_resolved": "",
}
MOST_DIGITS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """An estimate in display units: ms instead of s; ends of the 95 % interval, unknown ones None."""

    value: float | None
    low: float | None
    high: float | None
    u: float | None
    unit: str


def shown(estimate: Estimate, *, in_words: bool = False) -> Shown:
    """Return the estimate in display units; in words fractions become per cent.

    Examples
    --------
    >>> shown(Estimate.measured("time_constant", 0.010, u=0.0, unit="s")).value
    10.0
    """
    units = {**_DISPLAY, **_IN_WORDS} if in_words else _DISPLAY
    unit, factor = units.get(estimate.unit, (estimate.unit, 1.0))
    low, high = coverage_interval(estimate)

    def scaled(number: float | None) -> float | None:
        return None if number is None else number * factor

    return Shown(value=scaled(estimate.value), low=scaled(low), high=scaled(high), u=scaled(estimate.u), unit=unit)


def decimals_for(u: float, value: float) -> int:
    """Return how many decimals a value deserves: two significant digits of its standard uncertainty.

    Never more than six significant digits of the value; without an uncertainty (u = 0) four.

    Examples
    --------
    >>> decimals_for(0.023, 10.1), decimals_for(3.1, 120.0), decimals_for(0.0, 2.5)
    (3, 1, 3)
    """
    magnitude = math.floor(math.log10(abs(value))) if value else 0
    if u > 0:
        by_value = MOST_DIGITS - 1 - magnitude if value else math.inf
        return max(0, int(min(1 - math.floor(math.log10(u)), by_value)))
    return max(0, 3 - magnitude) if value else 0


def format_number(value: float, decimals: int) -> str:
    """Return a number with that many decimals, huge and tiny ones in powers of ten; never ``-0``."""
    if value and (abs(value) >= 1e7 or (decimals > 7 and abs(value) < 1e-4)):
        return f"{value:.3g}"
    text = f"{value:.{min(decimals, 9)}f}"
    return text.lstrip("-") if float(text) == 0 else text


def format_plain(number: float, unit: str, *, n_digits: int = 3) -> str:
    """Return a number without uncertainty, such as a margin, in its display unit: ``"0.5 ms"``.

    Parameters
    ----------
    number : float
        In `unit`.
    unit : str
        As inside; seconds become milliseconds.
    n_digits : int
        Significant digits.

    Examples
    --------
    >>> format_plain(0.001, "s"), format_plain(0.05, "fraction"), format_plain(2.0, "ratio")
    ('1 ms', '5 %', '2')
    """
    view = shown(Estimate.measured("number", number, u=0.0, unit=unit), in_words=True)
    return f"{view.value:.{n_digits}g} {view.unit}".strip()


def format_interval(estimate: Estimate) -> str:
    """Return the 95 % interval in words: ``"9.8 to 10.4"``; empty where there is none."""
    view = shown(estimate, in_words=True)
    if view.value is None or view.u is None or view.low is None or view.high is None or view.u == 0:
        return ""
    decimals = decimals_for(view.u, view.value)
    return f"{format_number(view.low, decimals)} to {format_number(view.high, decimals)}"


def format_estimate(estimate: Estimate, *, interval: bool = True) -> str:
    """Return an estimate in words.

    Examples
    --------
    >>> format_estimate(Estimate.measured("time_constant", 0.0101, u=0.00015, unit="s"))
    '10.10 ms (9.81 to 10.39)'
    >>> format_estimate(Estimate.at_most("time_constant", 0.0012, unit="s"))
    'at most 1.20 ms'
    >>> format_estimate(Estimate.at_most("rest_noise", 105.2, unit="counts"))
    'at most 105 counts'
    >>> format_estimate(Estimate.not_resolved("time_constant", unit="s"))
    'not resolved'
    """
    view = shown(estimate, in_words=True)
    unit = f" {view.unit}" if view.unit else ""
    if view.value is None:
        return _without_value(view, estimate.status)
    text = f"{format_number(view.value, decimals_for(view.u or 0.0, view.value))}{unit}"
    ends = format_interval(estimate) if interval else ""
    return f"{text} ({ends})" if ends else text


def format_brief(estimate: Estimate, *, n_digits: int = 4, interval: bool = True) -> str:
    """Return an estimate in as few digits as a figure or a sentence needs: at most `n_digits` significant ones.

    Examples
    --------
    >>> format_brief(Estimate.measured("report_interval", 1.00000023e-3, u=2e-9, unit="s"))
    '1.000 ms'
    >>> format_brief(Estimate.measured("smoothing_delay", 0.0101, u=0.0004, unit="s"))
    '10.10 ms (9.32 to 10.88)'
    """
    view = shown(estimate, in_words=True)
    if view.value is None or view.u is None:
        return format_estimate(estimate)
    most = max(0, n_digits - 1 - math.floor(math.log10(abs(view.value)))) if view.value else n_digits
    decimals = min(decimals_for(view.u, view.value), most)
    return _with_ends(view if interval else replace(view, u=0.0), view.value, decimals)


def format_bound(estimate: Estimate) -> str:
    """Return a limit without the words that say on which side it is.

    Examples
    --------
    >>> format_bound(Estimate.at_most("smoothing_delay", 0.0012, unit="s"))
    '1.20 ms'
    """
    return format_brief(estimate).removeprefix("at most ").removeprefix("at least ")


def format_difference(difference: Estimate, margin: float) -> str:
    """Return a difference with no digit finer than a thousandth of the margin (in the difference's own unit).

    Examples
    --------
    >>> step = Estimate.measured("difference", -0.000016, u=0.000017, unit="counts")
    >>> format_difference(step, 2.12), format_difference(step, 0.0002)
    ('0.000 counts', '-0.000016 counts (-0.000049 to 0.000017)')
    """
    view = shown(difference, in_words=True)
    width = shown(Estimate.measured("margin", margin, u=0.0, unit=difference.unit), in_words=True).value
    if view.value is None or view.u is None or not width:
        return format_brief(difference)
    finest = max(0, 3 - math.floor(math.log10(width)))
    return _with_ends(view, view.value, min(decimals_for(view.u, view.value), finest))


def _with_ends(view: Shown, value: float, decimals: int) -> str:
    """The value in that many decimals, with the ends of its interval where they differ from it."""
    low, high = (format_number(end if end is not None else value, decimals) for end in (view.low, view.high))
    middle = format_number(value, decimals)
    text = f"{middle} {view.unit}".strip()
    return text if view.u == 0 or low == high == middle else f"{text} ({low} to {high})"


def format_object(estimate: Mapping[str, Any]) -> str:
    """Return an estimate of a JSON document in words.

    Examples
    --------
    >>> format_object({"value": 9.1, "low": 8.9, "high": 9.3, "u": 0.1, "unit": "ms", "status": "ok"})
    '9.10 ms (8.90 to 9.30)'
    >>> format_object({"value": None, "low": None, "high": 1.2, "u": None, "unit": "ms", "status": "at_most"})
    'at most 1.20 ms'
    """
    unit, factor = _IN_WORDS.get(estimate["unit"], (estimate["unit"], 1.0))
    value, low, high, u = (None if estimate[k] is None else estimate[k] * factor for k in ("value", "low", "high", "u"))
    view = Shown(value=value, low=low, high=high, u=u, unit=unit)
    if value is None:
        return _without_value(view, Status(estimate["status"]))
    return _with_ends(view, value, decimals_for(u or 0.0, value))


def _without_value(view: Shown, status: Status) -> str:
    """What is said where there is no value: the bound, or the status."""
    if status in _WORDS:
        return _WORDS[status]
    word, bound = ("at most", view.high) if status is Status.AT_MOST else ("at least", view.low)
    return f"{word} {f'{float(bound or 0.0):#.3g}'.rstrip('.')} {view.unit}".rstrip()


def name_of(provenance: Provenance, otherwise: str) -> str:
    """Return what a recording or capture is called: its specimen, else its file, without the folders above it."""
    return provenance.specimen or Path(provenance.path).name or otherwise


def name_and_state(provenance: Provenance, otherwise: str) -> str:
    """Return what a recording or capture is called, and in which state it was made."""
    return ", ".join(filter(None, (name_of(provenance, otherwise), provenance.state.replace("_", " "))))


def title_of(provenance: Provenance, otherwise: str) -> str:
    """Return the heading of a picture: name, state, and whether it was simulated."""
    return name_and_state(provenance, otherwise) + (", simulated" if provenance.simulated else "")


def model_words(model: str) -> str:
    """Return what a fitted response is called, on the bench and in the hand alike; empty where none was told.

    Examples
    --------
    >>> model_words("pole_average"), model_words("second_order")
    ('pole and average', 'second order')
    """
    return _MODELS.get(model, model.replace("_", " "))
