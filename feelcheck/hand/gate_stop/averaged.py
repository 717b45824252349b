"""Over how many reports the firmware averages, seen from the ripple that undoing a wrong average leaves."""

from __future__ import annotations

import numpy as np

from feelcheck.hand.gate_stop.even_flicks import EvenFlicks
from feelcheck.hand.gate_stop.numbers import (
    AGREED,
    FEWEST_SEEN,
    GIVE,
    LEAST_SEEN,
    LONGEST_AVERAGE,
    OF_THE_POLE,
    QUIETER,
)
from feelcheck.model import FloatArray
from feelcheck.numerics.numbers import BRIEF, LEAST_WIDTH
from feelcheck.numerics.unsmoothing import unsmoothed

__all__ = ["averaged_reports", "ripples"]

LOOKS = ((LEAST_WIDTH, LEAST_SEEN, 9), (7, 7, LONGEST_AVERAGE), (9, 10, LONGEST_AVERAGE))
"""Readings of a derivative, the longer the less noise covers the ripple, and the shortest and longest average that each
is asked for: one shorter than the derivative is imitated by it."""

MOST_LOOKED_AT = 24
"""Flicks: each makes it clearer whether they agree, and costs as much as the one before."""

NOTHING = 1e-6
"""Fractions of the reach: less is no ripple."""

SPARE = 8
"""Reports beyond an average, or two of them, over which its ripple is looked at."""


def ripples(flicks: EvenFlicks, tau_s: float, width: int, lengths: range) -> FloatArray:
    """Return what is left of the stick's motion at the rim when a pole and each average are undone.

    Parameters
    ----------
    flicks : EvenFlicks
        From `lay_evenly`.
    tau_s : float, s
        The pole.
    width : int
        Readings over which derivatives are taken; odd.
    lengths : range
        Averages, in reports.

    Returns
    -------
    ndarray, shape (n_lengths, n_flicks)
        Root mean square about a straight line, in fractions of the reach; NaN where a flick was not held long enough.
    """
    few = np.linspace(0, len(flicks.y) - 1, min(len(flicks.y), MOST_LOOKED_AT)).astype(int)
    toward = flicks.end[few] / flicks.reach[few, None] ** 2
    outward = np.einsum("fa,fan->fn", toward, flicks.y[few])
    moved = unsmoothed(outward, poles=(tau_s / flicks.interval_s,), width=width)[0]
    return np.array([_unsteady(moved, n, width) for n in lengths])


def _unsteady(moved: FloatArray, n: int, width: int) -> FloatArray:
    """Return the scatter of each flick about a straight line over two averages behind the stop, shape (n_flicks,)."""
    paths = unsmoothed(moved, n_average=n, width=1)[0]
    first = np.argmax(paths > 1.0 - GIVE, axis=1) + width + 2
    at = first[:, None] + np.arange(2 * n + SPARE)
    parts = np.take_along_axis(paths, np.minimum(at, paths.shape[1] - 1), axis=1)
    parts = parts - parts.mean(axis=1, keepdims=True)
    line = np.arange(at.shape[1]) - 0.5 * (at.shape[1] - 1)
    parts = parts - (parts @ line / (line @ line))[:, None] * line
    return np.where(at[:, -1] < paths.shape[1], parts.std(axis=1), np.nan)


def _agree(quieter: FloatArray) -> bool:
    """Tell whether the flicks agree, one by one, that a length leaves less than its neighbours, as logarithms."""
    told = quieter[np.isfinite(quieter)]
    if told.size < FEWEST_SEEN or np.median(told) < np.log(QUIETER):
        return False
    return bool(told.mean() > AGREED * told.std() / np.sqrt(told.size))


def averaged_reports(flicks: EvenFlicks, tau_s: float) -> int:
    """Return over how many reports the readings are averaged behind a pole; 1 where none is seen.

    Parameters
    ----------
    flicks : EvenFlicks
        From `lay_evenly`.
    tau_s : float, s
        The pole, as it fits alone.

    Notes
    -----
    An average over N reports is undone by r_k = r_(k - N) + N (y_k - y_(k - 1)), which repeats any misfit every N
    reports for ever. Only the right length, and its divisors, leave a stick at rest; a thumb that slows down by itself
    imitates the shape of an averaged stop but never that, since it would have to do so on one grid of reports in every
    flick. The longest length counts that leaves clearly less than its neighbours do, flick by flick.
    """
    pole = tau_s / flicks.interval_s
    seen = [1]
    for width, least, most in LOOKS:
        exactly = pole < BRIEF and width == LEAST_WIDTH
        left = np.maximum(ripples(flicks, tau_s, 1 if exactly else width, range(least - 1, most + 2)), NOTHING)
        quieter = np.log(np.minimum(left[:-2], left[2:]) / left[1:-1])
        seen += [least + k for k, told in enumerate(quieter) if least + k >= OF_THE_POLE * pole and _agree(told)]
    return max(seen)
