"""Second opinions on a difference of means: a bootstrap interval for larger samples, and the ranks."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

import numpy as np
from scipy import special

from feelcheck.comparison.numbers import EXACT_UP_TO, N_RESAMPLES, PAIRS_FROM, RANKS_FROM
from feelcheck.model import FloatArray

__all__ = ["bca_interval", "mean_difference", "p_of_ranks", "p_of_signed_ranks"]

SEED = 20


def bca_interval(
    samples: Sequence[FloatArray],
    statistic: Callable[..., Any],
    level: float,
    *,
    n_resamples: int = N_RESAMPLES,
    paired: bool = False,
) -> tuple[float, float]:
    """Return the bias-corrected and accelerated bootstrap interval; the same data always give the same interval.

    Parameters
    ----------
    samples : sequence of ndarray, shape (n,)
        One array a side, any unit, each resampled on its own unless `paired`.
    statistic : callable
        Of the samples, with an ``axis`` argument.
    level : float
        Two-sided confidence level.
    n_resamples : int
        How often it is drawn again.
    paired : bool
        Whether the arrays are columns of one table.

    References
    ----------
    B. Efron, J. Am. Stat. Assoc. 82:171-185 (1987) (from memory); published examples in the reference tests.
    """
    if all(np.ptp(sample) == 0 for sample in samples):
        value = float(statistic(*samples, axis=-1))
        return value, value
    from scipy import stats

    found = stats.bootstrap(
        tuple(samples),
        statistic,
        confidence_level=level,
        n_resamples=n_resamples,
        paired=paired,
        method="BCa",
        random_state=np.random.default_rng(SEED),
    ).confidence_interval
    return float(found.low), float(found.high)


def mean_difference(baseline: FloatArray, candidate: FloatArray, axis: int = -1) -> Any:
    """Return the candidate's mean minus the baseline's.

    Parameters
    ----------
    baseline : ndarray, shape (..., n)
        Replicates of one side, any unit.
    candidate : ndarray, shape (..., m)
        Replicates of the other, same unit.
    axis : int, optional
        Axis of the replicates.
    """
    return np.mean(candidate, axis=axis) - np.mean(baseline, axis=axis)


def p_of_ranks(baseline: Sequence[float], candidate: Sequence[float]) -> float | None:
    """Return the two-sided p of the Mann-Whitney rank test; None below `RANKS_FROM` replicates a side.

    Parameters
    ----------
    baseline : sequence of float
        The side that the other one is held against.
    candidate : sequence of float
        The other side.

    References
    ----------
    H. B. Mann, D. R. Whitney, Ann. Math. Statist. 18:50-60 (1947) (from memory; held against scipy in the tests).

    Notes
    -----
    Exact where no value is repeated and one side has at most `EXACT_UP_TO`, else normal with corrections for ties and
    continuity. Written out because the package that has it takes as long to import as three libraries together.
    """
    n, m = len(baseline), len(candidate)
    if min(n, m) < RANKS_FROM:
        return None
    above = np.subtract.outer(np.asarray(candidate), np.asarray(baseline))
    wins = float(np.sum(above > 0) + 0.5 * np.sum(above == 0))
    larger = max(wins, n * m - wins)
    _, ties = np.unique([*baseline, *candidate], return_counts=True)
    if min(n, m) <= EXACT_UP_TO and ties.max() == 1:
        ways = _ways(n, m)
        return min(1.0, 2 * sum(ways[math.ceil(larger) :]) / sum(ways))
    size = n + m
    variance = n * m / 12 * (size + 1 - float(np.sum(ties.astype(float) ** 3 - ties)) / (size * (size - 1)))
    return min(1.0, 2 * float(special.ndtr(-(larger - n * m / 2 - 0.5) / math.sqrt(variance)))) if variance else 1.0


@cache
def _ways(n: int, m: int) -> list[int]:
    """In how many orders of n and m values one side wins 0, 1, ... n m times: coefficients of Gauss' binomial."""
    ways = [1] + [0] * (n * m)
    for k in range(1, m + 1):
        for u in range(n * m, n + k - 1, -1):
            ways[u] -= ways[u - n - k]
        for u in range(k, n * m + 1):
            ways[u] += ways[u - k]
    return ways


def p_of_signed_ranks(differences: Sequence[float]) -> float | None:
    """Return the two-sided p of Wilcoxon's signed-rank test of pairs; None below `PAIRS_FROM` of them.

    Parameters
    ----------
    differences : sequence of float
        One a pair, candidate minus baseline.

    References
    ----------
    F. Wilcoxon, Biometrics Bulletin 1:80-83 (1945) (from memory).
    """
    if len(differences) < PAIRS_FROM:
        return None
    if not any(differences):
        return 1.0
    from scipy import stats

    return float(stats.wilcoxon(differences).pvalue)
