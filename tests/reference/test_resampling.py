"""Ranks, bootstrap and exact binomial counts against published values.

Sources: M. Hollander, D. A. Wolfe, Nonparametric Statistical Methods (data and p as the R documentation of wilcox.test
prints them; two-sided values recomputed exactly); the diabetes ages of the scipy documentation of mannwhitneyu (exact p
1/9); B. Efron, R. J. Tibshirani, An Introduction to the Bootstrap (1993), tables 3.1, 14.1 and 14.2, with the ends that
the R package boot gives for 20 000 resamples; scipy's own bootstrap test (R boot, a million resamples).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from feelcheck.comparison.resampling import bca_interval, mean_difference, p_of_ranks, p_of_signed_ranks

pytestmark = pytest.mark.reference
DATA = Path(__file__).parent / "data"


def table(name: str) -> NDArray[np.float64]:
    lines = [line for line in (DATA / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return np.array([[float(cell) for cell in line.split(",")] for line in lines[1:]])


def plug_in_variance(x: NDArray[np.float64], axis: int) -> Any:
    return np.var(x, axis=axis)


def correlation(x: NDArray[np.float64], y: NDArray[np.float64], axis: int = -1) -> Any:
    x, y = x - x.mean(axis=axis, keepdims=True), y - y.mean(axis=axis, keepdims=True)
    return (x * y).sum(axis=axis) / np.sqrt((x**2).sum(axis=axis) * (y**2).sum(axis=axis))


def test_rank_test_of_hollander_and_wolfe() -> None:
    x = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
    y = [1.15, 0.88, 0.90, 0.74, 1.21]
    assert p_of_ranks(y, x) == pytest.approx(0.2544122544, rel=1e-9)
    assert p_of_ranks(x, y) == pytest.approx(0.2544122544, rel=1e-9)


@pytest.mark.parametrize(("n", "m", "step"), [(5, 5, 0.0), (6, 6, 0.0), (5, 9, 0.0), (8, 30, 0.0), (9, 12, 0.0),
                                               (6, 6, 0.5), (12, 10, 0.5), (5, 5, 9.0)])  # fmt: skip
def test_the_rank_test_is_scipys_exact_or_normal_with_and_without_ties(n: int, m: int, step: float) -> None:
    rng = np.random.default_rng(n * m)
    for shift in (0.0, 1.0, 4.0):
        sides = [rng.standard_normal(n), shift + rng.standard_normal(m)]
        first, second = (np.round(side / step) * step if step else side for side in sides)
        told = stats.mannwhitneyu(second, first, alternative="two-sided").pvalue
        expected = float(told) if np.ptp([*first, *second]) else 1.0
        assert p_of_ranks(first.tolist(), second.tolist()) == pytest.approx(expected, rel=1e-9)


def test_signed_ranks_of_hollander_and_wolfe_s_depression_scores() -> None:
    """V = 40 and one-sided p = 0.01953125 of nine pairs; the data from memory, the p recomputed by counting signs."""
    before = np.array([1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30])
    after = np.array([0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29])
    differences = before - after
    ranks = np.argsort(np.argsort(np.abs(differences))) + 1
    assert ranks[differences > 0].sum() == 40
    assert p_of_signed_ranks(differences.tolist()) == pytest.approx(2 * 0.01953125, rel=1e-12)
    assert p_of_signed_ranks((-differences).tolist()) == pytest.approx(2 * 0.01953125, rel=1e-12)


def test_too_few_for_ranks() -> None:
    assert p_of_signed_ranks([1.0] * 6) is None
    assert p_of_signed_ranks([0.0] * 7) == 1.0
    assert p_of_ranks([19.0, 22.0, 16.0, 29.0, 24.0], [20.0, 11.0, 17.0, 12.0]) is None


def test_bootstrap_of_the_spatial_test_s_variance() -> None:
    scores = table("bootstrap_spatial_test_A.csv")[:, 0]
    assert plug_in_variance(scores, 0) == pytest.approx(171.534023669, rel=1e-9)
    low, high = bca_interval((scores,), plug_in_variance, 0.90, n_resamples=20_000)
    assert low == pytest.approx(116.9, abs=3.0)
    assert high == pytest.approx(264.0, abs=5.0)


def test_bootstrap_of_the_law_schools_correlation() -> None:
    lsat, gpa = table("bootstrap_law_school.csv").T
    assert correlation(lsat, gpa) == pytest.approx(0.7763744913, rel=1e-9)
    low, high = bca_interval((lsat, gpa), correlation, 0.90, n_resamples=20_000, paired=True)
    assert low == pytest.approx(0.429, abs=0.02)
    assert high == pytest.approx(0.927, abs=0.01)


def test_bootstrap_of_a_skewed_mean() -> None:
    values = np.array([10, 12, 12.5, 12.5, 13.9, 15, 21, 22, 23, 34, 50, 81, 89, 121, 134, 213])
    low, high = bca_interval((values,), np.mean, 0.95, n_resamples=50_000)
    assert low == pytest.approx(32.31, rel=0.01)
    assert high == pytest.approx(91.43, rel=0.02)


def test_bootstrap_of_a_difference_agrees_with_welch_for_normal_data() -> None:
    rng = np.random.default_rng(4)
    a, b = rng.normal(3.0, 0.2, 40), rng.normal(4.0, 0.3, 40)
    low, high = bca_interval((a, b), mean_difference, 0.95)
    u = float(np.hypot(a.std(ddof=1), b.std(ddof=1)) / np.sqrt(40))
    assert (high - low) / (2 * 1.96 * u) == pytest.approx(1.0, abs=0.06)
    assert 0.5 * (low + high) == pytest.approx(b.mean() - a.mean(), abs=0.1 * u)
