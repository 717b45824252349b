"""The sensor."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.model import FloatArray
from feelcheck.sources.synthetic.gimbal import STEP_S
from feelcheck.sources.synthetic.sensor import Sensor, sense

QUIET = Sensor(noise_fs=0.0)
RAMP = np.linspace(-1.2, 1.2, 24_001)
ZERO = np.zeros_like(RAMP)


def sensed(sensor: Sensor, along: FloatArray = RAMP, across: FloatArray = ZERO, seed: int = 1) -> FloatArray:
    return sense(sensor, along, across, np.random.default_rng(seed))


def test_a_quiet_sensor_passes_the_deflection() -> None:
    assert sensed(QUIET) == pytest.approx(RAMP)


def test_an_inverted_sensor_falls() -> None:
    assert sensed(Sensor(noise_fs=0.0, sensitivity=0.9, inverted=True)) == pytest.approx(-0.9 * RAMP)


def test_a_turned_sensor_sees_the_other_axis() -> None:
    signal = sensed(Sensor(noise_fs=0.0, orientation_deg=30.0), ZERO, RAMP)
    assert signal == pytest.approx(0.5 * RAMP)


def test_hard_saturation_cuts_and_soft_saturation_bends() -> None:
    hard = sensed(Sensor(noise_fs=0.0, saturation="hard", saturation_level=0.9))
    soft = sensed(Sensor(noise_fs=0.0, saturation="soft", saturation_level=1.3))
    assert hard.max() == 0.9
    assert np.all(np.diff(soft) > 0.0)
    assert soft.max() == pytest.approx(1.3 * np.tanh(1.2 / 1.3))


def test_noise_is_white_and_of_the_stated_size() -> None:
    noise = sensed(Sensor(noise_fs=0.01), ZERO)
    assert noise.std() == pytest.approx(0.01, rel=0.03)
    assert abs(np.corrcoef(noise[1:], noise[:-1])[0, 1]) < 0.03  # 4.6 standard errors of 1/sqrt(24000)


def test_drift_spreads_by_its_size_in_a_minute() -> None:
    minute = np.zeros(round(60.0 / STEP_S))
    ends = [sensed(Sensor(noise_fs=0.0, drift_fs=0.01), minute, minute, seed)[-1] for seed in range(60)]
    assert np.std(ends) == pytest.approx(0.01, rel=0.35)  # 3.8 standard errors of 1/sqrt(120)


def test_the_refresh_holds_its_values_for_its_interval() -> None:
    refresh_s = 1.0 / 1500.0
    signal = sensed(Sensor(noise_fs=0.0, refresh_s=refresh_s))
    changes = np.flatnonzero(np.diff(signal))
    lasted_s = np.diff(changes) * STEP_S
    assert lasted_s.mean() == pytest.approx(refresh_s, rel=1e-3)
    assert np.all(np.abs(lasted_s - refresh_s) < STEP_S)


def test_a_held_value_is_the_past_one() -> None:
    refresh_s = 0.004
    signal = sensed(Sensor(noise_fs=0.0, refresh_s=refresh_s))
    slope = RAMP[1] - RAMP[0]
    behind = (RAMP - signal)[100:] / slope * STEP_S
    assert behind.min() >= -1e-9
    assert behind.max() <= refresh_s
