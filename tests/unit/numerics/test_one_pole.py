"""One-pole algebra against its differential equation and against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal
from scipy.optimize import brentq

from feelcheck.numerics.one_pole import (
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


@pytest.mark.parametrize(
    ("poles", "average_s"), [((1.0, 0.2), 0.0), ((3.0, 0.01), 2.0), ((1.0, 1.0), 0.0), ((0.5,), 9.0)]
)
def test_a_transition_ends_where_the_library_finds_the_levels(poles: tuple[float, ...], average_s: float) -> None:
    end = average_s + 8.0 * sum(poles)

    def excess(t: float, level: float) -> float:
        return float(step_response(np.array([t]), poles, average_s)[0]) - level

    low, high = (brentq(excess, 0.0, end, args=(level,), xtol=1e-13 * end, rtol=1e-13) for level in (0.1, 0.9))
    assert transition_10_90(poles, average_s) == pytest.approx(high - low, rel=1e-9)
