"""Sticks that stand off from their population, by a robust rule that says how often it is wrong."""

from __future__ import annotations

import functools

import numpy as np

from feelcheck.comparison.numbers import FALSE_ALARM, TO_SD
from feelcheck.model import FloatArray

__all__ = ["deviations", "outlier_limit"]

_DRAWS, _FEWEST, _MOST = 1_000_000, 400, 10_000


def deviations(values: FloatArray) -> FloatArray:
    """Return how many robust standard deviations each value lies from the median, shape (n,).

    Parameters
    ----------
    values : ndarray, shape (n,)
        A population.

    Notes
    -----
    1.4826 times the median absolute deviation is the standard deviation of a normal population. Where half of the
    values are equal it is zero; then no value has a deviation.

    References
    ----------
    Hampel, J. Am. Stat. Assoc. 69 (1974) 383.

    Examples
    --------
    >>> deviations(np.array([1.0, 2.0, 3.0, 4.0, 30.0])).round(1).tolist()
    [-1.3, -0.7, 0.0, 0.7, 18.2]
    """
    away = values - np.median(values)
    scale = TO_SD * float(np.median(np.abs(away)))
    return away / scale if scale > 0 else np.zeros_like(values)


@functools.cache
def outlier_limit(n: int, false_alarm: float = FALSE_ALARM) -> float:
    """Return how many robust standard deviations make an outlier among n values.

    Parameters
    ----------
    n : int
        Size of the population.
    false_alarm : float
        How probable it is that a clean normal population of n shows any.

    Notes
    -----
    From simulated normal populations of this very size with a fixed seed: the robust spread of few values is itself
    uncertain, so few values need a wider limit.

    Examples
    --------
    >>> outlier_limit(10) > outlier_limit(100)
    True
    """
    rng = np.random.default_rng(20_261_129)
    clean = rng.standard_normal((min(_MOST, max(_FEWEST, _DRAWS // n)), n))
    away = np.abs(clean - np.median(clean, axis=1, keepdims=True))
    most = away.max(axis=1) / (TO_SD * np.median(away, axis=1))
    return float(np.quantile(most, 1.0 - false_alarm))
