"""Tolerance limits of a population: which share of it lies inside, with what confidence."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import numpy as np
from scipy.optimize import brentq, minimize
from scipy.special import betainc, chdtrc, log_ndtr, nctdtrit, ndtr, ndtri

from feelcheck.comparison.numbers import FEWEST_FOR_SHAPE, MOST_BOUNDED, SKEWED
from feelcheck.model import FloatArray, ToleranceLimits

__all__ = [
    "is_skewed",
    "shares_of_order",
    "tolerance_factor",
    "tolerance_limits",
]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(96)


@functools.cache
def tolerance_factor(n: int, share: float, confidence: float, *, sides: int = 2) -> float:
    """Return how many sample standard deviations a normal tolerance limit lies from the sample mean.

    Parameters
    ----------
    n : int
        Size of the sample, at least 2.
    share, confidence : float
        Share of the population inside, and how sure that is, both between 0 and 1.
    sides : {1, 2}
        One limit, or two about the mean.

    Notes
    -----
    Exact: the noncentral t distribution for one side; for two, the chi-square distribution of the variance integrated
    over that of the mean.

    References
    ----------
    Wald, Wolfowitz, Ann. Math. Stat. 17 (1946) 208; ISO 16269-6.

    Examples
    --------
    >>> round(tolerance_factor(43, 0.90, 0.99, sides=1), 4), round(tolerance_factor(43, 0.90, 0.99), 4)
    (1.874, 2.2228)
    """
    if sides == 1:
        return float(nctdtrit(n - 1, ndtri(share) * math.sqrt(n), confidence) / math.sqrt(n))
    means = 8.0 / math.sqrt(n) * (_NODES + 1.0) / 2.0
    density = np.exp(-n * means**2 / 2.0) * math.sqrt(n / (2.0 * math.pi)) * 8.0 / math.sqrt(n) * _WEIGHTS
    half = np.array([_half_width(float(mean), share) for mean in means])

    def short(k: float) -> float:
        return float(density @ chdtrc(n - 1, (n - 1) * half**2 / k**2)) - confidence

    return float(brentq(short, 0.1, 1e4, xtol=1e-9))


def _half_width(mean: float, share: float) -> float:
    """Half the width of an interval about a point off the centre that holds this share of a standard normal."""
    return float(brentq(lambda r: ndtr(mean + r) - ndtr(mean - r) - share, 0.0, abs(mean) + 12.0, xtol=1e-12))


def shares_of_order(n: int, share: float, confidence: float, *, sides: int = 2) -> int:
    """Return how many values may lie outside a distribution-free limit, on each side; -1 where n is too small.

    Parameters
    ----------
    n : int
        How many values there are.
    share : float
        Share of the population that the limit covers.
    confidence : float
        How sure the limit is to hold.
    sides : int
        1 for one limit, 2 for a limit on each side.

    Notes
    -----
    Of n values the share between the r-th smallest and the r-th largest is beta distributed; r - 1 values lie outside
    on each side.

    References
    ----------
    Wilks, Ann. Math. Stat. 12 (1941) 91.

    Examples
    --------
    >>> shares_of_order(58, 0.95, 0.95, sides=1), shares_of_order(59, 0.95, 0.95, sides=1)
    (-1, 0)
    >>> shares_of_order(92, 0.95, 0.95), shares_of_order(93, 0.95, 0.95)
    (-1, 0)
    """
    outside = -1
    while True:
        cut = sides * (outside + 2)
        if n - cut + 1 <= 0 or 1.0 - betainc(n - cut + 1, cut, share) < confidence:
            return outside
        outside += 1


def is_skewed(values: FloatArray) -> bool:
    """Return whether a sample is too skewed for a normal distribution (D'Agostino's test, 5 %).

    Parameters
    ----------
    values : ndarray, shape (n,)
        The sample, any unit; n of 8 or more.

    References
    ----------
    D'Agostino, Biometrika 57 (1970) 679.

    Examples
    --------
    >>> is_skewed(np.arange(20.0)), is_skewed(np.exp(np.linspace(-2.0, 3.0, 40)))
    (False, True)
    """
    n = values.size
    spread = float(np.std(values))
    if n < FEWEST_FOR_SHAPE or spread == 0.0:
        return False
    skew = float(np.mean((values - values.mean()) ** 3)) / spread**3
    y = skew * math.sqrt((n + 1) * (n + 3) / (6.0 * (n - 2)))
    kurtosis = 3.0 * (n**2 + 27 * n - 70) * (n + 1) * (n + 3) / ((n - 2) * (n + 5) * (n + 7) * (n + 9))
    w2 = math.sqrt(2.0 * (kurtosis - 1.0)) - 1.0
    z = math.asinh(y / math.sqrt(2.0 / (w2 - 1.0))) / math.sqrt(0.5 * math.log(w2))
    return abs(z) > SKEWED


def tolerance_limits(
    values: FloatArray,
    *,
    at_most: Sequence[float] = (),
    at_least: Sequence[float] = (),
    share: float = 0.9,
    confidence: float = 0.95,
    sides: int = 2,
) -> ToleranceLimits | None:
    """Return limits between (or, one-sided, below) which a share of the population lies; None where there are too few.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One value a member of the population.
    at_most, at_least : sequence of float
        Members of which only a bound is known.
    share, confidence : float
        Share of the population inside, and how sure that is.
    sides : {1, 2}
        One upper limit, or two.

    Notes
    -----
    Normal where the sample is not visibly skewed, log-normal where its logarithms are not, else distribution-free.
    Bounds are censored members: mean and spread come from the likelihood with them, and the factor from the number of
    members with a value; where more than half are bounds, an upper limit takes each bound as its value, without a
    shape.
    """
    lows, highs = np.asarray(at_least, dtype=np.float64), np.asarray(at_most, dtype=np.float64)
    bounded = lows.size + highs.size
    if values.size + bounded < 2:
        return None
    few = bounded > MOST_BOUNDED * (values.size + bounded)
    for shape in () if few else ("normal", "log_normal"):
        if shape == "log_normal" and min(map(np.min, filter(np.size, (values, lows, highs)))) <= 0:
            continue
        to = np.log if shape == "log_normal" else np.asarray
        if values.size < 2 or is_skewed(to(values)):
            continue
        mean, sd = _moments(to(values), to(highs), to(lows))
        k = tolerance_factor(values.size, share, confidence, sides=sides)
        back = math.exp if shape == "log_normal" else float
        low = back(mean - k * sd) if sides == 2 else None
        return _limits(shape, low, back(mean + k * sd), share, confidence)
    return _distribution_free(values, highs, lows, share, confidence, sides)


def _limits(shape: str, low: float | None, high: float, share: float, confidence: float) -> ToleranceLimits:
    return ToleranceLimits(low=low, high=high, share=share, confidence=confidence, shape=shape)


def _moments(values: FloatArray, highs: FloatArray, lows: FloatArray) -> tuple[float, float]:
    """Mean and sample standard deviation, by likelihood where there are censored members."""
    mean, sd = float(values.mean()), float(values.std(ddof=1))
    if not highs.size + lows.size or sd == 0.0:
        return mean, sd

    def cost(where: FloatArray) -> float:
        m, s = float(where[0]), math.exp(float(where[1]))
        seen = 0.5 * np.sum(((values - m) / s) ** 2) + values.size * math.log(s)
        return float(seen - np.sum(log_ndtr((highs - m) / s)) - np.sum(log_ndtr((m - lows) / s)))

    found = minimize(cost, [mean, math.log(sd)], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-10})
    n = values.size
    return float(found.x[0]), math.exp(float(found.x[1])) * math.sqrt(n / (n - 1))


def _distribution_free(
    values: FloatArray, highs: FloatArray, lows: FloatArray, share: float, confidence: float, sides: int
) -> ToleranceLimits | None:
    n = values.size + highs.size + lows.size
    outside = shares_of_order(n, share, confidence, sides=sides)
    if outside < 0:
        return None
    upper = np.sort(np.concatenate([values, highs, np.full(lows.size, np.inf)]))[-1 - outside]
    if sides == 1:
        return _limits("distribution_free", None, float(upper), share, confidence) if np.isfinite(upper) else None
    lower = np.sort(np.concatenate([values, lows, np.full(highs.size, -np.inf)]))[outside]
    if not (np.isfinite(upper) and np.isfinite(lower)):
        return None
    return _limits("distribution_free", float(lower), float(upper), share, confidence)
