"""Kinematics of use against closed forms and independent computation.

Sources: rate-control angles are exact integrals of the one-pole response (turn rate times the difference of the areas
above the step); |H| of a pole and the variance of a filtered white series are textbook closed forms (A. V. Oppenheim,
R. W. Schafer, Discrete-Time Signal Processing; from memory); flick rows are an independent convolution with
scipy.signal.lsim; the minimum-jerk path is T. Flash, N. Hogan, J. Neurosci. 5:1688-1703 (1985); the 7 % and 30 % speed
thresholds are De Bruyn & Orban (1988) and Snowden & Braddick (1991).
"""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from scipy import signal

from feelcheck.feel.kinematics import (
    deflection_of_speed_step,
    flick_through_poles,
    gain_at,
    tremor_band_gain,
    white_noise_kept,
)
from feelcheck.feel.rate_control import minimum_jerk, pass_through_poles, turn_of_view
from feelcheck.hand.gate_stop.choice import smoothing_delay_s
from feelcheck.hand.gate_stop.search import Found
from feelcheck.model import Play

pytestmark = pytest.mark.reference
PLAY = Play(turn_rate_deg_s=200.0, held_s=0.2)


@pytest.mark.parametrize(
    ("press_ms", "release_ms", "sign", "angle_deg"),
    [(8, 8, 1, 40.0), (5, 8, 1, 40.6), (8, 5, 1, 39.4), (5, 8, -1, -39.4)],
)
def test_out_and_back_angles(press_ms: float, release_ms: float, sign: int, angle_deg: float) -> None:
    run = turn_of_view(PLAY, [press_ms / 1e3], [release_ms / 1e3], sign=sign)
    assert run.angle_deg == pytest.approx(angle_deg, abs=2e-3)


def test_a_pair_of_opposite_flicks_drifts_by_twice_the_asymmetry() -> None:
    right = turn_of_view(PLAY, [0.005], [0.008])
    left = turn_of_view(PLAY, [0.005], [0.008], sign=-1)
    assert right.angle_deg + left.angle_deg == pytest.approx(1.2, abs=2e-3)


@pytest.mark.parametrize("tau_s", [0.0095, 0.0035, 0.0014])
def test_a_pole_lags_a_ramp_by_its_time_constant(tau_s: float) -> None:
    # closed form: behind a line a pole runs along a line, its time constant later, however coarse the grid is
    output = pass_through_poles(np.arange(400.0), [tau_s], [tau_s], step_s=0.001)
    assert 399.0 - output[-1] == pytest.approx(tau_s / 0.001, abs=1e-9)


def test_an_average_of_eight_reports_lags_by_three_and_a_half() -> None:
    # closed form: (L - 1)/2 samples
    shape, batch = SimpleNamespace(n_average=8), SimpleNamespace(interval_s=0.001)
    found = SimpleNamespace(fit=SimpleNamespace(shape=shape, tau_s=np.zeros((1, 0))), batch=batch)
    assert 1e3 * smoothing_delay_s(cast("Found", found)) == pytest.approx([3.5])


@pytest.mark.parametrize("tau_ms", [2.0, 8.0, 20.0])
def test_carry_on_is_turn_rate_times_delay(tau_ms: float) -> None:
    run = turn_of_view(PLAY, [tau_ms / 1e3], [tau_ms / 1e3])
    assert run.carry_on_deg == pytest.approx(200.0 * tau_ms / 1e3, rel=5e-3)


def test_settling_into_two_per_cent_takes_ln_50_time_constants() -> None:
    run = turn_of_view(Play(turn_rate_deg_s=200.0, held_s=0.5, rest_band_fraction=0.02), [0.01], [0.01])
    assert run.settle_s == pytest.approx(0.01 * math.log(50), rel=5e-3)


FLICKS = [
    (0.01, 1.87, 0.999, 0.010, 0.01),
    (0.02, 3.74, 0.997, 0.020, 0.04),
    (0.05, 9.20, 0.981, 0.049, 0.55),
    (0.10, 17.5, 0.934, 0.092, 3.1),
    (0.20, 30.7, 0.818, 0.154, 12.6),
    (0.30, 40.3, 0.717, 0.196, 22.9),
    (0.50, 53.2, 0.567, 0.248, 39.5),
    (1.00, 69.4, 0.370, 0.313, 61.7),
]


