"""Where the next trial is placed: transformed staircases and a Bayesian placement that looks one trial ahead."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cache
from typing import Protocol

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.psychometrics.numbers import (
    COARSE_REVERSALS,
    EASY_EVERY,
    FIRST_STEP,
    LAST_STEP,
    LEAST_S,
    MOST_S,
    START_S,
)
from feelcheck.psychometrics.threshold import Levels, Likelihood, lag_likelihood, levels_of

__all__ = ["AdaptivePlacement", "Placement", "Staircase", "placement_named"]

N_CANDIDATES = 33


class Placement(Protocol):
    """Says which delay to show next, and takes the answer."""

    answers: list[tuple[float, bool]]

    def next_s(self) -> float:
        """Return the added delay of the next trial, s."""

    def take(self, level_s: float, right: bool) -> None:
        """Take one answer.

        Parameters
        ----------
        level_s : float, s
            The added delay that was shown.
        right : bool
            Whether the answer was correct.
        """


@dataclass(slots=True, kw_only=True)
class Staircase:
    """A transformed staircase on a logarithmic scale: n correct in a row make it harder, one wrong makes it easier.

    Parameters
    ----------
    n_down : int
        Correct answers in a row for a step down.
    start_s, least_s, most_s : float, s
        Where it begins and between which delays it stays.
    first_step, last_step : float
        Factors of a step before and after the second reversal.

    Notes
    -----
    It settles where p^n = 1/2: 70.7 % correct for two down, 79.4 % for three. Reversals are correlated, so the
    threshold and its interval come from the fit of all trials, never from their spread.

    References
    ----------
    Levitt, H. (1971), Journal of the Acoustical Society of America 49, 467-477.
    """

    n_down: int = 2
    start_s: float = START_S
    least_s: float = LEAST_S
    most_s: float = MOST_S
    first_step: float = FIRST_STEP
    last_step: float = LAST_STEP
    answers: list[tuple[float, bool]] = field(default_factory=list)
    reversals_s: list[float] = field(default_factory=list)
    _level_s: float = 0.0
    _in_a_row: int = 0
    _last_way: int = 0

    def next_s(self) -> float:
        """Return the added delay of the next trial, s."""
        return self._level_s or self.start_s

    def take(self, level_s: float, right: bool) -> None:
        """Take one answer."""
        self.answers.append((level_s, right))
        self._in_a_row = self._in_a_row + 1 if right else 0
        if right and self._in_a_row < self.n_down:
            self._level_s = level_s
            return
        way = -1 if right else 1
        self._in_a_row = 0
        if self._last_way == -way:
            self.reversals_s.append(level_s)
        self._last_way = way
        step = self.first_step if len(self.reversals_s) < COARSE_REVERSALS else self.last_step
        self._level_s = min(self.most_s, max(self.least_s, level_s * step**way))


@dataclass(slots=True, kw_only=True)
class AdaptivePlacement:
    """Bayesian placement: the delay after whose answer the threshold will be known best on average.

    Parameters
    ----------
    least_s, most_s : float, s
        Between which delays it stays.

    Notes
    -----
    The posterior over threshold, shape and lapses is kept on a coarse grid; of 33 delays the one with the least
    expected entropy of the threshold's own posterior is shown. Every twelfth trial is an easy one.

    References
    ----------
    Kontsevich, L. L. and Tyler, C. W. (1999), Vision Research 39, 2729-2737.
    """

    least_s: float = LEAST_S
    most_s: float = MOST_S
    answers: list[tuple[float, bool]] = field(default_factory=list)

    def next_s(self) -> float:
        """Return the added delay of the next trial, s."""
        candidates, chances = _candidates(self.least_s, self.most_s)
        if len(self.answers) % EASY_EVERY == EASY_EVERY - 1:
            return float(min(self.most_s, 3.0 * _middle(self.answers)))
        weight = _posterior(levels_of(self.answers), _coarse())
        return float(candidates[int(np.argmin(_expected_entropy(weight, chances)))])

    def take(self, level_s: float, right: bool) -> None:
        """Take one answer."""
        self.answers.append((level_s, right))


@cache
def _coarse() -> Likelihood:
    return lag_likelihood(61, 8)


@cache
def _candidates(least_s: float, most_s: float) -> tuple[FloatArray, FloatArray]:
    levels = np.geomspace(least_s, most_s, N_CANDIDATES)
    return levels, _coarse().correct(levels)


def _posterior(seen: Levels, grid: Likelihood) -> FloatArray:
    height = grid.of(seen)
    weight = np.exp(height - height.max())
    return np.asarray(weight / weight.sum())


def _middle(answers: list[tuple[float, bool]]) -> float:
    weight = _posterior(levels_of(answers), _coarse()).sum(axis=(1, 2))
    return math.exp(float(np.dot(weight, np.log(_coarse().thresholds))))


def _expected_entropy(weight: FloatArray, chances: FloatArray) -> FloatArray:
    """Return the expected entropy of the threshold after one more trial at each candidate, shape (candidates,)."""
    right = np.einsum("abc,kabc->ka", weight, chances)
    wrong = weight.sum(axis=(1, 2))[None, :] - right
    return np.asarray(_entropy_times_chance(right) + _entropy_times_chance(wrong))


def _entropy_times_chance(joint: FloatArray) -> FloatArray:
    chance = joint.sum(axis=1)
    return np.asarray(chance * np.log(chance) - np.sum(joint * np.log(np.maximum(joint, 1e-300)), axis=1))


def placement_named(name: str) -> Placement:
    """Return a placement by name.

    Parameters
    ----------
    name : str
        ``"adaptive"``, ``"two_down"`` or ``"three_down"``.

    Raises
    ------
    KeyError
        For any other name.
    """
    made: dict[str, Placement] = {
        "adaptive": AdaptivePlacement(),
        "two_down": Staircase(n_down=2),
        "three_down": Staircase(n_down=3),
    }
    return made[name]
