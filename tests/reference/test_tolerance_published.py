"""Tolerance factors and limits, moving ranges and placements against published values."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from feelcheck.comparison.control_chart import control_chart
from feelcheck.comparison.placing import share_below
from feelcheck.comparison.population import deviations
from feelcheck.comparison.tolerance import (
    is_skewed,
    shares_of_order,
    tolerance_factor,
    tolerance_limits,
)

pytestmark = pytest.mark.reference

# n, share, confidence, one-sided exact, two-sided exact; one-sided recomputed with scipy's noncentral t, two-sided by
# numerical integration. n = 10, 20, 30 at 0.95/0.95 and 10, 20 at 0.90/0.95 are printed to two decimals as 3.39, 2.76,
# 2.55, 2.86, 2.32 in Statistics for Environmental Engineers, table 21.1.
FACTORS = [
    (43, 0.90, 0.99, 1.8740, 2.2228),
    (10, 0.95, 0.95, 2.9110, 3.3934),
    (20, 0.95, 0.95, 2.3960, 2.7603),
    (30, 0.95, 0.95, 2.2198, 2.5549),
    (10, 0.90, 0.95, 2.3546, 2.8563),
    (20, 0.90, 0.95, 1.9260, 2.3188),
]


@pytest.mark.parametrize(("n", "share", "confidence", "one", "two"), FACTORS)
def test_exact_factors(n: int, share: float, confidence: float, one: float, two: float) -> None:
    assert tolerance_factor(n, share, confidence, sides=1) == pytest.approx(one, abs=6e-5)
    assert tolerance_factor(n, share, confidence) == pytest.approx(two, abs=6e-5)
    exact = stats.nct.ppf(confidence, n - 1, stats.norm.ppf(share) * n**0.5) / n**0.5
    assert tolerance_factor(n, share, confidence, sides=1) == pytest.approx(exact, rel=1e-9)


def test_the_handbook_s_wafers() -> None:
    """NIST/SEMATECH e-Handbook 7.2.6.3: 43 wafers, mean 97.07, sd 0.0268; Howe's factor there is 0.3 % short."""
    rng = np.random.default_rng(1)
    z = rng.standard_normal(43)
    z = (z - z.mean()) / z.std(ddof=1)
    limits = tolerance_limits(97.07 + 0.0268 * z, share=0.90, confidence=0.99)
    assert limits is not None
    assert limits.shape == "normal"
    assert limits.low == pytest.approx(97.010576, abs=0.0002)
    assert limits.high == pytest.approx(97.129424, abs=0.0002)
    assert limits.high - 97.07 > 97.12942 - 97.07


def test_sizes_of_distribution_free_limits() -> None:
    """1 - 0.95^59 = 0.9515; first and last of 93 hold 95 % with 0.95002 (Wilks; recomputed)."""
    assert [shares_of_order(n, 0.95, 0.95, sides=1) for n in (58, 59)] == [-1, 0]
    assert [shares_of_order(n, 0.95, 0.95, sides=2) for n in (92, 93)] == [-1, 0]
    assert pytest.approx(0.9515, abs=5e-5) == 1 - 0.95**59


@pytest.mark.parametrize("seed", range(6))
def test_skewness_against_the_general_purpose_library(seed: int) -> None:
    rng = np.random.default_rng(seed)
    values = rng.standard_normal(25) if seed % 2 else rng.exponential(size=25)
    assert is_skewed(values) == (abs(stats.skewtest(values).statistic) > 1.96)


def test_moving_ranges() -> None:
    """A vendor's worked example: 3.4, 3.7, 3.6 have the moving ranges 0.3 and 0.1; limits are the mean +- 2.66 times
    their mean."""
    values = [3.4, 3.7, 3.6] + [3.6] * 6
    chart = control_chart(values)
    assert chart is not None
    assert chart.high - chart.centre == pytest.approx(3 / 1.128379 * (0.3 + 0.1) / 8, rel=1e-6)
    assert pytest.approx(2.66, abs=0.002) == 3 / 1.128379


def test_robust_deviations_against_the_general_purpose_library() -> None:
    values = np.random.default_rng(4).normal(5, 2, 31)
    scale = stats.median_abs_deviation(values, scale="normal")
    assert deviations(values) == pytest.approx((values - np.median(values)) / scale, rel=2e-5)


def test_a_share_has_the_beta_interval() -> None:
    """Brown, Cai and DasGupta (2001), Jeffreys' interval of 87 of 100."""
    share, low, high = share_below(np.arange(100.0), 86.5, 0.0)
    assert (low, high) == pytest.approx(stats.beta.ppf([0.025, 0.975], 87.5, 13.5), abs=1e-6)
    assert share == 0.87
