"""The memory of noise at rest: closed forms of filtered noise, and the disturbances that must not pass for it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.signal import lfilter

from feelcheck.hand.gate_stop.rest_memory import is_white, longer_than, noise_memory_s
from feelcheck.hand.gate_stop.windows import StickReadings

INTERVAL_S = 1e-3
N = 8000


def memory(x: np.ndarray, y: np.ndarray | None = None) -> np.ndarray:
    t = np.arange(x.size, dtype=np.float64) * INTERVAL_S
    xy = np.stack([x, np.full_like(x, np.nan) if y is None else y])
    reports = StickReadings(t_s=t, xy=xy, nominal=xy, interval_s=INTERVAL_S)
    return noise_memory_s(reports, [(0.0, 2.0), (2.5, float(t[-1]))])


def white(seed: int, rms: float = 1e-3) -> np.ndarray:
    return rms * np.random.default_rng(seed).normal(size=N)


def filtered(tau_s: float, seed: int) -> np.ndarray:
    kept = math.exp(-INTERVAL_S / tau_s)
    return np.asarray(lfilter([1 - kept], [1, -kept], white(seed)))


@pytest.mark.parametrize("tau_s", [0.005, 0.01, 0.02])
def test_noise_behind_a_pole_remembers_itself_for_its_time_constant(tau_s: float) -> None:
    found = memory(filtered(tau_s, 1), filtered(tau_s, 2))
    np.testing.assert_allclose(found, tau_s, rtol=0.3)  # about 400 independent stretches: 2 standard deviations


def test_noise_behind_an_average_stays_below_the_limit_of_its_own_delay() -> None:
    averaged = np.convolve(white(3), np.full(8, 1 / 8), mode="same")
    found = float(memory(averaged)[0])
    assert found == pytest.approx(0.632 * 8 * INTERVAL_S, rel=0.15)  # closed form: a straight rise over 8 reports
    assert not longer_than(found, 3.5 * INTERVAL_S, INTERVAL_S)


@pytest.mark.parametrize(
    "x",
    [
        white(4),
        np.repeat(white(5)[: N // 8], 8),
        np.cumsum(white(6)),
        np.sin(2 * np.pi * 50.3 * np.arange(N) * INTERVAL_S) * 1e-3 + white(7, 1e-4),
        np.round(white(8, 3e-4) / 1e-3) * 1e-3,
        np.zeros(N),
        np.full(N, np.nan),
    ],
    ids=["white", "held", "drift", "hum", "steps", "still", "not logged"],
)
def test_other_noise_has_no_memory_to_tell(x: np.ndarray) -> None:
    assert np.isnan(memory(x)[0]) or memory(x)[0] < 2 * INTERVAL_S


def test_too_little_rest_tells_nothing() -> None:
    assert np.all(np.isnan(memory(filtered(0.01, 9)[:600])))


def test_nothing_is_longer_when_it_is_unknown() -> None:
    assert not longer_than(math.nan, 0.001, INTERVAL_S)
    assert not longer_than(0.0025, 0.001, INTERVAL_S)


def test_white_noise_over_many_steps_is_known_to_be_white_and_single_steps_are_not() -> None:
    assert is_white(float(memory(np.round(white(10, 2e-3) / 1e-3) * 1e-3)[0]), INTERVAL_S)
    assert not is_white(float(memory(np.round(white(11, 3e-4) / 1e-3) * 1e-3)[0]), INTERVAL_S)
    assert not is_white(float(memory(np.repeat(white(12)[: N // 8], 8))[0]), INTERVAL_S)
    assert not is_white(float(memory(filtered(0.005, 13))[0]), INTERVAL_S)
