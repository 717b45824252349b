"""One axis on its report grid, and where it moves fast."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.numbers import FAST_SPAN_S, LONGEST_SILENCE, MIN_STRETCH
from feelcheck.model import FloatArray

__all__ = ["Motion", "fast_stretches", "motion_on_reports", "two_sided_speed"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """One axis on its report grid.

    Parameters
    ----------
    codes : ndarray, shape (n,)
        Code at each report in units of the step, the last one repeated where a report brought nothing.
    seen : ndarray of bool, shape (n,)
        Whether a row stood for the report (always true where silence means "unchanged").
    interval_s : float
        Report interval.
    """

    codes: FloatArray
    seen: NDArray[np.bool_]
    interval_s: float

    def speed(self, reach_s: float = FAST_SPAN_S) -> FloatArray:
        """Return `two_sided_speed` over a reach given in time, at least two reports; shape (n,), steps per report.

        Parameters
        ----------
        reach_s : float, s
            Time on either side over which the speed is taken.
        """
        return two_sided_speed(self.codes, max(2, round(reach_s / self.interval_s)))


def motion_on_reports(t_s: FloatArray, codes: FloatArray, interval_s: float, *, silent: bool) -> list[Motion]:
    """Return an axis put on its report grid, split at long silences.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Report instants, non-decreasing.
    codes : ndarray, shape (n,)
        Codes in units of the step.
    interval_s : float
        Report interval.
    silent : bool
        True where an unchanged report has no row.
    """
    distance = np.rint(np.diff(t_s) / interval_s).astype(np.int64)
    cuts = np.flatnonzero(distance > LONGEST_SILENCE) + 1
    parts = []
    for first, last in zip(np.r_[0, cuts], np.r_[cuts, t_s.size], strict=True):
        index = np.r_[0, np.cumsum(distance[first : last - 1])]
        if index[-1] < 4 * MIN_STRETCH:
            continue
        source = np.searchsorted(index, np.arange(index[-1] + 1), side="right") - 1
        seen = np.ones(source.size, dtype=bool) if silent else np.diff(source, prepend=-1) > 0
        parts.append(Motion(codes=codes[first:last][source], seen=seen, interval_s=interval_s))
    return parts


def two_sided_speed(codes: FloatArray, reach: int) -> FloatArray:
    """Return the speed that holds on both sides of every report, 0 where the motion turns or stops within `reach`.

    Parameters
    ----------
    codes : ndarray, shape (n,)
        Codes in units of the step.
    reach : int
        Reports looked at on each side.

    Returns
    -------
    ndarray, shape (n,)
        The smaller of both mean speeds, steps per report, without sign.

    Examples
    --------
    >>> two_sided_speed(np.array([0.0, 2.0, 4.0, 6.0, 6.0]), 1).tolist()
    [0.0, 2.0, 2.0, 0.0, 0.0]
    """
    speed = np.zeros(codes.size)
    if codes.size > 2 * reach:
        ahead, behind = codes[2 * reach :] - codes[reach:-reach], codes[reach:-reach] - codes[: -2 * reach]
        smaller = np.minimum(np.abs(ahead), np.abs(behind)) / reach
        speed[reach:-reach] = np.where(ahead * behind > 0, smaller, 0.0)
    return speed


def fast_stretches(speed: FloatArray, min_speed: float) -> list[tuple[int, int]]:
    """Return the half-open index ranges of five reports or more in which the speed is reached.

    Parameters
    ----------
    speed : ndarray, shape (n,)
        Speed at each report, full throws a second.
    min_speed : float
        The speed to be reached, full throws a second.
    """
    edges = np.flatnonzero(np.diff(np.r_[0, (speed >= min_speed).astype(np.int8), 0]))
    pairs = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    return [(a, b) for a, b in pairs if b - a >= MIN_STRETCH]
