"""Intervals from estimates: derived on request from value, standard uncertainty and degrees of freedom."""

from __future__ import annotations

import math

from scipy import stats

from feelcheck.model import Estimate, Status

__all__ = ["coverage_factor", "coverage_interval"]


def coverage_factor(dof: float, level: float = 0.95) -> float:
    """Return the two-sided coverage factor of Student's t (normal for infinite degrees of freedom).

    References
    ----------
    JCGM 100:2008 (GUM), annex G.

    Examples
    --------
    >>> round(coverage_factor(float("inf")), 6)
    1.959964
    """
    tail = 0.5 + level / 2
    return float(stats.norm.ppf(tail) if math.isinf(dof) else stats.t.ppf(tail, dof))


def coverage_interval(estimate: Estimate, level: float = 0.95) -> tuple[float | None, float | None]:
    """Return the two-sided interval of an estimate; None for an end that is not known.

    For an ok estimate value +- k u (on the logarithmic scale where the estimate says so); a bound is its own end
    whatever the level.

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
