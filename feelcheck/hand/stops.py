"""What the sharpest stops say about smoothing: an upper bound of a time constant, the longest moving average."""

from __future__ import annotations

import math

import numpy as np

from feelcheck.hand.fast_motion import Motion, fast_stretches
from feelcheck.hand.numbers import CLOSE_STEPS, LONGEST_FALL, PAST_END, STOP_S
from feelcheck.model import FloatArray

__all__ = ["longest_average", "smoothing_limit"]


def smoothing_limit(motions: list[Motion], min_speed: float) -> float:
    """Return an upper bound of the smoothing time constant in reports, infinite where no stop shows one.

    Parameters
    ----------
    motions : list of Motion
        One axis, all parts.
    min_speed : float
        Steps per report from which motion counts as fast.

    Notes
    -----
    Behind one pole the distance to the final value cannot shrink faster than exp(-t / tau), however hard the stop.
    Stops that swing past their end say nothing and are left out.
    """
    rates = []
    for motion in motions:
        ahead = max(4, round(STOP_S / motion.interval_s))
        speed = motion.speed()
        for a, b in fast_stretches(speed, min_speed):
            x = motion.codes[a : b + ahead]
            distance = (x - x[-1]) * np.sign(x[0] - x[-1])
            near = distance[: int(np.argmax(distance <= CLOSE_STEPS))]
            if near.size > 2 and np.min(distance) > -PAST_END:
                rates.append(float(np.max(np.log(near[:-1] / near[1:]))))
    fastest = float(np.quantile(rates, 0.75)) if len(rates) >= 3 else 0.0
    return 1 / fastest if fastest > 1e-3 else math.inf


def longest_average(motions: list[Motion], min_speed: float) -> float | None:
    """Return the longest moving average, in reports, that the sharpest stops leave room for; None where none is seen.

    Parameters
    ----------
    motions : list of Motion
        One axis, all parts.
    min_speed : float
        Steps per report from which motion counts as fast.

    Notes
    -----
    An average lets the speed fall evenly to nothing, one pole ever more slowly: a stop that spends longer between 40
    and 15 % of its speed than between 75 and 40 % shows a pole, and 1 is returned.
    """
    falls = []
    for motion in motions:
        pace = np.abs(np.diff(motion.codes, append=motion.codes[-1:]))
        speed = motion.speed()
        for a, b in fast_stretches(speed, max(min_speed, 6.0)):
            before = pace[max(a, b - LONGEST_FALL) : b]
            level = float(np.quantile(before, 0.75))
            full = b - 1 - int(np.argmax(before[::-1] >= level))
            after = pace[full : b + LONGEST_FALL] / level
            passed = [_first_below(after, share) for share in (0.75, 0.4, 0.15)]
            if passed[-1] is not None:
                falls.append(np.diff(np.array(passed, dtype=np.float64)))
    if len(falls) < 4:
        return None
    early, late = np.quantile(np.array(falls), 0.25, axis=0)
    return 1.0 if late > early else float((early + late) / 0.6)


def _first_below(values: FloatArray, share: float) -> float | None:
    """Return where a falling series first passes a share, by a straight line between neighbours."""
    index = int(np.argmax(values < share))
    if values.size == 0 or not values[index] < share:
        return None
    if index == 0:
        return 0.0
    return index - 1 + float((values[index - 1] - share) / (values[index - 1] - values[index]))
