"""Second opinions on a difference of means: a bootstrap interval for larger samples, and the ranks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from feelcheck.model import FloatArray

__all__ = ["BOOTSTRAP_FROM", "RANKS_FROM", "bca_interval", "mean_difference", "p_of_ranks", "p_of_signed_ranks"]

BOOTSTRAP_FROM = 15
"""Replicates a side from which a bootstrap interval covers what it says (common practice, no source)."""
RANKS_FROM = 5
"""Replicates a side from which the rank test can reach the level of a look: 5 against 5 can give p = 0.008."""
PAIRS_FROM = 7
"""Pairs from which the signed-rank test can reach the level of a look: 7 of one sign give p = 0.016."""
N_RESAMPLES = 4999
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
    samples : sequence of ndarray
        One array a side, each resampled on its own unless `paired`.
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
    """Return the candidate's mean minus the baseline's."""
    return np.mean(candidate, axis=axis) - np.mean(baseline, axis=axis)


def p_of_ranks(baseline: Sequence[float], candidate: Sequence[float]) -> float | None:
    """Return the two-sided p of the Mann-Whitney rank test; None below `RANKS_FROM` replicates a side.

    References
    ----------
    H. B. Mann, D. R. Whitney, Ann. Math. Statist. 18:50-60 (1947) (from memory).
    """
    if min(len(baseline), len(candidate)) < RANKS_FROM:
        return None
    from scipy import stats

    return float(stats.mannwhitneyu(candidate, baseline, alternative="two-sided").pvalue)


def p_of_signed_ranks(differences: Sequence[float]) -> float | None:
    """Return the two-sided p of Wilcoxon's signed-rank test of pairs; None below `PAIRS_FROM` of them.

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
