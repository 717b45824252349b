"""Constants that turn ranges of normal samples into standard deviations, from their integrals."""

from __future__ import annotations

import math
from functools import cache

from scipy.special import ndtr

__all__ = ["d2", "d2_star", "d3"]

_LIMIT = 9.0


@cache
def d2(n: int) -> float:
    """Return the mean range of n standard normal values.

    Parameters
    ----------
    n : int
        How many values there are.

    References
    ----------
    L. H. C. Tippett, Biometrika 17:364-387 (1925) (integral from memory; values held against a printed table).

    Examples
    --------
    >>> round(d2(3), 5)
    1.69257
    """
    from scipy import integrate

    value, _ = integrate.quad(lambda x: 1 - ndtr(x) ** n - ndtr(-x) ** n, -_LIMIT, _LIMIT, limit=200)
    return float(value)


@cache
def d3(n: int) -> float:
    """Return the standard deviation of the range of n standard normal values.

    Parameters
    ----------
    n : int
        How many values there are.

    Examples
    --------
    >>> round(d3(3), 4)
    0.8884
    """

    def joint(y: float, x: float) -> float:
        low, high = ndtr(x), ndtr(y)
        return float(1 - high**n - (1 - low) ** n + (high - low) ** n)

    from scipy import integrate

    square, _ = integrate.dblquad(joint, -_LIMIT, _LIMIT, lambda x: x, _LIMIT, epsabs=1e-8, epsrel=1e-8)
    return math.sqrt(2 * square - d2(n) ** 2)


def d2_star(n: int) -> float:
    """Return the constant for a single range of n values: sqrt(d2^2 + d3^2).

    Parameters
    ----------
    n : int
        How many values there are.

    Examples
    --------
    >>> round(1 / d2_star(3), 4)
    0.5231
    """
    return math.hypot(d2(n), d3(n))
