"""Drifting levels, hum, lone spikes and small slow tails do not move the time constant, and are said."""

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


def test_a_tail_of_which_the_window_shows_little_is_not_the_main_part() -> None:
    t = np.linspace(-5e-3, 0.05, 2750)
    drive = np.clip(t / 1e-3, 0.0, 1.0)

    def behind(tau_s: float) -> np.ndarray:
        late, done = np.maximum(t, 0.0), np.maximum(t - 1e-3, 0.0)
        return np.asarray((late - done + tau_s * (np.exp(-late / tau_s) - np.exp(-done / tau_s))) / 1e-3)

    y = 0.75 * behind(0.9e-3) + 0.25 * behind(0.2) + NOISE / 3 * np.random.default_rng(4).standard_normal(t.size)
    channels = Channel(name="coil", values=drive, unit="A", role="drive"), Channel(name="C1", values=y, unit="V")
    found = measure_response(Capture(t_s=t, interval_s=20e-6, channels=channels, provenance=Provenance())).rising
    assert found is not None
    assert found.time_constant.value == pytest.approx(0.9e-3, rel=0.05)
    assert "slow_tail" in [caveat.code for caveat in found.time_constant.caveats]


def test_two_stages_in_a_row_still_give_the_slower_one() -> None:
    t = np.linspace(-0.01, 0.08, 3000)
    late = np.maximum(t, 0.0)
    slow, fast = 8e-3, 2e-3
    y = 1.0 - (slow * np.exp(-late / slow) - fast * np.exp(-late / fast)) / (slow - fast)
    assert rising(t, y).time_constant.value == pytest.approx(slow, rel=0.02)


@pytest.mark.parametrize("hz", [50.0, 60.0])
@pytest.mark.parametrize("phase", [0.0, 1.0, 2.5, 4.0])
def test_mains_hum_is_fitted_with_the_edge(hz: float, phase: float) -> None:
    t = np.linspace(-0.01, 0.06, 4000)
    found = rising(t, pole(t) + 0.02 * np.sin(2 * np.pi * hz * t + phase)).time_constant
    assert found.value == pytest.approx(TAU_S, rel=0.01)
    assert "mains_hum" in [caveat.code for caveat in found.caveats]


def test_lone_spikes_are_no_edges_and_are_said() -> None:
    t = np.linspace(-0.01, 0.06, 4000)
    y = pole(t) + NOISE * np.random.default_rng(4).standard_normal(t.size)
    places = np.arange(100, 3900, 190)
    y[places] += np.where(places % 380 > 190, 0.8, -0.5)
    channels = (Channel(name="C1", values=y, unit="V", role="output"),)
    result = measure_response(Capture(t_s=t, interval_s=float(t[1] - t[0]), channels=channels, provenance=Provenance()))
    assert result.falling is None
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(TAU_S, rel=0.01)
    assert "spikes" in [caveat.code for caveat in result.caveats]


@pytest.mark.parametrize("output_first", [True, False])
def test_the_drive_is_found_although_the_output_still_moves_when_the_capture_begins(output_first: bool) -> None:
    tau, half = 0.22e-3, 1e-3
    t = np.linspace(-1e-3, 3e-3, 2000, endpoint=False)
    since = np.mod(t, half)
    high = np.mod(np.floor(t / half + 1e-9), 2) == 0
    settled = 1.0 / (1.0 + np.exp(-half / tau))
    way = 1.0 - settled * np.exp(-since / tau)
    columns = [("1", np.where(high, 1.0, 0.0)), ("2", np.where(high, way, 1.0 - way))]
    named = [Channel(name=name, values=values, unit="V") for name, values in columns]
    channels = tuple(named[::-1] if output_first else named)
    result = measure_response(Capture(t_s=t, interval_s=2e-6, channels=channels, provenance=Provenance()))
    assert (result.drive_name, result.output_name) == ("1", "2")
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(tau, rel=0.02)
