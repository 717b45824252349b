"""Two sides, few replicates: Welch, two one-sided tests, Holm, and bounds where a side has no value."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from feelcheck.model import Term
from feelcheck.numerics.uncertainty import combined, coverage_factor, effective_dof

__all__ = ["Difference", "SideMean", "holm", "paired", "side_mean", "welch"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SideMean:
    """The mean of one side's replicates: its standard uncertainty and degrees of freedom."""

    mean: float
    u: float
    dof: float
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Candidate minus baseline with what Welch's approximation says of it."""

    value: float
    u: float
    dof: float
    terms: tuple[Term, ...] = ()

    def interval(self, level: float) -> tuple[float, float]:
        """Return the two-sided interval at that level.

        Parameters
        ----------
        level : float
            Coverage, such as 0.95.
        """
        half = coverage_factor(self.dof, level) * self.u
        return self.value - half, self.value + half

    @property
    def p_difference(self) -> float:
        """Two-sided p of no difference."""
        if self.u == 0:
            return 1.0 if self.value == 0 else 0.0
        return float(2 * special.stdtr(self.dof, -abs(self.value) / self.u))

    def p_equivalence(self, margin: float) -> float:
        """P of the two one-sided tests against +-margin: the larger of both.

        Parameters
        ----------
        margin : float
            The largest difference that does not matter, in the unit of the values.
        """
        if self.u == 0:
            return 0.0 if abs(self.value) < margin else 1.0
        return float(special.stdtr(self.dof, (abs(self.value) - margin) / self.u))


def side_mean(values: Sequence[float], u_within: Sequence[float]) -> SideMean:
    """Return the mean of replicates, the unsure ones counting less.

    Parameters
    ----------
    values : sequence of float, length n >= 1
        One value a replicate.
    u_within : sequence of float, length n
        Standard uncertainty of each value from within the replicate; none counts more than one of median uncertainty.
        They floor the spread between replicates, so that equal values by chance (or by quantization) do not look
        certain.

    Notes
    -----
    A random-effects mean; its variance is scaled by how far the replicates scatter, where that is above one. Replicates
    of equal uncertainty give the plain mean.

    References
    ----------
    R. DerSimonian, N. Laird, Controlled Clinical Trials 7:177-188 (1986); G. Knapp, J. Hartung, Statistics in Medicine
    22:2693-2710 (2003) (both from memory; held against statsmodels in the tests).

    Examples
    --------
    >>> side_mean([1.0, 3.0], [0.0, 0.0]).u
    1.0
    >>> round(side_mean([1.0, 1.2, 9.0], [0.1, 0.1, 80.0]).mean, 2)
    1.1
    """
    sample = np.asarray(values, dtype=np.float64)
    own = np.square(np.maximum(u_within, np.median(u_within)))
    n = sample.size
    weights = 1.0 / (own + _between(sample, own)) if n > 1 and own.all() else np.ones(n)
    mean = float(np.average(sample, weights=weights))
    scatter = float(weights @ np.square(sample - mean)) / max(n - 1, 1)
    floor = float(np.mean(weights * own)) if n == 1 or not own.all() else 1.0
    return SideMean(mean=mean, u=math.sqrt(max(scatter, floor) / float(weights.sum())), dof=max(n - 1, 1), n=n)


def _between(sample: NDArray[np.float64], own: NDArray[np.float64]) -> float:
    """Variance between replicates beyond their own (DerSimonian and Laird's moment estimate)."""
    weights = 1.0 / own
    excess = float(weights @ np.square(sample - np.average(sample, weights=weights))) - (sample.size - 1)
    return max(0.0, excess / float(weights.sum() - np.square(weights).sum() / weights.sum()))


def welch(baseline: SideMean, candidate: SideMean) -> Difference:
    """Return candidate minus baseline by Welch's unequal-variance approximation.

    Parameters
    ----------
    baseline : SideMean
        The side that the other one is held against.
    candidate : SideMean
        The other side.

    References
    ----------
    B. L. Welch, Biometrika 34:28-35 (1947) (from memory); degrees of freedom as in JCGM 100:2008 annex G.4.1.
    """
    variances = (baseline.u**2, candidate.u**2)
    return Difference(
        value=candidate.mean - baseline.mean,
        u=math.sqrt(sum(variances)),
        dof=effective_dof(variances, (baseline.dof, candidate.dof)),
        terms=combined({"scatter of the baseline": baseline.u, "scatter of the candidate": candidate.u})[1],
    )


def paired(values: Sequence[float], u_within: Sequence[float]) -> Difference:
    """Return the mean of differences within pairs: Student's paired test, unsure pairs counting less.

    Parameters
    ----------
    values : sequence of float
        One a pair.
    u_within : sequence of float
        Standard uncertainty of each value, in its unit.

    References
    ----------
    Student, Biometrika 6:1-25 (1908) (published example in the reference tests).

    Examples
    --------
    >>> found = paired([1.0, 2.0, 3.0], [0.0, 0.0, 0.0])
    >>> found.value, round(found.u, 4), found.dof
    (2.0, 0.5774, 2)
    """
    mean = side_mean(values, u_within)
    return Difference(value=mean.mean, u=mean.u, dof=mean.dof)


def holm(p_values: Sequence[float]) -> list[float]:
    """Return Holm's step-down adjusted p-values, in the order given.

    Parameters
    ----------
    p_values : sequence of float
        One a test.

    References
    ----------
    S. Holm, Scand. J. Statist. 6:65-70 (1979) (from memory; held against statsmodels in the tests).

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03])
    [0.03, 0.06, 0.06]
    """
    order = np.argsort(p_values)
    adjusted = [0.0] * len(p_values)
    worst = 0.0
    for rank, index in enumerate(order):
        worst = max(worst, (len(p_values) - rank) * float(p_values[index]))
        adjusted[index] = min(1.0, worst)
    return adjusted
