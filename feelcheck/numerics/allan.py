"""Allan deviations: how an average steadies with its length, white noise told from drift."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from feelcheck.model import FloatArray

__all__ = ["averaging_factors", "oadev"]


def _phase(values: ArrayLike) -> FloatArray:
    sample = np.asarray(values, dtype=np.float64).ravel()
    return np.concatenate(([0.0], np.cumsum(sample - sample[0] if sample.size else sample)))


def _second_differences(phase: FloatArray, m: int, name: str) -> FloatArray:
    if m < 1 or phase.size < 2 * m + 1:
        raise ValueError(f"{name} over {m} values needs at least {2 * m} values, got {phase.size - 1}")
    return phase[2 * m :] - 2 * phase[m:-m] + phase[: -2 * m]


def oadev(values: ArrayLike, m: int) -> float:
    """Return the overlapping Allan deviation of averages over `m` values.

    Parameters
    ----------
    values : array_like, shape (n,)
        Equally spaced readings (frequency data in the terms of the source), any unit.
    m : int
        Averaging length in readings, ``1 <= m <= n / 2``.

    Raises
    ------
    ValueError
        If there are fewer than ``2 m`` readings.

    Notes
    -----
    Root of half the mean squared difference of neighbouring averages, every start used. White noise falls as
    ``m**-0.5``, a steady slope r a reading grows as ``r m / sqrt(2)``.

    References
    ----------
    W. J. Riley, Handbook of Frequency Stability Analysis, NIST SP 1065, 2008, section 5.2.4.

    Examples
    --------
    >>> round(oadev([892, 809, 823, 798, 671, 644, 883, 903, 677], 2), 5)
    85.95287
    """
    second = _second_differences(_phase(values), m, "an overlapping Allan deviation")
    return math.sqrt(float(np.mean(second**2)) / 2) / m


def averaging_factors(n: int, *, pairs: int = 3) -> tuple[int, ...]:
    """Return averaging lengths 1, 2, 4, ... for n readings that leave at least `pairs` independent differences.

    Parameters
    ----------
    n : int
        Number of readings.
    pairs : int, optional
        Least number of independent differences.

    Examples
    --------
    >>> averaging_factors(40)
    (1, 2, 4, 8)
    """
    factors, m = [], 1
    while n >= (pairs + 1) * m and n >= 2:
        factors.append(m)
        m *= 2
    return tuple(factors)
