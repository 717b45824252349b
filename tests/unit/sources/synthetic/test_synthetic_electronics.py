"""The output network against closed forms and two general-purpose solvers."""

from __future__ import annotations

import math

import control
import numpy as np
import pytest
from scipy.signal import lsim

from feelcheck.model import FloatArray
from feelcheck.sources.synthetic.electronics import Network, smooth
from feelcheck.sources.synthetic.gimbal import STEP_S


def flick_like(n: int = 8000) -> tuple[FloatArray, FloatArray]:
    t_s = STEP_S * np.arange(n, dtype=np.float64)
    return t_s, np.clip(np.cumsum(np.sin(2.0 * math.pi * 7.0 * t_s)) * STEP_S * 20.0, 0.0, 0.7)


@pytest.mark.reference
@pytest.mark.parametrize("tau_s", [0.0003, 0.003, 0.06])
def test_one_pole_agrees_with_scipy_lsim(tau_s: float) -> None:
    # scipy.signal.lsim solves the state equation for an input that is linear between the samples.
    t_s, signal = flick_like()
    _, expected, _ = lsim(([1.0], [tau_s, 1.0]), signal, t_s)
    assert smooth(Network.one_pole(tau_s), signal) == pytest.approx(expected, abs=1e-9)


@pytest.mark.reference
def test_two_poles_agree_with_python_control() -> None:
    # control.forced_response, likewise linear between the samples; each pole of ours sees its own straight lines,
    # which leaves a difference of the order (STEP_S / tau)^2.
    t_s, signal = flick_like()
    system = control.tf([1.0], np.polymul([0.006, 1.0], [0.002, 1.0]))
    expected = control.forced_response(system, T=t_s, U=signal).outputs
    network = Network(poles_s=((0.006, 0.006), (0.002, 0.002)))
    assert smooth(network, signal) == pytest.approx(expected, abs=(STEP_S / 0.002) ** 2)


def test_unequal_poles_agree_with_stepping_one_sample_after_the_other() -> None:
    t_s, signal = flick_like()
    signal = signal + 0.02 * np.sin(2.0 * math.pi * 90.0 * t_s)
    fine = 20
    y, expected = float(signal[0]), [float(signal[0])]
    for k in range(1, signal.size):
        for part in range(fine):
            x = signal[k - 1] + (signal[k] - signal[k - 1]) * (part + 0.5) / fine
            y += (x - y) * -math.expm1(-STEP_S / fine / (0.009 if x > y else 0.014))
        expected.append(y)
    assert smooth(Network.one_pole(0.009, 0.014), signal) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize(("rising_s", "falling_s"), [(0.002, 0.01), (0.01, 0.002)])
def test_each_direction_has_its_own_time_constant(rising_s: float, falling_s: float) -> None:
    # An edge between two grid points is a short ramp: its middle is the instant of the step.
    pulse = np.concatenate([np.zeros(100), np.ones(4000), np.zeros(4000)])
    out = smooth(Network.one_pole(rising_s, falling_s), pulse)
    at = np.interp([rising_s], STEP_S * (np.arange(4000) + 0.5), out[100:4100])
    after = np.interp([falling_s], STEP_S * (np.arange(4000) + 0.5), out[4100:])
    assert at == pytest.approx([1.0 - math.exp(-1.0)], abs=2e-3)
    assert after == pytest.approx([math.exp(-1.0)], abs=2e-3)


def test_almost_equal_time_constants_join_on_to_equal_ones() -> None:
    _, signal = flick_like(30_000)
    apart = smooth(Network.one_pole(0.003, 0.003 * (1.0 + 1e-9)), signal)
    assert apart == pytest.approx(smooth(Network.one_pole(0.003), signal), abs=1e-6)


def test_it_starts_settled() -> None:
    for network in (Network.one_pole(0.01), Network.one_pole(0.01, 0.02)):
        assert smooth(network, np.full(5000, 0.4)) == pytest.approx(0.4)


def test_no_poles_change_nothing() -> None:
    _, signal = flick_like()
    assert smooth(Network(poles_s=()), signal) is signal


@pytest.mark.parametrize("poles_s", [((0.001, 0.001),) * 3, ((0.0, 0.001),), ((0.001, -1.0),)])
def test_impossible_networks_are_refused(poles_s: tuple[tuple[float, float], ...]) -> None:
    with pytest.raises(ValueError, match="at most two poles, each with positive time constants"):
        Network(poles_s=poles_s)
