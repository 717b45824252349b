"""Intervals from estimates: derived on request from value, standard uncertainty and degrees of freedom."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache, lru_cache
from statistics import NormalDist

import numpy as np

from feelcheck.model import Caveat, Estimate, FloatArray, Status
from feelcheck.model.estimate import Term

__all__ = [
    "NORMAL_90",
    "NORMAL_95",
    "WIDTH_95",
    "combined",
    "coverage_factor",
    "coverage_interval",
    "difference_of",
    "effective_dof",
    "product_of",
    "scaled_estimate",
]

NORMAL_90 = 1.645
"""Two-sided 90 % of a normal distribution, to the digits of JCGM 100:2008, table G.2."""
NORMAL_95 = 1.96
"""Two-sided 95 % of a normal distribution, to the digits of JCGM 100:2008, table G.2: for bounds on u that has no
degrees of freedom of its own."""

WIDTH_95 = 3.919928
"""Width of a two-sided 95 % interval of a normal distribution, 2 x 1.959964, in the u that is read off it."""

MANY_DOF = 60.0
N_NODES, N_NEWTON = 40, 80
"""From where on the expansion is right to 1e-8, and what the integral below takes to be so."""


def coverage_factor(dof: float, level: float = 0.95) -> float:
    """Return the two-sided coverage factor of Student's t (normal for infinite degrees of freedom).

    Parameters
    ----------
    dof : float
        Degrees of freedom.
    level : float, optional
        Two-sided level.

    Notes
    -----
    Below 60 degrees of freedom by Newton's method on the integral of the density, which with t = sqrt(dof) tan(a) is
    one of a power of cos(a); from there on by the asymptotic expansion about the normal quantile. Both are right to
    1e-8 and spare the import of a library that takes longer than a small capture.

    References
    ----------
    JCGM 100:2008 (GUM), annex G. M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions (1964), 26.7.5.

    Examples
    --------
    >>> round(coverage_factor(float("inf")), 6), round(coverage_factor(1.0), 4)
    (1.959964, 12.7062)
    """
    return _few(dof, level) if dof < MANY_DOF else _many(dof, NormalDist().inv_cdf(0.5 + level / 2))


@cache
def _nodes() -> tuple[FloatArray, FloatArray]:
    x, weight = np.polynomial.legendre.leggauss(N_NODES)
    return x, weight


@lru_cache(maxsize=4096)
def _few(dof: float, level: float) -> float:
    scale = math.exp(math.lgamma((dof + 1) / 2) - math.lgamma(dof / 2)) / math.sqrt(math.pi)
    x, weight = _nodes()
    angle = math.pi / 4
    for _ in range(N_NEWTON):
        half = 0.5 * angle
        inside = scale * half * float(weight @ np.cos(half * (x + 1)) ** (dof - 1))
        away = (inside - level / 2) / (scale * math.cos(angle) ** (dof - 1))
        last, angle = angle, min(max(angle - away, 0.5 * angle), 0.5 * (angle + math.pi / 2))
        if abs(angle - last) < 1e-15:
            break
    return math.sqrt(dof) * math.tan(angle)


def _many(dof: float, x: float) -> float:
    terms = (
        (x**3 + x) / 4,
        (5 * x**5 + 16 * x**3 + 3 * x) / 96,
        (3 * x**7 + 19 * x**5 + 17 * x**3 - 15 * x) / 384,
        (79 * x**9 + 776 * x**7 + 1482 * x**5 - 1920 * x**3 - 945 * x) / 92160,
    )
    return x + sum(term / dof**k for k, term in enumerate(terms, 1))


def coverage_interval(estimate: Estimate, level: float = 0.95) -> tuple[float | None, float | None]:
    """Return the two-sided interval of an estimate; None for an end that is not known.

    For an ok estimate value +- k u (on the logarithmic scale where the estimate says so); a bound is its own end
    whatever the level.

    Parameters
    ----------
    estimate : Estimate
        The estimate.
    level : float, optional
        Two-sided level.

    Examples
    --------
    >>> low, high = coverage_interval(Estimate.measured("x", 10.0, u=1.0, unit="s"))
    >>> round(low, 2), round(high, 2)
    (8.04, 11.96)
    """
    if estimate.status is Status.AT_MOST:
        return None, estimate.bound
    if estimate.status is Status.AT_LEAST:
        return estimate.bound, None
    if estimate.value is None or estimate.u is None:
        return None, None
    factor = coverage_factor(estimate.dof, level)
    if estimate.scale == "log":
        spread = math.exp(min(factor * estimate.u / estimate.value, 700.0))
        return estimate.value / spread, estimate.value * spread
    return estimate.value - factor * estimate.u, estimate.value + factor * estimate.u


def combined(parts: Mapping[str, float]) -> tuple[float, tuple[Term, ...]]:
    """Return the combined standard uncertainty of independent contributions, and the contributions as terms.

    Parameters
    ----------
    parts : mapping of str to float
        Standard uncertainty of each contribution, by words, all in one unit.

    References
    ----------
    JCGM 100:2008 (GUM), 5.1.2, equation 10.

    Examples
    --------
    >>> combined({"noise": 3.0, "levels": 4.0, "drift": 0.0})
    (5.0, (Term(words='noise', u=3.0), Term(words='levels', u=4.0)))
    """
    terms = tuple(Term(words, float(u)) for words, u in parts.items() if u)
    return math.hypot(*parts.values()), terms


def effective_dof(variances: Sequence[float], dofs: Sequence[float]) -> float:
    """Return the Welch-Satterthwaite degrees of freedom of a sum of independent contributions.

    Parameters
    ----------
    variances : sequence of float
        Squared standard uncertainties of the contributions.
    dofs : sequence of float
        Their degrees of freedom; infinite ones are allowed.

    References
    ----------
    JCGM 100:2008 (GUM), annex G.4.1, equation G.2b.

    Examples
    --------
    >>> round(effective_dof([1.0, 1.0], [4, 4]), 6)
    8.0
    """
    total = sum(variances)
    spread = sum(variance**2 / dof for variance, dof in zip(variances, dofs, strict=True) if not math.isinf(dof))
    return total**2 / spread if spread > 0 else math.inf


def scaled_estimate(estimate: Estimate, factor: float, *, quantity: str, unit: str) -> Estimate:
    """Return the estimate times a known factor, under a new name and unit; bounds change sides if it is negative.

    Parameters
    ----------
    estimate : Estimate
        The estimate.
    factor : float
        The factor, without uncertainty.
    quantity : str
        New name.
    unit : str
        New unit.

    Examples
    --------
    >>> scaled_estimate(Estimate.at_most("delay", 0.008, unit="s"), 200.0, quantity="angle", unit="deg").bound
    1.6
    """
    status = estimate.status
    if factor < 0 and status in (Status.AT_MOST, Status.AT_LEAST):
        status = Status.AT_LEAST if status is Status.AT_MOST else Status.AT_MOST
    return replace(
        estimate,
        quantity=quantity,
        unit=unit,
        status=status,
        value=None if estimate.value is None else estimate.value * factor,
        u=None if estimate.u is None else estimate.u * abs(factor),
        bound=None if estimate.bound is None else estimate.bound * factor,
        scale=estimate.scale if factor > 0 else "linear",
        terms=tuple(Term(term.words, term.u * abs(factor)) for term in estimate.terms),
    )


def difference_of(minuend: Estimate, subtrahend: Estimate, *, quantity: str) -> Estimate:
    """Return minuend minus subtrahend of two independent estimates in the same unit.

    Both must be ok for a value; otherwise the difference is not resolved and says which side is missing.

    Parameters
    ----------
    minuend : Estimate
        Taken from.
    subtrahend : Estimate
        Taken away; same unit.
    quantity : str
        Name of the difference.

    Raises
    ------
    ValueError
        If the units differ.
    """
    if minuend.unit != subtrahend.unit:
        raise ValueError(f"{quantity}: cannot subtract {subtrahend.unit} from {minuend.unit}")
    if minuend.value is None or minuend.u is None or subtrahend.value is None or subtrahend.u is None:
        caveat = Caveat(code="side_without_value", text="One side has no value, only a bound or nothing.")
        return Estimate.not_resolved(quantity, unit=minuend.unit, caveats=(caveat,))
    variances = (minuend.u**2, subtrahend.u**2)
    return Estimate.measured(
        quantity,
        minuend.value - subtrahend.value,
        u=math.sqrt(sum(variances)),
        unit=minuend.unit,
        n=min(minuend.n, subtrahend.n),
        dof=effective_dof(variances, (minuend.dof, subtrahend.dof)),
    )


def product_of(first: Estimate, second: Estimate, *, quantity: str, unit: str) -> Estimate:
    """Return the product of two independent positive estimates; bounds stay bounds.

    A bound times a value is a bound at the value's own end on that side; an upper times a lower bound tells nothing.

    Parameters
    ----------
    first : Estimate
        One estimate.
    second : Estimate
        The other.
    quantity : str
        Name of the product.
    unit : str
        Unit of the product.

    Examples
    --------
    >>> delay = Estimate.measured("delay", 0.005, u=0.0003, unit="s")
    >>> speed = Estimate.measured("speed", 10.0, u=0.4, unit="throws/s")
    >>> trailing = product_of(delay, speed, quantity="trailing", unit="fraction")
    >>> round(trailing.value, 6), round(trailing.u, 6)
    (0.05, 0.003606)
    """
    n = min(first.n, second.n)
    if first.value and second.value and first.u is not None and second.u is not None:
        shares = ((first.u / first.value) ** 2, (second.u / second.value) ** 2)
        value = first.value * second.value
        return Estimate.measured(
            quantity,
            value,
            u=abs(value) * math.sqrt(sum(shares)),
            unit=unit,
            n=n,
            dof=effective_dof(shares, (first.dof, second.dof)),
            scale="log" if "log" in (first.scale, second.scale) and value > 0 else "linear",
        )
    (low_1, high_1), (low_2, high_2) = coverage_interval(first), coverage_interval(second)
    if high_1 is not None and high_2 is not None:
        return Estimate.at_most(quantity, high_1 * high_2, unit=unit, n=n)
    if low_1 is not None and low_2 is not None:
        return Estimate.at_least(quantity, max(low_1, 0.0) * max(low_2, 0.0), unit=unit, n=n)
    return Estimate.not_resolved(quantity, unit=unit, n=n)
