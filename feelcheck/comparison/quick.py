"""Two sessions of one stick, held against each other at once: what changed between them, and nothing about parts."""

from __future__ import annotations

from feelcheck.comparison.samples import refuse_unlike
from feelcheck.model import Estimate, HandRecord, QuickChange, Status
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.numerics.uncertainty import coverage_interval, difference_of

__all__ = ["quick_changes"]

_QUANTITY = "smoothing_delay"


def quick_changes(before: HandRecord, now: HandRecord) -> tuple[QuickChange, ...]:
    """Return how the smoothing of each axis and direction differs between two sessions.

    Parameters
    ----------
    before : HandRecord
        The earlier session.
    now : HandRecord
        The later one.

    Notes
    -----
    The intervals speak of these two sessions: how much two sessions of an unchanged stick differ is not in them, so
    that no verdict is given. Where one side is a bound, the difference is a bound if the intervals are apart.

    Raises
    ------
    NotComparableError
        If the sessions are unlike.
    """
    refuse_unlike([before], [now])
    changes = []
    for axis in before.axes:
        for direction in DIRECTIONS:
            sides = [record.axes.get(axis, {}).get(direction, {}).get(_QUANTITY) for record in (before, now)]
            if sides[0] is None or sides[1] is None or all(side is None or _silent(side) for side in sides):
                continue
            changes.append(
                QuickChange(
                    axis=axis,
                    direction=direction,
                    before=sides[0],
                    now=sides[1],
                    difference=_difference(sides[1], sides[0]),
                )
            )
    return tuple(changes)


def _silent(side: Estimate) -> bool:
    return side.status in (Status.NOT_RESOLVED, Status.NOT_PRESENT)


def _difference(now: Estimate, before: Estimate) -> Estimate:
    difference = difference_of(now, before, quantity="difference")
    if difference.is_ok or _silent(now) or _silent(before):
        return difference
    low_now, high_now = coverage_interval(now)
    low_before, high_before = coverage_interval(before)
    if high_now is not None and low_before is not None and high_now < low_before:
        return Estimate.at_most("difference", high_now - low_before, unit=now.unit, n=min(now.n, before.n))
    if low_now is not None and high_before is not None and low_now > high_before:
        return Estimate.at_least("difference", low_now - high_before, unit=now.unit, n=min(now.n, before.n))
    return difference
