"""Tail and quantile of chi-squared in plain Python: importing scipy.special takes longer than every test that asks."""

from __future__ import annotations

import math
from statistics import NormalDist

__all__ = ["CHI_SQUARED_95", "chi_squared_quantile", "chi_squared_tail"]

CHI_SQUARED_95 = 3.841458820694124
"""What chi-squared of one degree of freedom exceeds once in twenty (NIST/SEMATECH e-Handbook, 1.3.6.7.4): half of it is
by how much the log-likelihood of a parameter falls towards either end of its 95 % interval."""

# of floating point and of the series: they stand for "exact"
TINY = 1e-300
PRECISION = 1e-15
MAX_TERMS = 100_000
MAX_NEWTON = 100


def chi_squared_tail(dof: float, value: float) -> float:
    """Return the probability that chi-squared exceeds a value.

    Parameters
    ----------
    dof : float
        Degrees of freedom, above 0, not necessarily whole.
    value : float
        A value of chi-squared; one below 0 is exceeded always.

    Notes
    -----
    The regularised upper incomplete gamma function Q(dof / 2, value / 2): a power series below its bend, Lentz's
    continued fraction above it. `scipy.special.chdtrc` is its test.

    References
    ----------
    NIST Digital Library of Mathematical Functions, 8.7.1 (series) and 8.9.2 (continued fraction).

    Examples
    --------
    >>> round(chi_squared_tail(2.0, 6.0), 6)  # exp(-3)
    0.049787
    """
    a, x = dof / 2, value / 2
    if x <= 0:
        return 1.0
    front = math.exp(a * math.log(x) - x - math.lgamma(a))
    return 1.0 - front * _series(a, x) if x < a + 1 else front * _fraction(a, x)


def chi_squared_quantile(dof: float, tail: float) -> float:
    """Return the value that chi-squared exceeds with a probability.

    Parameters
    ----------
    dof : float
        Degrees of freedom, at least 1.
    tail : float
        The probability, above 0 and below 1.

    Notes
    -----
    Newton's method on the logarithm of the tail, which bends one way only, begun at Wilson and Hilferty's cube.
    `scipy.special.chdtri` is its test.

    References
    ----------
    E. B. Wilson, M. M. Hilferty, Proc. Natl. Acad. Sci. 17 (1931) 684-688.

    Examples
    --------
    >>> round(chi_squared_quantile(2.0, 0.05), 6)  # -2 ln 0.05
    5.991465
    """
    spread = 2 / (9 * dof)
    value = dof * max(1 - spread - NormalDist().inv_cdf(tail) * math.sqrt(spread), 0.01) ** 3
    for _ in range(MAX_NEWTON):
        exceeded = max(chi_squared_tail(dof, value), TINY)
        log_density = (dof / 2 - 1) * math.log(value / 2) - value / 2 - math.lgamma(dof / 2) - math.log(2)
        step = math.log(exceeded / tail) * exceeded / math.exp(log_density)
        value = max(value + step, value / 2)
        if abs(step) < PRECISION * 10 * value:
            break
    return value


def _series(a: float, x: float) -> float:
    """Return the sum of x^n / (a (a + 1) ... (a + n))."""
    term = total = 1 / a
    for n in range(1, MAX_TERMS):
        term *= x / (a + n)
        total += term
        if term < PRECISION * total:
            break
    return total


def _fraction(a: float, x: float) -> float:
    """Return 1 / (x + 1 - a - 1 (1 - a) / (x + 3 - a - ...))."""
    bottom = x + 1 - a
    above, below = 1 / TINY, 1 / bottom
    value = below
    for n in range(1, MAX_TERMS):
        top = -n * (n - a)
        bottom += 2
        below = 1 / _not_zero(top * below + bottom)
        above = _not_zero(bottom + top / above)
        value *= above * below
        if abs(above * below - 1) < PRECISION:
            break
    return value


def _not_zero(value: float) -> float:
    return value if abs(value) > TINY else TINY
