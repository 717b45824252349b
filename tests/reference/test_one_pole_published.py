"""Transitions of poles, ramps and averages against published and independently computed values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from feelcheck.numerics.one_pole import ramp_transition_10_90, step_response, transition_10_90

pytestmark = pytest.mark.reference


def test_thirty_to_seventy_per_cent_of_one_pole() -> None:
    # NXP UM10204 rev. 5 (2012), section 7.1: t1 0.3566749 RC, t2 1.2039729 RC, T 0.8473 RC
    levels = step_response(np.array([0.3566749, 1.2039729]), [1.0])
    np.testing.assert_allclose(levels, [0.3, 0.7], rtol=0, atol=5e-8)


def test_one_pole_ten_to_ninety_is_ln_nine() -> None:
    # tutorial value 2.197 (widely printed); exact ln 9 = 2.197224577
    assert transition_10_90([1.0]) == pytest.approx(2.197224577, rel=1e-9)


@pytest.mark.parametrize(("n", "published"), [(1, 2.19722458), (2, 3.35790856)])
def test_equal_poles_are_quantiles_of_the_gamma_distribution(n: int, published: float) -> None:
    # 30-digit computation of the closed form; scipy.stats.gamma.ppf is an independent second source
    found = transition_10_90([1.0] * n)
    assert found == pytest.approx(published, abs=5e-9)
    assert found == pytest.approx(float(np.diff(stats.gamma.ppf([0.1, 0.9], n))[0]), rel=1e-9)


@pytest.mark.parametrize(("ratio", "error_percent"), [(0.1, -0.31), (0.2, -1.41), (0.3, -2.69), (0.5, -5.14)])
def test_root_sum_square_rule_for_unequal_poles_errs_as_computed(ratio: float, error_percent: float) -> None:
    # 30-digit computation: error of sqrt(t1^2 + t2^2) for poles 1 and r, in per cent, two digits
    rule = math.log(9.0) * math.hypot(1.0, ratio)
    assert 100 * (rule / transition_10_90([1.0, ratio]) - 1) == pytest.approx(error_percent, abs=0.005)


@pytest.mark.parametrize(
    ("ramp", "transition"),
    [
        (0.1, 2.19722458),
        (0.2, 2.19722458),
        (0.5, 2.2291696),
        (1.0, 2.3607268),
        (2.0, 2.7572639),
        (3.0, 3.2640167),
        (5.0, 4.488096),
        (10.0, 8.1585489),
    ],
)
def test_ramp_into_a_pole(ramp: float, transition: float) -> None:
    # 30-digit computation; below a ramp of 0.2145557 tau the transition is exactly ln 9 tau
    assert ramp_transition_10_90(ramp, 1.0) == pytest.approx(transition, abs=5e-8)


def test_moving_average_alone() -> None:
    # exact: 0.8 L
    assert transition_10_90((), 5.0) == pytest.approx(4.0, rel=1e-15)


def test_charge_after_whole_time_constants() -> None:
    # U.S. Army electronics subcourse MM 0704, fig. 1-14, prints 63.2, 86.5, 98.2, 99.3 % (its 95.1 is a rounding slip)
    charge = 100 * step_response(np.array([1.0, 2.0, 3.0, 4.0, 5.0]), [1.0])
    np.testing.assert_allclose(charge, [63.2121, 86.4665, 95.0213, 98.1684, 99.3262], rtol=0, atol=5e-5)
