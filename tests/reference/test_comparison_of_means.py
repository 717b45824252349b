"""Welch, paired differences, two one-sided tests, Holm against published and independent values.

Sources: Student, The probable error of a mean, Biometrika 6 (1908), sleep data with the values that the R
documentation prints, unpaired and paired; NAG library example g07ca; the `clinic` table of the statsmodels tests
(expected values from the R package equivalence); statsmodels.stats.multitest for Holm; Pocock's constant by simulation.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.stats.multitest import multipletests

from feelcheck.comparison.numbers import ALPHA_LOOK
from feelcheck.comparison.tests_of_means import SideMean, holm, paired, side_mean, welch

pytestmark = pytest.mark.reference
DATA = Path(__file__).parent / "data"


def columns(name: str) -> dict[str, list[str]]:
    lines = [line for line in (DATA / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    return {key: [row[key] for row in rows] for key in rows[0]}


def mean_of(values: NDArray[np.float64]) -> SideMean:
    return side_mean(values.tolist(), [0.0] * values.size)


def test_welch_on_student_s_sleep_data() -> None:
    table = columns("student_sleep_1908.csv")
    first, second = (np.array(table[drug], dtype=float) for drug in ("drug1", "drug2"))
    difference = welch(mean_of(second), mean_of(first))
    assert difference.value / difference.u == pytest.approx(-1.8608134675, rel=1e-9)
    assert difference.dof == pytest.approx(17.776473516, rel=1e-9)
    assert difference.p_difference == pytest.approx(0.0793941402, rel=1e-8)
    assert difference.interval(0.95) == pytest.approx((-3.3654832307, 0.2054832307), rel=1e-8)


def test_pairs_of_student_s_sleep_data() -> None:
    table = columns("student_sleep_1908.csv")
    first, second = (np.array(table[drug], dtype=float) for drug in ("drug1", "drug2"))
    difference = paired((first - second).tolist(), [0.0] * first.size)
    assert difference.value == pytest.approx(-1.58, rel=1e-9)
    assert difference.value / difference.u == pytest.approx(-4.0621276834, rel=1e-9)
    assert difference.dof == 9
    assert difference.p_difference == pytest.approx(0.0028328902, rel=1e-7)
    assert difference.interval(0.95) == pytest.approx((-2.4598857633, -0.7001142367), rel=1e-8)


def test_two_one_sided_tests_on_pairs_of_the_clinic_table() -> None:
    """The two groups' rows in order are the pairs, as in the statsmodels tests."""
    table = columns("tost_clinic.csv")
    group = np.array(table["group"])
    for name, p in (("var1", 0.0031668815), ("var2", 0.4412034046)):
        values = np.array(table[name], dtype=float)
        first, second = (values[group == label] for label in sorted(set(table["group"])))
        difference = paired((second - first).tolist(), [0.0] * first.size)
        assert difference.p_equivalence(0.6) == pytest.approx(p, rel=1e-7), name


def test_welch_from_summaries() -> None:
    first = SideMean(mean=25.0, u=0.8185 / math.sqrt(4), dof=3, n=4)
    second = SideMean(mean=21.0, u=4.208 / math.sqrt(8), dof=7, n=8)
    difference = welch(second, first)
    assert difference.value / difference.u == pytest.approx(2.5922, rel=2e-4)
    assert difference.dof == pytest.approx(7.9925, rel=2e-4)
    assert difference.interval(0.95) == pytest.approx((0.4410, 7.5590), rel=1e-3)


def test_two_one_sided_tests_on_the_clinic_table() -> None:
    table = columns("tost_clinic.csv")
    group, var1 = np.array(table["group"]), np.array(table["var1"], dtype=float)
    labels = sorted(set(table["group"]))
    difference = welch(mean_of(var1[group == labels[1]]), mean_of(var1[group == labels[0]]))
    assert abs(difference.value) == pytest.approx(0.1646666667, rel=1e-9)
    assert difference.u == pytest.approx(0.2531625991, rel=1e-9)
    assert difference.dof == pytest.approx(26.7484787582, rel=1e-9)
    assert difference.p_equivalence(0.6) == pytest.approx(0.0485308398, rel=1e-7)
    assert sorted(map(abs, difference.interval(0.90))) == pytest.approx([0.2666862981, 0.5960196314], rel=1e-8)


@pytest.mark.parametrize("margin", [0.3, 0.59, 0.596, 0.6, 1.0])
def test_equivalence_is_the_90_per_cent_interval_inside_the_margin(margin: float) -> None:
    difference = welch(SideMean(mean=0.0, u=0.2, dof=9, n=10), SideMean(mean=0.16, u=0.15, dof=14, n=15))
    low, high = difference.interval(0.90)
    assert (difference.p_equivalence(margin) < 0.05) == (-margin < low and high < margin)


def test_replicates_of_unlike_certainty_combine_as_random_effects() -> None:
    """Source: statsmodels' combine_effects, moment estimate and Hartung-Knapp variance; the effects are invented."""
    values, u_within = np.array([10.0, 12.5, 9.0, 16.0, 2.0]), np.array([1.0, 1.0, 1.0, 2.0, 6.0])
    other = combine_effects(values, u_within**2, method_re="chi2", row_names=list("abcde"))
    found = side_mean(values.tolist(), u_within.tolist())
    assert other.tau2 > 1.0
    assert found.mean == pytest.approx(other.mean_effect_re, rel=1e-9)
    assert found.u == pytest.approx(max(other.sd_eff_w_re_hksj, other.sd_eff_w_re), rel=1e-9)


def test_replicates_that_agree_combine_as_a_fixed_effect() -> None:
    """Source: statsmodels' combine_effects; none counts more than one of median uncertainty, so 1, 1 and 2 stay."""
    values, u_within = np.array([10.0, 10.4, 9.0]), np.array([1.0, 1.0, 2.0])
    other = combine_effects(values, u_within**2, row_names=list("abc"))
    found = side_mean(values.tolist(), u_within.tolist())
    assert found.mean == pytest.approx(other.mean_effect_fe, rel=1e-9)
    assert found.u == pytest.approx(other.sd_eff_w_fe, rel=1e-9)
    assert side_mean([10.0, 12.0, 14.0], [1e-6, 1.0, 1.0]).mean == pytest.approx(12.0)


def test_holm_agrees_with_statsmodels() -> None:
    p_values = [0.001, 0.04, 0.03, 0.5, 0.011, 0.011]
    np.testing.assert_allclose(holm(p_values), multipletests(p_values, method="holm")[1], rtol=1e-12)


def test_three_looks_at_the_stricter_level_stay_at_five_per_cent() -> None:
    rng = np.random.default_rng(8)
    steps = rng.standard_normal((200_000, 3)).cumsum(axis=1) / np.sqrt([1, 2, 3])
    crossed = (np.abs(steps) > 2.289).any(axis=1).mean()
    level = 2 * (1 - 0.5 * (1 + math.erf(2.289 / math.sqrt(2))))
    assert level == pytest.approx(ALPHA_LOOK, abs=1e-4)
    assert crossed == pytest.approx(0.05, abs=0.002)
