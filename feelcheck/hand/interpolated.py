"""Rows that a resampler made: straight pieces between knots."""

from __future__ import annotations

import numpy as np

from feelcheck.hand.fast_motion import Motion

__all__ = ["has_regular_knots", "is_interpolated"]


def is_interpolated(motions: list[Motion], min_speed: float, unit: float) -> bool:
    """Return whether fast motion runs in straight pieces of several reports, as linear interpolation makes it.

    Parameters
    ----------
    motions : list of Motion
        One axis, all parts.
    min_speed : float
        Steps per report from which motion counts as fast.
    unit : float
        Smallest difference that the log can write, in steps.
    """
    n_bends = n_straight = n_in_threes = 0
    sizes = []
    for motion in motions:
        speed = motion.speed()[1:-1]
        fast = speed >= min_speed
        if not np.any(fast):
            continue
        fast &= speed >= 0.3 * float(np.quantile(speed[fast], 0.9))
        bend = np.abs(np.diff(motion.codes, 2))
        bent = bend > 2.01 * unit
        n_bends += int(np.sum(fast & bent))
        n_straight += int(np.sum(fast & ~bent))
        n_in_threes += int(np.sum((fast & bent)[1:-1] & bent[:-2] & bent[2:]))
        sizes.append(bend[fast & bent])
    share = n_straight / max(n_bends + n_straight, 1)
    if n_bends < 20 or not 0.4 < share < 0.9 or n_in_threes > 0.05 * n_bends:
        return False
    return bool(np.median(np.concatenate(sizes)) >= 5 * unit)


def has_regular_knots(motion: Motion, min_speed: float) -> bool:
    """Return whether fast motion bends only at every n-th report, as interpolation at a whole ratio makes it.

    Parameters
    ----------
    motion : Motion
        One axis.
    min_speed : float
        Steps per report from which motion counts as fast.
    """
    speed = motion.speed()[1:-1]
    knots = np.flatnonzero((np.abs(np.diff(motion.codes, 2)) > 0.5) & (speed >= min_speed))
    if knots.size < 50:
        return False
    return any(np.bincount(knots % n).max() >= 0.95 * knots.size for n in range(2, 17))
