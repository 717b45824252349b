"""The second world's electronics do what their parts promise."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.testing.in_hand.electronics import filtered_codes, output_codes, run_stage, sensed, through_pole
from feelcheck.testing.in_hand.mechanics import STEP_S
from feelcheck.testing.in_hand.world import Firmware, Sensor, Stage

T_S = np.arange(6000) * STEP_S
STEP = np.where(T_S >= 0.05, 1.0, 0.0)


def area_above_s(out: np.ndarray, swing: float = 1.0) -> float:
    """Mean delay of a response to a step at 50 ms: the area between them."""
    return float(np.sum(STEP * swing - out) / swing * STEP_S)


@pytest.mark.parametrize("tau_s", [0.0005, 0.004, 0.02])
def test_a_pole_delays_a_step_by_its_time_constant(tau_s: float) -> None:
    out = through_pole(STEP, tau_s, tau_s)
    assert area_above_s(out) == pytest.approx(tau_s, abs=STEP_S)
    at_tau = np.interp(0.05 + tau_s, T_S, out)
    assert at_tau == pytest.approx(1 - np.exp(-1), abs=1.5 * STEP_S / tau_s)


def test_rising_and_falling_have_their_own_time_constants() -> None:
    up, down = through_pole(STEP, 0.003, 0.007), through_pole(1.0 - STEP, 0.003, 0.007)
    assert area_above_s(up) == pytest.approx(0.003, abs=STEP_S)
    assert area_above_s(1.0 - down) == pytest.approx(0.007, abs=STEP_S)


def test_poles_add_their_delays() -> None:
    assert area_above_s(through_pole(through_pole(STEP, 0.004, 0.004), 0.002, 0.002)) == pytest.approx(0.006, rel=0.02)


@pytest.mark.parametrize("order", [1, 2, 3, 4])
def test_a_recursion_delays_by_two_to_the_shift_less_one_updates(order: int) -> None:
    codes = np.where(np.arange(800) >= 100, 10_000_000, 0)
    stage = Stage(kind="recursive", order=order, fraction_bits=12)
    out = run_stage(codes, stage)
    first = out[100] / 10_000_000
    assert first == pytest.approx(2.0**-order, rel=1e-3)
    assert float(np.sum(codes - out)) / 10_000_000 == pytest.approx(2**order - 1, rel=1e-3)
    assert stage.delay_updates == 2**order - 1


@pytest.mark.parametrize(("towards_zero", "rest_up", "rest_down"), [(False, 7, 0), (True, 7, 7)])
def test_a_recursion_without_fraction_bits_stops_short(towards_zero: bool, rest_up: int, rest_down: int) -> None:
    stage = Stage(kind="recursive", order=3, towards_zero=towards_zero)
    up = run_stage(np.array([0] + [1000] * 300), stage)
    down = run_stage(np.array([1000] + [0] * 300), stage)
    assert 1000 - up[-1] == rest_up
    assert down[-1] == rest_down


def test_a_boxcar_is_the_mean_of_its_last_values() -> None:
    values = np.random.default_rng(3).integers(0, 4096, 200)
    out = run_stage(values, Stage(kind="boxcar", order=8))
    assert out[100] == values[93:101].sum() // 8
    step = np.where(np.arange(100) >= 50, 8000, 0)
    assert np.sum(step - run_stage(step, Stage(kind="boxcar", order=8))) / 8000 == 3.5


def test_a_sensor_bends_and_mixes() -> None:
    bent = sensed(np.array([0.5]), np.array([1.0]), Sensor(square=0.1, cube=-0.2, cross=0.03))
    assert bent[0] == pytest.approx(0.5 + 0.025 - 0.025 + 0.03)


def test_the_converter_has_its_width_and_asks_at_its_instants() -> None:
    firmware = Firmware(bits=10, used=0.5, noise_codes=0.0)
    ramp = np.linspace(-1.0, 1.0, T_S.size)
    at_s = np.array([0.0, T_S[-1] / 2, T_S[-1]])
    codes = filtered_codes(ramp, at_s, firmware, np.random.default_rng(1))
    assert codes.tolist() == [256, 512, 767]


def test_outputs_are_calibrated_and_clamped() -> None:
    plain = Firmware(bits=12, used=0.8, gain=0.9)
    top = 4095
    rim, back = round(top / 2 * 1.8), round(top / 2 * 0.2)
    x, y = output_codes(np.array([rim]), np.array([back]), plain)
    assert x[0] == pytest.approx(0.9 * 32767, rel=1e-3)
    assert y[0] == pytest.approx(-0.9 * 32767, rel=1e-3)
    x, _ = output_codes(np.array([rim]), np.array([top // 2]), Firmware(gain=1.2))
    assert x[0] == 32767
    x, y = output_codes(np.array([rim]), np.array([rim]), Firmware(gain=0.9, circle_clamp=True))
    assert np.hypot(x[0], y[0]) == pytest.approx(32767, rel=1e-3)


def test_eight_bits_widened_have_256_levels() -> None:
    every = np.arange(4096)
    x, _ = output_codes(every, every, Firmware(used=1.0, gain=1.0, out_bits=8))
    assert np.unique(x).size == 256
