"""A psychometric function fitted by maximum likelihood over a grid, with a profile-likelihood interval."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy import special

from feelcheck.model import Caveat, Estimate, FloatArray
from feelcheck.numerics.chi_squared import CHI_SQUARED_95
from feelcheck.numerics.uncertainty import WIDTH_95
from feelcheck.psychometrics.numbers import LAPSES_RARE, LONGEST_S, SHAPE_SPREAD, SHORTEST_S

__all__ = ["Levels", "Likelihood", "fit_threshold", "lag_likelihood"]

GUESS = 0.5
LAPSES = (0.0, 0.01, 0.02, 0.04, 0.06)
"""Shares of answers that miss whatever was shown; no more, so that lapses cannot stand for a threshold.

Wichmann, F. A. and Hill, N. J. (2001), Perception & Psychophysics 63, 1293-1313 (bounds of 0 to 0.06; from memory)."""
SHAPE_MIDDLE = math.log(1.3)
Levels = Mapping[float, tuple[int, int]]
"""By level: how many trials, and how many of them correct."""


@dataclass(frozen=True, slots=True, eq=False)
class Likelihood:
    """A grid over threshold, shape and lapses of psi(x) = 1/2 + (1/2 - lapse) F(x).

    Parameters
    ----------
    thresholds : ndarray, shape (A,)
        Levels at which F is one half: three of four answers are correct there, lapses apart.
    shapes : ndarray, shape (B,)
        Weibull exponents, or standard deviations of a cumulative normal.
    log_prior : ndarray, shape (A, B, C)
        Logarithm of what is held of each cell beforehand; the thresholds' is flat.
    weibull : bool
        F = 1 - 2^-((x / threshold)^shape), else F = Phi((x - threshold) / shape).
    """

    thresholds: FloatArray
    shapes: FloatArray
    log_prior: FloatArray
    weibull: bool = True

    def correct(self, levels: FloatArray) -> FloatArray:
        """Return the probability of a correct answer, shape (levels, A, B, C).

        Parameters
        ----------
        levels : ndarray, shape (n,)
            Levels that were shown, in the unit of the thresholds.
        """
        level = np.asarray(levels, dtype=float)[:, None, None]
        threshold, shape = self.thresholds[None, :, None], self.shapes[None, None, :]
        if self.weibull:
            rise = 1.0 - np.exp2(-((np.maximum(level, 0.0) / threshold) ** shape))
        else:
            rise = special.ndtr((level - threshold) / shape)
        return np.asarray(GUESS + (1.0 - GUESS - np.array(LAPSES)) * rise[..., None])

    def of(self, seen: Levels) -> FloatArray:
        """Return the logarithm of the likelihood times the prior, shape (A, B, C).

        Parameters
        ----------
        seen : Levels
            By level how often it was shown and how many answers were right.
        """
        total = np.array(self.log_prior)
        if seen:
            chance = np.clip(self.correct(np.array(list(seen))), 1e-9, 1 - 1e-9)
            counts = np.array(list(seen.values()), dtype=float)
            wrong = counts[:, 0] - counts[:, 1]
            total += np.tensordot(counts[:, 1], np.log(chance), 1) + np.tensordot(wrong, np.log1p(-chance), 1)
        return np.asarray(total)

    def profile(self, seen: Levels) -> FloatArray:
        """Return for each threshold the greatest log-likelihood over shapes and lapses, shape (A,).

        Parameters
        ----------
        seen : Levels
            By level how often it was shown and how many answers were right.
        """
        return np.asarray(self.of(seen).max(axis=(1, 2)))


@cache
def lag_likelihood(n_thresholds: int = 121, n_shapes: int = 16) -> Likelihood:
    """Return the grid for thresholds of added delay in seconds: Weibull, logarithmic from 0.2 to 500 ms.

    Parameters
    ----------
    n_thresholds : int
        Steps of the grid over the threshold.
    n_shapes : int
        Steps of the grid over the slope.
    """
    thresholds = np.geomspace(SHORTEST_S, LONGEST_S, n_thresholds)
    shapes = np.geomspace(0.6, 4.5, n_shapes)
    prior = -0.5 * ((np.log(shapes) - SHAPE_MIDDLE) / SHAPE_SPREAD) ** 2
    whole = prior[None, :, None] - LAPSES_RARE * np.array(LAPSES)[None, None, :]
    return Likelihood(thresholds, shapes, np.broadcast_to(whole, (n_thresholds, n_shapes, len(LAPSES))))


def fit_threshold(
    seen: Levels, likelihood: Likelihood | None = None, *, quantity: str = "threshold", unit: str = "s"
) -> Estimate:
    """Return the level at which three of four answers are correct, by maximum likelihood, lapses taken out.

    Parameters
    ----------
    seen : Mapping of float to (int, int)
        By level, how many trials and how many correct.
    likelihood : Likelihood, optional
        The grid; that of lags in seconds where it is not given.
    quantity : str, optional
        Name of the threshold.
    unit : str, optional
        Unit of the levels.

    Returns
    -------
    Estimate
        Its interval is as wide as that of the profile likelihood (half of chi-squared 3.84 below the top), on a
        logarithmic scale for lags. Open on one side it is a bound; on both, or without trials, not resolved.

    Notes
    -----
    The likelihood does not mind how the levels were chosen, so staircases and adaptive placement are fitted alike.

    References
    ----------
    Venzon, D. J. and Moolgavkar, S. H. (1988), Applied Statistics 37, 87-94 (profile-likelihood intervals).

    Examples
    --------
    >>> found = fit_threshold({0.004: (40, 24), 0.008: (40, 30), 0.016: (40, 37), 0.032: (40, 40)})
    >>> 0.006 < found.value < 0.010
    True
    """
    grid = likelihood or lag_likelihood()
    n = sum(count for count, _ in seen.values())
    if n == 0:
        return Estimate.not_resolved(quantity, unit=unit)
    axis = np.log(grid.thresholds) if grid.weibull else grid.thresholds
    height = grid.profile(seen)
    top, peak = _summit(axis, height)
    low, high = _ends(axis, height, peak - CHI_SQUARED_95 / 2)
    back = math.exp if grid.weibull else float
    if low is None or high is None:
        return _open(quantity, unit, n, None if low is None else back(low), None if high is None else back(high))
    value, u = back(top), (high - low) / WIDTH_95
    if grid.weibull:
        return Estimate.measured(quantity, value, u=value * u, unit=unit, n=n, scale="log")
    return Estimate.measured(quantity, value, u=u, unit=unit, n=n)


def _summit(axis: FloatArray, height: FloatArray) -> tuple[float, float]:
    """Return place and height of the top, by a parabola through the three cells round it."""
    k = int(np.argmax(height))
    if 0 < k < axis.size - 1:
        left, here, right = (float(h) for h in height[k - 1 : k + 2])
        bend = left - 2 * here + right
        if bend < 0:
            shift = 0.5 * (left - right) / bend
            return float(axis[k] + shift * (axis[1] - axis[0])), here - 0.125 * (left - right) ** 2 / bend
    return float(axis[k]), float(height[k])


def _ends(axis: FloatArray, height: FloatArray, level: float) -> tuple[float | None, float | None]:
    """Return where a profile falls below a level on both sides of its top; None where it does not."""
    k = int(np.argmax(height))
    below = height < level
    left = np.flatnonzero(below[:k])
    right = np.flatnonzero(below[k:])
    return (
        _between(axis, height, level, int(left[-1])) if left.size else None,
        _between(axis, height, level, k + int(right[0]) - 1) if right.size else None,
    )


def _between(axis: FloatArray, height: FloatArray, level: float, k: int) -> float:
    share = (level - height[k]) / (height[k + 1] - height[k])
    return float(axis[k] + share * (axis[k + 1] - axis[k]))


def _open(quantity: str, unit: str, n: int, low: float | None, high: float | None) -> Estimate:
    why = Caveat(
        code="threshold_open",
        text="The answers do not bound the threshold on this side.",
        advice="Take more trials, or let the greatest delay be longer." if high is None else "Take more trials.",
    )
    if low is not None:
        return Estimate.at_least(quantity, low, unit=unit, n=n, caveats=(why,))
    if high is not None:
        return Estimate.at_most(quantity, high, unit=unit, n=n, caveats=(why,))
    return Estimate.not_resolved(quantity, unit=unit, n=n, caveats=(why,))


def levels_of(answers: Sequence[tuple[float, bool]]) -> Levels:
    """Return trials and correct answers by level.

    Parameters
    ----------
    answers : sequence of (float, bool)
        Level and whether the answer was correct, one a trial.
    """
    seen: dict[float, tuple[int, int]] = {}
    for level, right in answers:
        n, k = seen.get(level, (0, 0))
        seen[level] = (n + 1, k + right)
    return seen
