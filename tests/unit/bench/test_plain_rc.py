"""Resistor and capacitor, charged and discharged in closed form, without a drive."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.bench import measure_repeats, measure_response
from feelcheck.model import Capture, Channel, Provenance

TAUS_S = [80e-9, 10e-6, 4.7e-3, 0.22, 3.0]


def captured(t_s: np.ndarray, y: np.ndarray) -> Capture:
    """One output column without a drive, and without being told its role."""
    channels = (Channel(name="C1", values=y, unit="V"),)
    return Capture(t_s=t_s, interval_s=float(t_s[1] - t_s[0]), channels=channels, provenance=Provenance(format="test"))


def eight_bits(y: np.ndarray, noise_v: float = 0.0, seed: int = 1) -> np.ndarray:
    """Volts on an 8-bit scope at 5 V full scale."""
    noisy = y + noise_v * np.random.default_rng(seed).standard_normal(y.size)
    step = 6.0 / 256
    return np.asarray(np.round(noisy / step) * step)


@pytest.mark.parametrize("tau_s", TAUS_S)
@pytest.mark.parametrize("charging", [True, False])
def test_step_after_a_flat_stretch(tau_s: float, charging: bool) -> None:
    t = np.linspace(-1.0, 7.0, 2000) * tau_s
    way = np.where(t > 0, 1 - np.exp(-np.maximum(t, 0) / tau_s), 0.0)
    result = measure_response(captured(t, eight_bits(5 * (way if charging else 1 - way), 0.02)))
    found = result.rising if charging else result.falling
    assert found is not None
    assert found.time_constant.value == pytest.approx(tau_s, rel=0.03)
    assert found.step_transition_10_90.value == pytest.approx(np.log(9) * tau_s, rel=0.03)


@pytest.mark.parametrize("tau_s", TAUS_S)
def test_decay_that_starts_at_the_first_sample(tau_s: float) -> None:
    t = np.linspace(0.0, 6.0, 600) * tau_s
    result = measure_response(captured(t, eight_bits(5 * np.exp(-t / tau_s), 0.01)))
    assert result.falling is not None
    assert result.falling.time_constant.value == pytest.approx(tau_s, rel=0.03)


def test_decay_that_ends_early_is_right_or_not_given() -> None:
    t = np.linspace(0.0, 1.2, 800) * 10e-3
    result = measure_response(captured(t, eight_bits(5 * np.exp(-t / 10e-3), 0.01)))
    assert result.falling is not None
    tau = result.falling.time_constant
    assert tau.value is None or abs(tau.value - 10e-3) < max(3 * (tau.u or 0), 0.3e-3)


@pytest.mark.parametrize("n_periods", [3, 40])
def test_square_wave_with_many_periods(n_periods: int) -> None:
    tau, half = 1e-3, 6e-3
    t = np.arange(n_periods * 240) * (2 * half / 240)
    within = t % half
    high = (t // half) % 2 == 0
    y = np.where(high, 1 - np.exp(-within / tau), np.exp(-within / tau))
    y[t < half] = 1 - np.exp(-t[t < half] / tau)
    result = measure_response(captured(t, eight_bits(5 * y, 0.03)))
    assert result.rising is not None
    assert result.falling is not None
    assert result.rising.n_edges == pytest.approx(n_periods, abs=1)
    assert result.rising.time_constant.value == pytest.approx(tau, rel=0.03)
    assert result.falling.time_constant.value == pytest.approx(tau, rel=0.03)
    assert result.asymmetry.value == pytest.approx(1.0, abs=0.05)


def test_noisy_eight_bit_edge_has_an_interval_that_holds_the_truth() -> None:
    t = np.linspace(-1.0, 7.0, 1000) * 2e-3
    way = np.where(t > 0, 1 - np.exp(-np.maximum(t, 0) / 2e-3), 0.0)
    result = measure_response(captured(t, eight_bits(5 * way, 0.3)))
    assert result.rising is not None
    tau = result.rising.time_constant
    assert tau.u is not None
    assert tau.value == pytest.approx(2e-3, abs=3.5 * tau.u)
    assert tau.u < 0.1 * 2e-3


def test_repeats_are_pooled() -> None:
    t = np.linspace(-1.0, 7.0, 800) * 2e-3
    way = np.where(t > 0, 1 - np.exp(-np.maximum(t, 0) / 2e-3), 0.0)
    captures = [captured(t, eight_bits(5 * way, 0.1, seed)) for seed in range(4)]
    one, pooled = measure_response(captures[0]).rising, measure_repeats(captures).rising
    assert one is not None
    assert pooled is not None
    assert one.time_constant.u is not None
    assert pooled.time_constant.u is not None
    assert pooled.time_constant.n == 4
    assert pooled.time_constant.u < one.time_constant.u
    assert pooled.time_constant.value == pytest.approx(2e-3, rel=0.03)
