"""A simulated observer of known threshold: watches what is really played, and compares with noise of its own."""

from __future__ import annotations

import math

import numpy as np
from scipy import special

from feelcheck.model import PlayedStage, Slowness
from feelcheck.numerics.played_response import AddedResponse, PlayedAxis
from feelcheck.rehearsal.choices import Answer

__all__ = ["SimulatedObserver", "lag_seen"]

LAPSES = 0.01
"""Share of answers that the observer gives without looking."""
FLICK_S, HELD_S, WHOLE_S = 0.09, 0.16, 0.5


class SimulatedObserver:
    """Names the slower of two, as often as its threshold lets it.

    Parameters
    ----------
    threshold_s : float, s
        Difference in delay at which it is right in three of four trials, lapses apart.
    ways : {"both", "falling"}
        Which way it looks at.
    seed : int
        Seed of its noise.

    Notes
    -----
    It sees each interval's lag with normal noise; the standard deviation is such that the difference of two reaches
    d' = 0.954 at the threshold. One answer in a hundred is given without looking.
    """

    def __init__(self, threshold_s: float, ways: Slowness, seed: int) -> None:
        self.threshold_s, self.ways = threshold_s, ways
        self._rng = np.random.default_rng([seed, 1])
        self._noise_s = threshold_s / (math.sqrt(2) * float(special.ndtri(0.75)))
        self._seen: dict[AddedResponse, float] = {}

    def answer(self, pair: tuple[PlayedStage, PlayedStage]) -> Answer:
        """Return which of the two it takes for the slower one.

        Parameters
        ----------
        pair : (PlayedStage, PlayedStage)
            What was played first and second.
        """
        first, second = (self._lag(stage.x) + self._noise_s * self._rng.normal() for stage in pair)
        if self._rng.random() < LAPSES:
            return "first" if self._rng.random() < 0.5 else "second"
        return "first" if first > second else "second"

    def _lag(self, added: AddedResponse) -> float:
        if added not in self._seen:
            self._seen[added] = lag_seen(added, self.ways)
        return self._seen[added]


def lag_seen(added: AddedResponse, ways: Slowness, *, interval_s: float = 1e-3) -> float:
    """Return by how much an added response holds a flick back, s: the area between stick and output over the throw.

    Parameters
    ----------
    added : AddedResponse
        What is played.
    ways : {"both", "falling"}
        Mean of the way out and the way back of a flick towards rising codes, or the way back alone.
    interval_s : float, s
        Report interval of the simulated stick.

    Notes
    -----
    A minimum-jerk flick of 90 ms, held, and let go alike (Flash & Hogan 1985).

    Examples
    --------
    >>> round(lag_seen(AddedResponse(rising_poles_s=(0.008,), falling_poles_s=(0.012,)), "falling"), 4)
    0.012
    """
    played = PlayedAxis(added, interval_s=interval_s)
    out_s = back_s = 0.0
    for k in range(1, round(WHOLE_S / interval_s)):
        t_s = k * interval_s
        place = _covered(t_s / FLICK_S) - _covered((t_s - FLICK_S - HELD_S) / FLICK_S)
        played.take(t_s, place)
        behind = (place - played.at(t_s)) * interval_s
        if t_s < FLICK_S + HELD_S:
            out_s += behind
        else:
            back_s -= behind
    return back_s if ways == "falling" else (out_s + back_s) / 2


def _covered(u: float) -> float:
    u = min(1.0, max(0.0, u))
    return u**3 * (10.0 - 15.0 * u + 6.0 * u * u)
