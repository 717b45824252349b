"""Strokes of one axis: stretches in which it goes one way, from where play is taken up to its stop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.hand.lag.numbers import (
    LEAST_END_FS,
    LEAST_ROWS,
    LEAST_SPEED_FS_PER_S,
    LEAST_STROKE_FS,
    SHARE_OF_PEAK,
    STOPPED_SHARE,
    STROKE_ENDS_S,
    STROKE_SLOPE_S,
    TURN_FS,
)
from feelcheck.hand.lag.pair import AxisPair
from feelcheck.model import FloatArray
from feelcheck.numerics.filters import median_of_three

__all__ = ["Stroke", "find_strokes", "turning_points"]

STILL_S, STILL_FS = 0.06, 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One stroke.

    Parameters
    ----------
    first, last : int
        Half-open range of report slots.
    sign : int
        +1 where the first stick's code rises.
    speed_fs_per_s : float
        Mean speed over the middle half of the travel.
    """

    first: int
    last: int
    sign: int
    speed_fs_per_s: float


def turning_points(values: FloatArray, threshold: float) -> list[int]:
    """Return the indices of the extremes between which values move by at least a threshold, ends included.

    Parameters
    ----------
    values : ndarray, shape (n,)
        A path, any unit.
    threshold : float
        Least way between two extremes, same unit.

    Examples
    --------
    >>> turning_points(np.array([0.0, 1.0, 0.9, 2.0, 0.5]), 0.5)
    [0, 3, 4]
    """
    points, high, low, heading = [0], 0, 0, 0
    for k, value in enumerate(values.tolist()):
        if value > values[high]:
            high = k
        if value < values[low]:
            low = k
        if heading >= 0 and values[high] - value >= threshold:
            points += [high] if high else []
            low, heading = k, -1
            high = k
        elif heading <= 0 and value - values[low] >= threshold:
            points += [low] if low else []
            high, heading = k, 1
            low = k
    end = high if heading > 0 else low
    return points if end == points[-1] else [*points, end]


def find_strokes(pair: AxisPair, take_up_fs: float) -> list[Stroke]:
    """Return the strokes of the first stick.

    Parameters
    ----------
    pair : AxisPair
        Both sticks.
    take_up_fs : float
        How far a stroke must have gone before it counts: the linkage's play must be taken up.

    Notes
    -----
    A stroke that ends near the centre may be a spring's return whose ringing the smoothing hides; the play would be
    passed several times unseen. Such strokes are left out, and so are those that turn back instead of stopping: where a
    spring swings the sticks through the centre, the play is passed on the way.
    """
    smooth = median_of_three(pair.a)
    half = max(1, round(STROKE_SLOPE_S / pair.interval_s / 2))
    slope = np.zeros_like(smooth)
    slope[half:-half] = (smooth[2 * half :] - smooth[: -2 * half]) / (2 * half * pair.interval_s)
    points = turning_points(smooth, TURN_FS)
    ends = [*points[1:], smooth.size - 1]
    found = [_stroke(pair, smooth, slope, (begin, end), take_up_fs) for begin, end in zip(points, ends, strict=True)]
    return [stroke for stroke in found if stroke is not None]


def _last_still(smooth: FloatArray, span: tuple[int, int], n_still: int) -> int:
    """Return where the last pause on the way begins, the span's own begin without one.

    A release and the next flick the other way go the same way; the stick rests between them.
    """
    begin, end = span
    gone = np.abs(smooth[begin : end + 1] - smooth[begin])
    n = gone.size - n_still
    if n <= 0:
        return begin
    still = (np.abs(gone[n_still:] - gone[:n]) < STILL_FS) & (gone[:n] < gone[-1] - LEAST_STROKE_FS)
    pauses = np.flatnonzero(still)
    return begin + int(pauses[-1]) if pauses.size else begin


def _held_until(smooth: FloatArray, end: int) -> int:
    """Return the last index at which the stick is still at the end of its way.

    A code that stands still has its extreme where the stick came there, with the slow end of a response still to come.
    """
    left = np.abs(smooth[end:] - smooth[end]) >= STILL_FS
    return end + (int(np.argmax(left)) if left.any() else left.size) - 1


def _stroke(
    pair: AxisPair, smooth: FloatArray, slope: FloatArray, span: tuple[int, int], take_up_fs: float
) -> Stroke | None:
    end = span[1]
    begin = _last_still(smooth, span, round(STILL_S / pair.interval_s))
    travel = smooth[end] - smooth[begin]
    sign = 1 if travel > 0 else -1
    if abs(travel) < max(LEAST_STROKE_FS, 2 * take_up_fs) or end - begin < 4 or abs(smooth[end]) < LEAST_END_FS:
        return None
    gone = sign * (smooth[begin : end + 1] - smooth[begin])
    first = begin + int(np.argmax(gone > take_up_fs))
    speed = sign * slope[begin : end + 1]
    fast = np.flatnonzero(speed > SHARE_OF_PEAK * speed.max())
    last = min(begin + int(fast[-1]) + round(STROKE_ENDS_S / pair.interval_s), _held_until(smooth, end))
    # the ends of a stroke are the hand's: its speed is that of the middle half
    quarter, most = (int(np.argmax(gone > share * abs(travel))) for share in (0.25, 0.75))
    mean = 0.5 * abs(travel) / max((most - quarter) * pair.interval_s, pair.interval_s)
    if mean < LEAST_SPEED_FS_PER_S or np.count_nonzero(pair.real[first:last]) < LEAST_ROWS:
        return None
    if np.ptp(smooth[last - max(3, (last - first) // 6) : last]) > STOPPED_SHARE * abs(travel):
        return None
    return Stroke(first=first, last=last, sign=sign, speed_fs_per_s=float(mean))
