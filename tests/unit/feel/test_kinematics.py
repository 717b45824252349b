"""Smoothing in use against closed forms: gains, noise, speed steps, flicks, turns of the view."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feelcheck.feel.kinematics import (
    deflection_of_speed_step,
    flick_through_poles,
    gain_at,
    tremor_band_gain,
    white_noise_kept,
)
from feelcheck.feel.rate_control import STEP_S, minimum_jerk, pass_through_poles, turn_of_view
from feelcheck.model import Play

TAU = 0.01
PLAY = Play(turn_rate_deg_s=200.0, held_s=0.2)


@pytest.mark.parametrize(
    ("poles", "hz", "gain"),
    [
        ([], 10.0, 1.0),
        ([0.0], 10.0, 1.0),
        ([1 / (2 * math.pi * 20.0)], 20.0, math.sqrt(0.5)),
        ([1 / (2 * math.pi * 20.0)] * 2, 20.0, 0.5),
        ([TAU], 0.0, 1.0),
    ],
)
def test_a_pole_keeps_half_the_power_at_its_corner(poles: list[float], hz: float, gain: float) -> None:
    assert gain_at(poles, hz) == pytest.approx(gain)


def test_the_tremor_band_is_told_at_8_and_12_hz() -> None:
    assert tremor_band_gain([TAU]) == pytest.approx(
        [1 / math.sqrt(1 + (2 * math.pi * hz * TAU) ** 2) for hz in (8.0, 12.0)]
    )


@pytest.mark.parametrize(
    ("interval_s", "kept"),
    [(TAU * math.log(2), math.sqrt(1 / 3)), (1.0, 1.0), (2e-6, math.sqrt(1e-4))],
)
def test_white_noise_after_a_pole_is_that_of_a_first_order_autoregression(interval_s: float, kept: float) -> None:
    # y' = (1 - a) y + a x has variance a / (2 - a): 1/3 for a = 1/2, all of it for a = 1, a / 2 for small a.
    assert white_noise_kept(TAU, interval_s) == pytest.approx(kept, rel=1e-3)
    assert white_noise_kept(0.0, interval_s) == 1.0


@given(step=st.floats(1e-4, 0.01), weber=st.floats(0.05, 0.5), dead=st.floats(0.0, 0.5), exponent=st.floats(0.5, 3.0))
def test_one_step_above_the_told_deflection_changes_the_speed_by_the_fraction(
    step: float, weber: float, dead: float, exponent: float
) -> None:
    def rate(deflection: float) -> float:
        return float(((deflection - dead) / (1 - dead)) ** exponent)

    found = deflection_of_speed_step(step, weber, dead_zone_fraction=dead, curve_exponent=exponent)
    if found < 1.0:
        assert rate(found + step) / rate(found) == pytest.approx(1 + weber, rel=1e-6)


def test_a_coarse_axis_steps_visibly_everywhere() -> None:
    assert deflection_of_speed_step(0.5, 0.07) == 1.0


def test_a_pole_that_is_short_against_the_flick_trails_by_itself_times_the_peak_speed() -> None:
    # Peak speed of a minimum-jerk flick: 1.875 / T. Short at the end: 60 r^3 - 360 r^4 + 720 r^5 with r = tau / T,
    # the mean of its last stretch 10 v^3 - 15 v^4 + 6 v^5 over an exponential delay.
    small = flick_through_poles([0.001], 0.1)
    assert small.peak_trailing_fraction == pytest.approx(0.01875, rel=0.02)
    assert small.peak_speed_kept_fraction == pytest.approx(1.0, abs=2e-3)
    assert small.peak_speed_delay_s == pytest.approx(0.001, abs=1e-4)
    large = flick_through_poles([0.005], 0.1)
    assert large.short_at_end_fraction == pytest.approx(60 * 0.05**3 - 360 * 0.05**4 + 720 * 0.05**5, rel=0.01)


def test_without_poles_a_flick_passes_as_it_is() -> None:
    passage = flick_through_poles([], 0.1)
    assert passage.peak_trailing_fraction == 0.0
    assert (passage.peak_speed_kept_fraction, passage.peak_speed_delay_s) == (1.0, 0.0)


def test_what_a_flick_trails_by_depends_on_pole_over_duration_only() -> None:
    one, two = flick_through_poles([0.004, 0.002], 0.1), flick_through_poles([0.008, 0.004], 0.2)
    assert two.peak_trailing_fraction == pytest.approx(one.peak_trailing_fraction, rel=2e-3)
    assert two.peak_speed_kept_fraction == pytest.approx(one.peak_speed_kept_fraction, rel=1e-4)
    assert two.peak_speed_delay_s == pytest.approx(2 * one.peak_speed_delay_s, abs=2 * STEP_S)


def test_minimum_jerk_begins_and_ends_still() -> None:
    u = np.linspace(-0.5, 1.5, 2001)
    path = minimum_jerk(u)
    assert (path[0], path[-1]) == (0.0, 1.0)
    assert np.max(np.gradient(path, u)) == pytest.approx(1.875, rel=1e-4)
    np.testing.assert_allclose(path + path[::-1], 1.0, atol=1e-12)


def test_each_direction_has_its_own_pole() -> None:
    # Up for 50 ms through 5 ms, down through 20 ms: exponentials from where each begins (grid of 20 us).
    signal = np.repeat([0.0, 1.0, 0.0], [1, 2500, 2500])
    output = pass_through_poles(signal, [0.005], [0.02])
    t_s = STEP_S * np.arange(2500)
    np.testing.assert_allclose(output[1:2501], 1 - np.exp(-t_s / 0.005), atol=4e-3)
    np.testing.assert_allclose(output[2501:], (1 - math.exp(-10)) * np.exp(-t_s / 0.02), atol=1e-3)


def test_poles_on_one_side_only_smooth_that_side_only() -> None:
    signal = np.repeat([0.0, 1.0, 0.0], [1, 500, 500])
    output = pass_through_poles(signal, [], [0.02])
    assert output[3] == 1.0
    assert output[-1] == pytest.approx(math.exp(-500 * STEP_S / 0.02), rel=2e-3)


@settings(max_examples=20)
@given(scale=st.floats(0.01, 50.0), offset=st.floats(-3.0, 3.0))
def test_unlike_poles_still_follow_size_and_offset(scale: float, offset: float) -> None:
    signal = np.array([0.0, 1.0, 1.0, -0.5, 0.25, 0.25, 0.0])
    plain = pass_through_poles(signal, [2e-5], [7e-5])
    np.testing.assert_allclose(
        pass_through_poles(offset + scale * signal, [2e-5], [7e-5]), offset + scale * plain, atol=1e-9
    )


def test_a_pulse_turns_the_view_by_rate_times_its_length_and_the_difference_of_the_poles() -> None:
    # Out: the output is late by tau_up; back: it goes on for tau_down. 200 deg/s, 0.2 s, 4 and 10 ms.
    run = turn_of_view(PLAY, [0.004], [0.010])
    assert run.carry_on_deg == pytest.approx(2.0, abs=0.01)
    assert run.angle_deg == pytest.approx(200 * (0.2 + 0.010 - 0.004), abs=0.01)
    other = turn_of_view(PLAY, [0.004], [0.010], sign=-1)
    assert other.carry_on_deg == pytest.approx(-0.8, abs=0.01)
    assert other.angle_deg == pytest.approx(-200 * (0.2 + 0.004 - 0.010), abs=0.01)


def test_a_dead_zone_cuts_the_tail_of_the_carry_on() -> None:
    # Integral of (exp(-t / tau) - d) / (1 - d) until it reaches 0: tau (1 - d ln(1 / d) / (1 - d)).
    run = turn_of_view(Play(turn_rate_deg_s=200.0, dead_zone_fraction=0.1), [TAU], [TAU])
    assert run.carry_on_deg == pytest.approx(200 * TAU * (1 - 0.1 * math.log(10) / 0.9), abs=0.01)


@pytest.mark.parametrize("exponent", [0.5, 2.0, 3.0])
def test_a_response_curve_divides_the_carry_on_by_its_exponent(exponent: float) -> None:
    # exp(-t / tau) to the power n decays n times as fast.
    run = turn_of_view(Play(turn_rate_deg_s=200.0, curve_exponent=exponent), [TAU], [TAU])
    assert run.carry_on_deg == pytest.approx(200 * TAU / exponent, abs=0.01)


@pytest.mark.parametrize("band", [0.02, 0.1, 0.5])
def test_one_pole_settles_after_the_logarithm_of_the_band(band: float) -> None:
    run = turn_of_view(Play(rest_band_fraction=band), [TAU], [TAU])
    assert run.settle_s == pytest.approx(TAU * math.log(1 / band), abs=2 * STEP_S)


def test_a_slow_way_out_turns_less_than_a_pulse_of_the_same_hold() -> None:
    # The way out adds its own area: half of its duration for a minimum-jerk path.
    run = turn_of_view(PLAY, [], [], out_s=0.1)
    assert run.angle_deg == pytest.approx(200 * (0.2 + 0.05), abs=0.02)
    assert run.carry_on_deg == pytest.approx(0.0, abs=0.01)


def test_no_filter_trails_nothing_and_turns_nothing_on() -> None:
    """Once half a step of the grid was told as 0.019 % of trailing."""
    assert flick_through_poles([], 0.1).peak_trailing_fraction == 0.0
    run = turn_of_view(Play(turn_rate_deg_s=200.0, held_s=0.2), [], [])
    assert (run.carry_on_deg, run.settle_s) == pytest.approx((0.0, 0.0), abs=1e-12)
