"""Poles driven by straight lines against closed forms and scipy, whatever the sampling of the drive."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from feelcheck.model import FloatArray
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus

AT = np.linspace(-1.0, 12.0, 300)
AFTER = np.maximum(AT, 0.0)
STEP = Stimulus.step()


def response(drive: Stimulus, tau: complex, at: FloatArray = AT, delay: float = 0.0) -> FloatArray:
    return np.asarray(DrivenInstants(drive, at).pole(tau, delay).once[0])


def test_a_step_comes_as_an_exponential_and_again_as_two_equal_poles() -> None:
    found = DrivenInstants(STEP, AT).pole(2.0)
    seen = np.where(AT < 0, 0.0, 1.0)
    np.testing.assert_allclose(found.once[0], (1 - np.exp(-AFTER / 2)) * seen, atol=1e-12)
    np.testing.assert_allclose(found.twice, (1 - (1 + AFTER / 2) * np.exp(-AFTER / 2)) * seen, atol=1e-12)
    np.testing.assert_array_equal(found.drive, seen)


def test_a_ramp_trails_by_the_time_constant() -> None:
    # u = t until 10: y = t - tau (1 - exp(-t / tau)).
    ramp = Stimulus(t_s=np.array([0.0, 10.0]), u=np.array([0.0, 10.0]))
    inside = AT < 10.0
    expected = AFTER - 2.0 * (1 - np.exp(-AFTER / 2.0))
    np.testing.assert_allclose(response(ramp, 2.0)[inside], expected[inside], atol=1e-9)


@pytest.mark.reference
def test_a_regular_drive_passes_as_through_scipys_first_order_hold() -> None:
    # source: scipy.signal.lsim, which holds the input as straight lines between samples
    t = np.linspace(0.0, 10.0, 400)
    u = np.cumsum(np.random.default_rng(3).standard_normal(t.size))
    u -= u[0]
    for tau in (0.05, 0.7, 40.0):
        _, once, _ = signal.lsim(([1.0], [tau, 1.0]), u, t)
        _, twice, _ = signal.lsim(([1.0], [tau**2, 2 * tau, 1.0]), u, t)
        found = DrivenInstants(Stimulus(t_s=t, u=u), t).pole(tau)
        np.testing.assert_allclose(found.once[0], once, atol=1e-8 * np.ptp(u))
        np.testing.assert_allclose(found.twice, twice, atol=1e-8 * np.ptp(u))


@pytest.mark.parametrize("n_knots", [3, 50, 501, 2000])
@pytest.mark.parametrize("regular", [True, False])
@pytest.mark.parametrize("delay", [0.0, 0.37, -0.02])
def test_extra_knots_on_the_same_line_change_nothing(n_knots: int, regular: bool, delay: float) -> None:
    knots = np.linspace(0.0, 10.0, n_knots)
    if not regular:
        knots = np.sort(np.concatenate([[0.0, 10.0], np.random.default_rng(1).uniform(0, 10, n_knots)]))
    drive = Stimulus(t_s=knots, u=knots)
    assert drive.regular is (regular and n_knots > 3) or n_knots == 3
    plain = Stimulus(t_s=np.array([0.0, 10.0]), u=np.array([0.0, 10.0]))
    for at in (AT, knots):
        found, other = response(drive, 0.7, at, delay), response(plain, 0.7, at - delay)
        np.testing.assert_allclose(found, other, atol=1e-9)


@pytest.mark.parametrize("delay", [0.0, 0.013, 0.2, 1.37, -0.013])
def test_a_delay_on_a_shared_grid_is_the_delay_of_any_grid(delay: float) -> None:
    t = np.linspace(-1.0, 9.0, 201)
    u = np.clip(t / 0.7, 0.0, 1.0)
    shared = DrivenInstants(Stimulus(t_s=t, u=u), t).pole(0.4, delay)
    free = DrivenInstants(Stimulus(t_s=t, u=u), t - delay).pole(0.4)
    for name in ("once", "twice", "drive"):
        np.testing.assert_allclose(getattr(shared, name), getattr(free, name), atol=1e-12)


@settings(max_examples=30)
@given(
    gain=st.floats(-50.0, 50.0), offset=st.floats(-5.0, 5.0), stretch=st.floats(0.01, 100.0), tau=st.floats(0.05, 5.0)
)
def test_a_pole_follows_the_units_of_its_drive(gain: float, offset: float, stretch: float, tau: float) -> None:
    t, u = np.array([0.0, 1.0, 1.0, 3.0]), np.array([0.0, 0.5, 2.0, 1.0])
    plain = response(Stimulus(t_s=t, u=u), tau)
    moved = response(Stimulus(t_s=stretch * t, u=offset + gain * u), stretch * tau, stretch * AT)
    np.testing.assert_allclose(moved, offset + gain * plain, atol=1e-7)


def test_before_the_drive_the_output_stands_and_long_after_it_arrives() -> None:
    drive = Stimulus(t_s=np.array([0.0, 1.0]), u=np.array([3.0, -1.0]))
    found = response(drive, 0.01, np.array([-5.0, -1e-9, 50.0]))
    np.testing.assert_allclose(found, [3.0, 3.0, -1.0], atol=1e-9)


def test_knots_far_apart_for_the_pole_do_not_overrun() -> None:
    knots = np.sort(np.random.default_rng(7).uniform(0.0, 1.0, 118))
    found = response(Stimulus(t_s=knots, u=np.sin(9 * knots)), 1e-5, knots)
    assert np.max(np.abs(found - np.sin(9 * knots))[1:]) < 0.02


def test_further_inputs_pass_through_the_same_pole() -> None:
    t = np.linspace(0.0, 10.0, 101)
    first, second = np.clip(t, 0.0, 3.0), np.where(t > 5.0, 1.0, 0.0)
    both = DrivenInstants(STEP, t)
    assert both.pole(0.5).once.shape == (1, 101)
    found = DrivenInstants(Stimulus(t_s=t, u=first), t).pole(0.5, 0.21, np.array([first, second])).once
    np.testing.assert_allclose(found[0], response(Stimulus(t_s=t, u=first), 0.5, t, 0.21), atol=1e-12)
    np.testing.assert_allclose(found[1], response(Stimulus(t_s=t, u=second), 0.5, t, 0.21), atol=1e-12)


@pytest.mark.parametrize("delay", [0.0, 0.7])
@pytest.mark.parametrize("width", [0.3, 2.0, 30.0])
def test_an_average_is_the_area_before_each_instant_over_its_width(width: float, delay: float) -> None:
    knots = np.array([0.0, 0.4, 1.0, 1.0, 2.5, 4.0])
    drive = Stimulus(t_s=knots, u=np.array([0.2, 0.2, 1.0, 0.6, 0.9, 1.0]))
    fine = np.linspace(-40.0, 12.0, 400_001)
    area = np.concatenate([[0.0], np.cumsum(DrivenInstants(drive, fine).itself()[0][0][:-1] * np.diff(fine))])
    wanted = (np.interp(AT - delay, fine, area) - np.interp(AT - delay - width, fine, area)) / width
    np.testing.assert_allclose(DrivenInstants(drive, AT).average(width, delay)[0], wanted, atol=1e-3)
