"""Durations, noise and ratios are positive, and so are their intervals."""

from __future__ import annotations

from dataclasses import fields, replace
from types import MappingProxyType
from typing import Any, TypeVar

from feelcheck.model import BenchDirection, BenchResult, Estimate
from feelcheck.numerics.uncertainty import coverage_interval

__all__ = ["kept_positive", "positive"]

SIGNED = frozenset(("level_before", "level_after", "area_delay", "sensitivity", "linear_low", "linear_high",
                    "saturation_low", "saturation_high", "part_at_once"))  # fmt: skip
"""Quantities that may be negative: levels, volts per unit of drive, a part at once of the other sign, and an area that
noise alone can turn."""

Part = TypeVar("Part", BenchDirection, BenchResult)


def positive(estimate: Estimate) -> Estimate:
    """Return a quantity that cannot be negative with its interval on the logarithmic scale where it would reach 0.

    Parameters
    ----------
    estimate : Estimate
        Any status; others than ok come back as they are.

    Examples
    --------
    >>> coverage_interval(positive(Estimate.measured("noise", 1.0, u=1.0, unit="V")))[0] > 0
    True
    """
    low, _ = coverage_interval(estimate)
    if estimate.quantity in SIGNED or not estimate.is_ok or estimate.value is None or low is None:
        return estimate
    return replace(estimate, scale="log") if low <= 0 < estimate.value else estimate


def kept_positive(result: BenchResult) -> BenchResult:
    """Return a result in which no interval of a positive quantity reaches 0 or beyond.

    Parameters
    ----------
    result : BenchResult
        What was measured of the capture.
    """
    whole = _each(result)
    sides: dict[str, Any] = {name: _each(side) for name, side in whole.sides.items()}
    return replace(whole, **sides)


def _each(part: Part) -> Part:
    values = {field.name: getattr(part, field.name) for field in fields(part)}
    changed: dict[str, object] = {
        name: positive(value) for name, value in values.items() if isinstance(value, Estimate)
    }
    changed["extra"] = MappingProxyType({name: positive(value) for name, value in part.extra.items()})
    if isinstance(part, BenchDirection):
        changed["poles"] = tuple(map(positive, part.poles))
    return replace(part, **changed)  # type: ignore[arg-type]
