"""Whether captures that were named together are repeats of one another, or show different things."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from feelcheck.comparison.numbers import LIKE_FRACTION, LIKE_S, REPEATS_LEVEL
from feelcheck.model import BenchResult, Estimate
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.numerics.uncertainty import coverage_interval

__all__ = ["Disagreement", "disagreements"]

DIRECTIONAL = ("smoothing_delay", "time_constant")


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """A quantity in which two captures differ by more than repeats do.

    Parameters
    ----------
    quantity, direction : str
        What differs; direction is empty where there is none.
    first, second : int
        Which captures, counted from 0.
    values : tuple of Estimate
        Their two values.
    """

    quantity: str
    direction: str
    first: int
    second: int
    values: tuple[Estimate, Estimate]


def disagreements(results: Sequence[BenchResult]) -> tuple[Disagreement, ...]:
    """Return every quantity in which a pair of captures differs by more than repeats do.

    Parameters
    ----------
    results : sequence of BenchResult
        Captures that are meant as repeats.

    Returns
    -------
    tuple of Disagreement
        Empty for repeats. A direction that only one capture holds is no disagreement.

    Notes
    -----
    Two values disagree where their 99.9 % intervals are apart by more than 5 % of the larger value and, for a time, by
    more than 0.05 ms. A bound disagrees with a value that lies beyond it by as much.
    """
    return tuple(
        Disagreement(quantity=name, direction=direction, first=i, second=k, values=(mine, theirs))
        for (i, first), (k, second) in combinations(enumerate(results), 2)
        for name, direction, mine, theirs in _pairs(first, second)
        if _apart(mine, theirs)
    )


def _pairs(first: BenchResult, second: BenchResult) -> Iterator[tuple[str, str, Estimate, Estimate]]:
    for direction in DIRECTIONS:
        mine, theirs = getattr(first, direction), getattr(second, direction)
        if mine is not None and theirs is not None:
            for name in DIRECTIONAL:
                yield name, direction, getattr(mine, name), getattr(theirs, name)
    for name in ("swing", "update_interval"):
        yield name, "", getattr(first, name), getattr(second, name)


def _apart(first: Estimate, second: Estimate) -> bool:
    if first.unit != second.unit:
        return False
    (low_1, high_1), (low_2, high_2) = _ends(first), _ends(second)
    gap = max(low_1 - high_2, low_2 - high_1)
    size = max(abs(end) for end in (low_1, high_1, low_2, high_2, 0.0) if math.isfinite(end))
    return gap > max(LIKE_FRACTION * size, LIKE_S if first.unit == "s" else 0.0)


def _ends(estimate: Estimate) -> tuple[float, float]:
    low, high = coverage_interval(estimate, REPEATS_LEVEL)
    return -math.inf if low is None else low, math.inf if high is None else high
