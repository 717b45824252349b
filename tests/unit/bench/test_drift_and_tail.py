"""Levels that drift and small slow tails do not move the time constant, and are said."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.model import BenchDirection, Capture, Channel, Provenance
from feelcheck.numerics.uncertainty import coverage_interval

TAU_S = 4.7e-3
NOISE = 3e-3


def rising(t: np.ndarray, y: np.ndarray) -> BenchDirection:
    """The rising response of one column without a drive."""
    noisy = y + NOISE * np.random.default_rng(4).standard_normal(t.size)
    channels = (Channel(name="C1", values=noisy, unit="V", role="output"),)
    step = float(t[1] - t[0])
    result = measure_response(Capture(t_s=t, interval_s=step, channels=channels, provenance=Provenance()))
    assert result.rising is not None
    return result.rising


def pole(t: np.ndarray) -> np.ndarray:
    """A unit step through one pole."""
    return np.asarray(-np.expm1(-np.maximum(t, 0.0) / TAU_S))


@pytest.mark.parametrize("span_s", [(-0.01, 0.05), (-0.05, 0.05), (-0.002, 0.03)])
@pytest.mark.parametrize("drift", [0.02, 0.05, -0.02, -0.05])
def test_a_straight_drift_is_fitted_with_the_edge(span_s: tuple[float, float], drift: float) -> None:
    t = np.linspace(*span_s, 2000)
    found = rising(t, pole(t) + drift * (t - t[0]) / (t[-1] - t[0])).time_constant
    assert found.value == pytest.approx(TAU_S, rel=0.01)
    assert found.caveats


def test_without_drift_none_is_claimed() -> None:
    t = np.linspace(-0.01, 0.05, 2000)
    found = rising(t, pole(t)).time_constant
    assert not found.caveats
    low, high = coverage_interval(found)
    assert (low or np.inf) < TAU_S < (high or 0.0)


def test_a_discharge_with_a_small_slow_tail_keeps_its_main_time_constant() -> None:
    t = np.linspace(0.0, 0.12, 3000)
    found = rising(t, 1.0 - 0.95 * np.exp(-t / TAU_S) - 0.05 * np.exp(-t / 0.05))
    assert found.time_constant.value == pytest.approx(TAU_S, rel=0.02)
    assert "slow_tail" in [caveat.code for caveat in found.time_constant.caveats]
    assert found.step_transition_10_90.value is None


def test_two_stages_in_a_row_still_give_the_slower_one() -> None:
    t = np.linspace(-0.01, 0.08, 3000)
    late = np.maximum(t, 0.0)
    slow, fast = 8e-3, 2e-3
    y = 1.0 - (slow * np.exp(-late / slow) - fast * np.exp(-late / fast)) / (slow - fast)
    assert rising(t, y).time_constant.value == pytest.approx(slow, rel=0.02)
