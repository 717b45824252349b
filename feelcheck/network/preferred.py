"""Preferred values of resistors and capacitors."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from functools import cache
from importlib import resources

from feelcheck.model.parts import PreferredValue

__all__ = ["SERIES", "decade", "nearest_preferred", "preferred_between"]

SERIES = ("E3", "E6", "E12", "E24", "E48", "E96", "E192")


@cache
def decade(series: str) -> tuple[float, ...]:
    """Return the values of one decade, 1 <= value < 10.

    Parameters
    ----------
    series : str
        Name of the series, such as ``"E24"``.

    Raises
    ------
    ValueError
        If there is no such series.

    References
    ----------
    IEC 60063:2015, Preferred number series for resistors and capacitors.

    Examples
    --------
    >>> decade("E3")
    (1.0, 2.2, 4.7)
    """
    text = resources.files("feelcheck.network").joinpath("data/iec60063_e_series.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    values = sorted(float(row["value"]) for row in rows if row["series"] == series)
    if not values:
        raise ValueError(f"no series {series!r}; there are {', '.join(SERIES)}")
    unit = 10.0 ** math.floor(math.log10(values[0]))
    return tuple(value / unit for value in values)


def _around(value: float, series: str) -> Iterator[float]:
    exponent = math.floor(math.log10(value))
    for power in (exponent - 1, exponent, exponent + 1):
        for mantissa in decade(series):
            yield float(f"{mantissa}e{power}")


def nearest_preferred(value: float, series: str) -> float:
    """Return the preferred value nearest by ratio.

    Parameters
    ----------
    value : float
        Positive.
    series : str
        ``"E3"`` to ``"E192"``.

    Notes
    -----
    Nearest by ratio, not by difference: the two disagree only close to the middle of a gap.

    Examples
    --------
    >>> nearest_preferred(319.0, "E24"), nearest_preferred(5.1e-7, "E12")
    (330.0, 4.7e-07)
    """
    return min(_around(value, series), key=lambda candidate: abs(math.log(candidate / value)))


def preferred_between(low: float, high: float, value: float, series: str) -> tuple[PreferredValue, ...]:
    """Return the preferred values inside a range and the one nearest to `value`, in rising order.

    Parameters
    ----------
    low : float
        Lower end of the range.
    high : float
        Upper end of the range.
    value : float
        The value that is looked for, between the ends.
    series : str
        Name of the series, such as ``"E24"``.
    """
    nearest = nearest_preferred(value, series)
    span = {candidate for power in (low, math.sqrt(low * high), high) for candidate in _around(power, series)}
    found = sorted({candidate for candidate in span if low <= candidate <= high} | {nearest})
    return tuple(
        PreferredValue(value=found_value, series=series, ratio=found_value / value, nearest=found_value == nearest)
        for found_value in found
    )
