"""What kernels must not care about: units, origins, direction, order."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from feelcheck.model import FloatArray
from feelcheck.numerics.allan import averaging_factors, oadev
from feelcheck.numerics.combs import fit_comb
from feelcheck.numerics.crossings import (
    crossing_instants,
    transition,
)
from feelcheck.numerics.descriptive import Description, describe
from feelcheck.numerics.one_pole import step_response, transition_10_90
from feelcheck.numerics.si_values import format_si, parse_si
from feelcheck.numerics.spring_return import ReturnFit, half_way_s, overshoot_of, return_path

SAMPLES = hnp.arrays(np.float64, st.integers(3, 40), elements=st.floats(-100.0, 100.0))
GAIN = st.floats(0.01, 100.0)
OFFSET = st.floats(-100.0, 100.0)
TAU = st.floats(0.1, 3.0)
quick = settings(max_examples=40)


def edge_of(tau: float, zeta: float = 0.0) -> tuple[FloatArray, FloatArray]:
    t = np.linspace(-1.0, 20.0 * tau, 800)
    return t, step_response(t, [tau, tau * zeta] if zeta else [tau])


@quick
@given(tau=TAU, gain=GAIN, offset=OFFSET, shift=OFFSET, stretch=GAIN)
def test_a_transition_moves_with_the_axes(tau: float, gain: float, offset: float, shift: float, stretch: float) -> None:
    t, y = edge_of(tau)
    plain = transition(t, y, 0.0, 1.0)
    moved = transition(shift + stretch * t, offset + gain * y, offset, offset + gain)
    upside_down = transition(t, -y, 0.0, -1.0)
    assert moved.duration == pytest.approx(stretch * plain.duration, rel=1e-6)
    assert moved.t50 == pytest.approx(shift + stretch * plain.t50, rel=1e-6, abs=1e-6)
    assert (upside_down.duration, upside_down.rising, plain.rising) == (plain.duration, False, True)


@quick
@given(tau=TAU)
def test_an_edge_read_backwards_takes_as_long(tau: float) -> None:
    t, y = edge_of(tau)
    back = transition(-t[::-1], y[::-1], float(y[-1]), 0.0)
    forth = transition(t, y, 0.0, float(y[-1]))
    assert back.duration == pytest.approx(forth.duration, rel=1e-9)
    assert (back.t10, back.t90) == pytest.approx((-forth.t90, -forth.t10), rel=1e-9)


@quick
@given(y=SAMPLES, level=st.floats(-99.0, 99.0))
def test_a_crossing_lies_between_a_sample_below_and_one_not_below(y: FloatArray, level: float) -> None:
    t = np.arange(y.size, dtype=np.float64)
    found = crossing_instants(t, y, level)
    assert found.size == np.sum((y[1:] >= level) != (y[:-1] >= level))
    assert np.all(np.diff(found) >= 0)
    np.testing.assert_allclose(np.interp(found, t, y), level, atol=1e-6)


@quick
@given(y=SAMPLES, gain=GAIN, offset=OFFSET)
def test_moments_follow_the_unit_and_the_origin(y: FloatArray, gain: float, offset: float) -> None:
    plain, moved, back = describe(y), describe(offset + gain * y), describe(y[::-1])
    assert moved.mean == pytest.approx(offset + gain * plain.mean, rel=1e-9, abs=1e-8)
    assert moved.sd == pytest.approx(gain * plain.sd, rel=1e-6, abs=1e-6 * gain)
    assert (back.sd, back.lag_1) == pytest.approx((plain.sd, plain.lag_1), rel=1e-6, abs=1e-9)
    assert -1 <= plain.lag_1 <= 1


@pytest.mark.parametrize(
    ("lag_1", "n", "expected"), [(0.0, 90, 90.0), (0.5, 90, 30.0), (-0.5, 90, 90.0), (1.0, 90, 1.0), (0.9, 5, 1.0)]
)
def test_neighbours_that_are_alike_count_less(lag_1: float, n: int, expected: float) -> None:
    """n (1 - rho) / (1 + rho) for a first-order autoregression, never below one."""
    assert Description(mean=0.0, sd=1.0, lag_1=lag_1, n=n).n_effective == pytest.approx(expected)


@quick
@given(y=SAMPLES, gain=GAIN, offset=OFFSET)
def test_allan_deviations_see_changes_only(y: FloatArray, gain: float, offset: float) -> None:
    assert oadev(offset + gain * y, 1) == pytest.approx(gain * oadev(y, 1), rel=1e-6, abs=1e-6 * gain)
    assert oadev(y[::-1], 1) == pytest.approx(oadev(y, 1), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("n", "pairs", "lengths"), [(1, 3, ()), (3, 3, ()), (4, 3, (1,)), (64, 1, (1, 2, 4, 8, 16, 32))]
)
def test_averaging_lengths(n: int, pairs: int, lengths: tuple[int, ...]) -> None:
    assert averaging_factors(n, pairs=pairs) == lengths


@settings(max_examples=15)
@given(spacing=st.floats(3.0, 40.0), shift=st.floats(-1e4, 1e4), stretch=st.floats(0.1, 10.0))
def test_a_comb_moves_with_the_axis(spacing: float, shift: float, stretch: float) -> None:
    teeth = spacing * np.array([0, 1, 2, 4, 5, 7, 8, 9, 11, 12, 13, 15, 16, 18, 19, 20], dtype=np.float64)
    found = fit_comb([shift + stretch * teeth], stretch * 2.0, stretch * 60.0)
    assert found is not None
    assert found.spacing == pytest.approx(stretch * spacing, rel=1e-6)
    assert found.residual_rms == pytest.approx(0.0, abs=1e-6 * stretch * spacing)


@quick
@given(slow=TAU, ratio=st.floats(0.01, 0.99), average=st.floats(0.0, 2.0), stretch=GAIN)
def test_a_chain_of_poles_has_no_order_and_no_unit_of_time(
    slow: float, ratio: float, average: float, stretch: float
) -> None:
    poles = [slow, slow * ratio]
    whole = transition_10_90(poles, average)
    assert transition_10_90(poles[::-1], average) == pytest.approx(whole, rel=1e-9)
    assert transition_10_90([stretch * tau for tau in poles], stretch * average) == pytest.approx(
        stretch * whole, rel=1e-9
    )
    # More smoothing is never quicker.
    assert whole >= max(transition_10_90([slow]), 0.8 * average) - 1e-9


@pytest.mark.parametrize("share", [1e-300, 1e-12, 1e-8, 1e-6, 1e-4])
def test_a_vanishing_average_leaves_the_transition_of_the_pole(share: float) -> None:
    # An average of length L adds L^2 / 12 to the spread of the pole's delay, nothing of first order.
    assert transition_10_90([1.0], share) == pytest.approx(np.log(9), rel=1e-6)
    assert step_response(np.array([1.0]), [1.0, 0.5], share)[0] == pytest.approx((1 - np.exp(-1.0)) ** 2, abs=1e-4)


@quick
@given(omega=st.floats(20.0, 500.0), zeta=st.floats(0.05, 0.9), tau=st.just(0.0) | st.floats(1e-5, 0.05), stretch=GAIN)
def test_a_spring_return_has_no_unit_of_time(omega: float, zeta: float, tau: float, stretch: float) -> None:
    t = np.linspace(-0.01, 0.2, 50)
    np.testing.assert_allclose(
        return_path(stretch * t, omega / stretch, zeta, stretch * tau), return_path(t, omega, zeta, tau), atol=1e-9
    )
    assert overshoot_of(omega / stretch, zeta, stretch * tau) == pytest.approx(overshoot_of(omega, zeta, tau), abs=1e-9)
    assert half_way_s(omega / stretch, zeta, stretch * tau) == pytest.approx(
        stretch * half_way_s(omega, zeta, tau), rel=1e-6
    )


def test_a_ring_is_slower_than_the_undamped_one_and_a_pole_lets_part_of_it_through() -> None:
    # omega_d = omega sqrt(1 - zeta^2) = 0.8 omega at zeta 0.6; |H| = 1 / sqrt(2) where omega_d tau = 1.
    fit = ReturnFit(omega_rad_s=100.0, zeta=0.6, tau_s=1 / 80.0, start_s=0.0, rms=0.0, covariance=np.zeros((4, 4)))
    assert fit.ring_hz == pytest.approx(80.0 / (2 * np.pi))
    assert fit.passed == pytest.approx(np.sqrt(0.5))


@quick
@given(mantissa=st.integers(100, 999), power=st.integers(-12, 8), unit=st.sampled_from(["ohm", "F", "V", ""]))
def test_three_digits_survive_being_written_with_a_prefix(mantissa: int, power: int, unit: str) -> None:
    value = float(f"{mantissa}e{power}")
    text = format_si(value, unit)
    assert parse_si(text) == pytest.approx(value, rel=1e-12)
    assert "e" not in text.replace("e-", "e") or value >= 1e12


@pytest.mark.parametrize(
    ("value", "text"),
    [(999.6, "1 kohm"), (-4700.0, "-4.7 kohm"), (0.0, "0 ohm"), (1e-6, "1 uohm"), (4.0e-13, "4e-13 ohm")],
)
def test_values_at_the_edges_of_the_prefixes(value: float, text: str) -> None:
    assert format_si(value, "ohm") == text
