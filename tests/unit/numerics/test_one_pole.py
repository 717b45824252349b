"""One-pole algebra against its differential equation and against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from feelcheck.numerics.one_pole import (
    kinked_powers,
    one_sided_ramps,
    ramp_transition_10_90,
    residues,
    step_response,
    transition_10_90,
)

FINE_S = 1e-3


def through_pole(t: np.ndarray, u: np.ndarray, tau: float) -> np.ndarray:
    """Run an input through a pole numerically, from the steady state at its first value."""
    _, y, _ = signal.lsim(([1.0], [tau, 1.0]), (u - u[0]).tolist(), (t - t[0]).tolist())
    return np.asarray(np.asarray(y, dtype=np.float64) + u[0])


@pytest.mark.reference
@pytest.mark.parametrize("power", [1, 2, 3, 4])
def test_a_power_that_stops_is_what_a_simulated_pole_makes_of_it(power: int) -> None:
    # scipy.signal.lsim (first-order hold): error below the step squared over 8 times the second derivative
    t = np.arange(-40.0, 8.0, FINE_S)
    u = np.minimum(t, 0.0) ** power
    expected = through_pole(t, u, 1.0)
    late = t > -2.0
    found = kinked_powers(t[None, late], np.array([1.0]), 4)[0, :, power - 1]
    np.testing.assert_allclose(found, expected[late], rtol=0, atol=1e-5)


@pytest.mark.reference
def test_ramps_are_what_a_simulated_pole_makes_of_them() -> None:
    t = np.arange(-1.0, 8.0, FINE_S)
    starts = np.array([0.0, 0.5, 3.0])
    found = one_sided_ramps(t[None], np.array([0.7]), starts)[0]
    for k, start in enumerate(starts):
        np.testing.assert_allclose(found[:, k], through_pole(t, np.maximum(t - start, 0.0), 0.7), rtol=0, atol=1e-9)


def test_ramps_with_tiny_and_zero_time_constants_are_the_ramps_themselves() -> None:
    s, starts = np.linspace(-1.0, 2.0, 50)[None], np.array([0.0, 0.5, 1.5])
    plain = one_sided_ramps(s, np.array([0.0]), starts)
    np.testing.assert_allclose(one_sided_ramps(s, np.array([1e-6]), starts), plain, rtol=0, atol=2e-6)


def test_both_ways_to_compute_the_decay_agree() -> None:
    s, starts = np.linspace(-1.0, 9.0, 200)[None], np.array([0.0, 2.0, 6.0])
    direct, product = (one_sided_ramps(s, np.array([tau]), starts) for tau in (0.0099999, 0.0100001))
    np.testing.assert_allclose(direct, product, rtol=0, atol=1e-6)


def test_residues_sum_to_one_and_make_two_poles() -> None:
    weights = residues(np.array([3.0, 1.0]))
    t = np.linspace(0.0, 10.0, 7)
    parts = weights[0] * step_response(t, [3.0]) + weights[1] * step_response(t, [1.0])
    assert weights.sum() == pytest.approx(1.0, rel=1e-15)
    np.testing.assert_allclose(parts, step_response(t, [3.0, 1.0]), rtol=1e-12)


@pytest.mark.reference
@pytest.mark.parametrize(("poles", "average"), [([1.0], 0.0), ([2.0, 0.3], 0.0), ([1.0, 1.0], 0.0)])
def test_step_response_is_scipys(poles: list[float], average: float) -> None:
    denominator: np.ndarray = np.ones(1)
    for tau in poles:
        denominator = np.polymul(denominator, [tau, 1.0])
    t, expected = signal.step(([1.0], denominator), T=np.linspace(0.0, 12.0, 200))
    np.testing.assert_allclose(step_response(t, poles, average), expected, rtol=0, atol=1e-8)


def test_average_of_a_step_is_a_ramp_and_its_pole_a_filtered_ramp() -> None:
    t = np.linspace(-1.0, 5.0, 61)
    np.testing.assert_allclose(step_response(t, (), 2.0), np.clip(t / 2.0, 0.0, 1.0), rtol=0, atol=1e-15)
    fine = np.arange(0.0, 5.0, FINE_S)
    expected = through_pole(fine, np.clip(fine / 2.0, 0.0, 1.0), 0.5)
    np.testing.assert_allclose(step_response(fine, [0.5], 2.0), expected, rtol=0, atol=1e-9)


def test_two_poles_under_an_average_need_no_special_case_where_they_meet() -> None:
    t = np.linspace(0.0, 10.0, 50)
    near, equal = step_response(t, [1.0, 1.0 - 1e-5], 1.5), step_response(t, [1.0, 1.0], 1.5)
    np.testing.assert_allclose(near, equal, rtol=0, atol=1e-5)


def test_transition_scales_with_time() -> None:
    assert transition_10_90([0.004, 0.001], 0.002) == pytest.approx(1e-3 * transition_10_90([4.0, 1.0], 2.0), rel=1e-9)
    assert ramp_transition_10_90(2.0, 1.0) == pytest.approx(transition_10_90([1.0], 2.0), rel=1e-12)


def test_no_pole_and_no_average_have_no_transition() -> None:
    assert transition_10_90() == 0.0
    assert transition_10_90([0.0]) == 0.0


def test_three_poles_are_refused() -> None:
    with pytest.raises(ValueError, match="one or two poles"):
        step_response(np.array([1.0]), [1.0, 2.0, 3.0])