@pytest.mark.parametrize(("ratio", "trailing", "kept", "delayed", "short"), FLICKS)
def test_one_pole_on_a_minimum_jerk_flick(
    ratio: float, trailing: float, kept: float, delayed: float, short: float
) -> None:
    passage = flick_through_poles([0.1 * ratio], 0.1)
    assert 100 * passage.peak_trailing_fraction == pytest.approx(trailing, abs=0.06)
    assert passage.peak_speed_kept_fraction == pytest.approx(kept, abs=1.5e-3)
    assert passage.peak_speed_delay_s / 0.1 == pytest.approx(delayed, abs=1.5e-3)
    assert 100 * passage.short_at_end_fraction == pytest.approx(short, abs=0.06)


@pytest.mark.parametrize("poles_s", [[0.012], [0.006, 0.004]])
def test_the_flick_agrees_with_an_independent_convolution(poles_s: list[float]) -> None:
    t_s = np.linspace(0.0, 0.2, 20001)
    stick = minimum_jerk(t_s / 0.1)
    denominator = np.poly1d([1.0])
    for tau in poles_s:
        denominator *= np.poly1d([tau, 1.0])
    _, output, _ = signal.lsim(([1.0], denominator.coeffs), stick, t_s)
    passage = flick_through_poles(poles_s, 0.1)
    assert passage.peak_trailing_fraction == pytest.approx(float(np.max(stick - output)), abs=4e-4)


TREMOR = [
    (1, 1.000, 0.999, 0.998, 0.997, 0.68),
    (2, 1.000, 0.995, 0.992, 0.989, 0.495),
    (5, 0.998, 0.970, 0.954, 0.936, 0.32),
    (8, 0.995, 0.928, 0.893, 0.856, 0.25),
    (10, 0.992, 0.893, 0.847, 0.798, 0.22),
    (16, 0.980, 0.779, 0.705, 0.638, 0.18),
    (20, 0.970, 0.705, 0.623, 0.553, 0.16),
    (30, 0.936, 0.553, 0.469, 0.404, 0.13),
]


@pytest.mark.parametrize(("tau_ms", "at_2_hz", "at_8_hz", "at_10_hz", "at_12_hz", "noise_kept"), TREMOR)
def test_tremor_band_and_white_noise(
    tau_ms: float, at_2_hz: float, at_8_hz: float, at_10_hz: float, at_12_hz: float, noise_kept: float
) -> None:
    # the table's digits: half of the last one; 1/sqrt(1 + (2 pi f tau)^2) and sqrt(a/(2 - a)), a = 1 - exp(-T/tau)
    poles_s = [tau_ms / 1e3]
    assert tremor_band_gain(poles_s) == pytest.approx((at_8_hz, at_12_hz), abs=5.1e-4)
    assert (gain_at(poles_s, 2.0), gain_at(poles_s, 10.0)) == pytest.approx((at_2_hz, at_10_hz), abs=5.1e-4)
    assert white_noise_kept(tau_ms / 1e3, 0.001) == pytest.approx(noise_kept, abs=0.0051)


def test_gain_agrees_with_scipy() -> None:
    denominator = np.polymul([0.003, 1.0], [0.007, 1.0])
    _, response = signal.freqs([1.0], denominator, worN=[2 * math.pi * 40.0])
    assert gain_at([0.003, 0.007], 40.0) == pytest.approx(float(abs(response[0])), rel=1e-12)


@pytest.mark.parametrize(("weber", "deg_s", "deflection"), [(0.07, 22.4, 0.112), (0.30, 5.2, 0.0262)])
def test_speed_steps_of_an_8_bit_axis(weber: float, deg_s: float, deflection: float) -> None:
    found = deflection_of_speed_step(2 / 255, weber)
    assert found == pytest.approx(deflection, abs=5e-4)
    assert 200.0 * found == pytest.approx(deg_s, abs=0.1)


def test_a_steeper_curve_needs_more_deflection_for_even_speed() -> None:
    assert deflection_of_speed_step(0.01, 0.07, curve_exponent=2.0) > deflection_of_speed_step(0.01, 0.07)
