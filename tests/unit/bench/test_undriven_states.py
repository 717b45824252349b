"""State levels, settling and shapes of edges whose drive was not recorded."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.model import BenchDirection, Capture, Channel, Provenance, Status
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture

T = np.linspace(-0.01, 0.05, 3000)


def pole(tau_s: float, onset_s: float = 0.0, t: np.ndarray = T) -> np.ndarray:
    """A step through one pole."""
    return -np.expm1(-np.maximum(t - onset_s, 0.0) / tau_s)


def rising(y: np.ndarray, t: np.ndarray = T, noise_v: float = 0.01) -> BenchDirection:
    """The rising response of one noisy output column."""
    noisy = y + noise_v * np.random.default_rng(9).standard_normal(y.size)
    channels = (Channel(name="C1", values=noisy, unit="V", role="output"),)
    result = measure_response(Capture(t_s=t, interval_s=None, channels=channels, provenance=Provenance()))
    assert result.rising is not None
    return result.rising


@pytest.mark.parametrize("onset_s", [-0.01, 0.02])
def test_ramp_that_never_ends_has_no_level_after_but_a_bound(onset_s: float) -> None:
    found = rising(50 * np.maximum(T - onset_s, 0.0))
    assert found.time_constant.status is not Status.OK
    after = found.extra["level_after"]
    assert after.status is Status.AT_LEAST
    assert after.bound == pytest.approx(50 * (0.05 - onset_s), rel=0.05)
    assert not found.settled_fraction.is_ok


def test_ramp_that_ends_is_no_ring() -> None:
    found = rising(3 * np.clip(T / 0.03, 0, 1))
    assert found.model == "ramp"
    assert [caveat.code for caveat in found.time_constant.caveats] == ["straight_line"]
    assert found.transition_10_90.value == pytest.approx(0.8 * 0.03, rel=0.01)
    assert found.extra["ramp_duration"].value == pytest.approx(0.03, rel=0.02)


def test_level_before_a_late_start_is_a_bound_and_the_time_constant_stays() -> None:
    found = rising(5 * pole(8e-3, -0.015))
    assert found.extra["level_before"].status is Status.AT_MOST
    assert found.time_constant.value == pytest.approx(8e-3, rel=0.01)


def test_levels_of_a_square_wave_are_its_plateaus() -> None:
    t = np.linspace(0, 1, 20_000)
    within, tau = t % 0.05, 3e-3
    y = np.where(within < 0.025, -np.expm1(-within / tau), np.exp(-(within - 0.025) / tau))
    found = rising(3 * y, t)
    assert found.extra["level_before"].value == pytest.approx(0.0, abs=0.01)
    assert found.extra["level_after"].value == pytest.approx(3.0, abs=0.01)


def test_two_poles_without_a_drive_are_fitted_from_their_onset() -> None:
    slow, fast = 6e-3, 2e-3
    found = rising(5 * (slow * pole(slow) - fast * pole(fast)) / (slow - fast))
    assert found.model == "two_pole"
    assert [one.value for one in found.poles] == pytest.approx([slow, fast], rel=0.02)
    assert found.extra["level_before"].value == pytest.approx(0.0, abs=0.01)


def test_settled_fraction_never_reaches_beyond_one() -> None:
    for tau_s in (1e-3, 5e-3, 12e-3, 25e-3):
        settled = rising(pole(tau_s), noise_v=0.05).settled_fraction
        low, high = coverage_interval(settled)
        assert high is None or high <= 1 + 1e-9
        truth = -np.expm1(-0.05 / tau_s)
        assert low is None or low < truth + 0.02


def test_a_sixth_of_an_edge_is_a_lower_bound() -> None:
    found = rising(5 * pole(4.7e-3, float(T[-40])), noise_v=0.005)
    assert found.time_constant.status is Status.AT_LEAST
    assert (found.time_constant.bound or 1) < 4.7e-3


def test_edge_of_three_samples_is_an_upper_bound() -> None:
    k = np.arange(300)
    y = np.interp(k % 40, [0, 3, 20, 23, 40], [0.0, 1.0, 1.0, 0.0, 0.0])
    found = rising(y, k * 2e-5)
    assert found.time_constant.status is Status.AT_MOST
    assert (found.time_constant.bound or 1) < 6e-5


def test_clipped_charge_does_not_ring() -> None:
    assert rising(np.clip(5 * pole(4.7e-3), 0.8, 4.0)).model != "second_order"


def test_one_direction_only_is_said() -> None:
    channels = (Channel(name="C1", values=5 * pole(4e-3), unit="V", role="output"),)
    result = measure_response(Capture(t_s=T, interval_s=None, channels=channels, provenance=Provenance()))
    assert [caveat.code for caveat in result.asymmetry.caveats] == ["one_direction_only"]


def test_driven_output_clipped_at_both_ends_does_not_ring() -> None:
    drive = np.clip(T / 2e-3, 0, 1)
    y = np.clip(0.5 * (pole(4.7e-3) + pole(4.7e-3, 2e-3)), 0.2, 0.8)
    noise = 0.01 * np.random.default_rng(6).standard_normal((2, T.size))
    channels = (
        Channel(name="drive", values=drive + 0.5 * noise[0], unit="A", role="drive"),
        Channel(name="output", values=y + noise[1], unit="V", role="output"),
    )
    result = measure_response(Capture(t_s=T, interval_s=None, channels=channels, provenance=Provenance()))
    assert result.rising is not None
    assert result.rising.model != "second_order"


def test_saturation_that_shifts_a_slow_edge_by_little_is_found() -> None:
    coil = Coil(rise_s=0.625e-3, fall_s=0.625e-3, n_edges=1)
    scope = Scope(duration_s=60e-3, full_scale_v=1.4)
    world = BenchWorld(coil=coil, sensor=Sensor(high_v=1.2), parts=Parts(poles_s=(20e-3,)), scope=scope)
    for seed in range(3):
        found = measure_response(simulate_capture(world, np.random.default_rng([13, seed]))).rising
        assert found is not None
        assert found.saturated
        assert found.time_constant.value == pytest.approx(20e-3, rel=0.004)  # the Cramer-Rao bound is 0.12 %


def test_saturation_is_not_taken_for_stair_steps() -> None:
    coil = Coil(rise_s=6.25e-3, fall_s=6.25e-3, n_edges=1)
    scope = Scope(duration_s=60e-3, full_scale_v=1.4)
    world = BenchWorld(coil=coil, sensor=Sensor(high_v=1.2), parts=Parts(poles_s=(1e-3,)), scope=scope)
    result = measure_response(simulate_capture(world, np.random.default_rng([9301, 2, 1000, True, 5000])))
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(1e-3, rel=0.02)
    assert not result.update_interval.is_ok
