"""State levels, reference-level instants, overshoot and settling of one transition (IEEE Std 181 vocabulary)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.errors import NotEnoughDataError
from feelcheck.model import FloatArray

__all__ = ["Transition", "crossing_instants", "transition"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Transition:
    """Reference-level instants of one transition, in the unit of the time axis.

    Parameters
    ----------
    t10, t50, t90 : float
        Instants at 10, 50 and 90 % of the way from the first to the last state, whichever way it goes.
    rising : bool
        Whether the last state is the higher one.
    """

    t10: float
    t50: float
    t90: float
    rising: bool

    @property
    def duration(self) -> float:
        """The transition duration: from the 10 % to the 90 % instant."""
        return self.t90 - self.t10


def crossing_instants(t: FloatArray, y: FloatArray, level: float) -> FloatArray:
    """Return every instant at which the line through the samples crosses the level, shape (k,), unit of t.

    Parameters
    ----------
    t : ndarray, shape (n,)
        Instants, increasing, any unit.
    y : ndarray, shape (n,)
        Samples, any unit.
    level : float
        The level, unit of y.

    Examples
    --------
    >>> crossing_instants(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 0.0]), 0.25).tolist()
    [0.25, 1.75]
    """
    above = np.asarray(y) >= level
    k = np.flatnonzero(above[1:] != above[:-1])
    return np.asarray(t[k] + (level - y[k]) / (y[k + 1] - y[k]) * (t[k + 1] - t[k]), dtype=np.float64)


def transition(t: FloatArray, y: FloatArray, first: float, last: float) -> Transition:
    """Return the 10, 50 and 90 % instants of the way from the state `first` to the state `last`.

    The 50 % instant is the first crossing; the 10 % instant is the last one before it, the 90 % instant the first one
    after it.

    Parameters
    ----------
    t : ndarray, shape (n,)
        Instants, increasing, any unit.
    y : ndarray, shape (n,)
        Samples, any unit.
    first : float
        State before, unit of y.
    last : float
        State after, unit of y.

    Raises
    ------
    NotEnoughDataError
        If one of the three levels is not crossed inside the window.

    Examples
    --------
    >>> ramp = np.linspace(0.0, 1.0, 11)
    >>> round(transition(ramp, ramp, 0.0, 1.0).duration, 12)
    0.8
    """
    way = (np.asarray(y, dtype=np.float64) - first) / (last - first)
    at10, at50, at90 = (crossing_instants(t, way, level) for level in (0.1, 0.5, 0.9))
    if at50.size:
        t50 = float(at50[0])
        before, after = at10[at10 <= t50], at90[at90 >= t50]
        if before.size and after.size:
            return Transition(t10=float(before[-1]), t50=t50, t90=float(after[0]), rising=last > first)
    raise NotEnoughDataError(
        "A transition needs its 10, 50 and 90 % levels inside the window.",
        {"first": first, "last": last, "reached": (float(np.min(way)), float(np.max(way)))},
        "Record a longer window, or one that begins before the edge.",
    )
