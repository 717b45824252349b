"""A sensor that holds its values and a pole: told apart, or the time constant is a limit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.bench.report import held_direction, limited_by_hold
from feelcheck.model import BenchResult, Estimate, Status
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.testing.at_bench import BenchSetup, draw_bench, take_capture
from feelcheck.testing.at_bench.setup import Drive, Instrument, Linear, Sampler
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture


def held(rise_s: float, hold_s: float, tau_s: float = 0.0) -> BenchResult:
    """One simulated capture of 8 bits, both directions."""
    coil = Coil(rise_s=rise_s, fall_s=rise_s)
    sensor = Sensor(sample_interval_s=hold_s, sample_phase_s=0.37 * hold_s)
    parts = Parts(poles_s=(tau_s,)) if tau_s else Parts()
    world = BenchWorld(coil=coil, sensor=sensor, parts=parts, scope=Scope(interval_s=40e-6))
    return measure_response(simulate_capture(world, np.random.default_rng(1)))


def test_few_steps_are_a_hold_and_no_pole() -> None:
    found = held(3e-3, 1e-3)
    assert found.update_interval.value == pytest.approx(1e-3, rel=0.02)
    for side in (found.rising, found.falling):
        assert side is not None
        assert side.time_constant.status is Status.AT_MOST
        assert side.mean_delay.value == pytest.approx(0.5e-3, abs=0.05e-3)


@pytest.mark.parametrize(("hold_s", "tau_s"), [(1.25e-3, 0.4e-3), (0.65e-3, 0.4e-3)])
def test_a_pole_behind_a_hold_is_read_with_the_hold(hold_s: float, tau_s: float) -> None:
    found = held(3e-3, hold_s, tau_s)
    assert found.update_interval.value == pytest.approx(hold_s, rel=0.02)
    for side in (found.rising, found.falling):
        assert side is not None
        assert side.time_constant.value == pytest.approx(tau_s, rel=0.06)
        assert side.mean_delay.value == pytest.approx(tau_s + hold_s / 2, rel=0.05)


def test_a_hold_that_a_pole_rounds_behind_a_slow_drive_is_found() -> None:
    found = held(6e-3, 0.65e-3, 0.3e-3)
    assert found.update_interval.value == pytest.approx(0.65e-3, rel=0.01)
    for side in (found.rising, found.falling):
        assert side is not None
        low, high = coverage_interval(side.time_constant)
        assert side.time_constant.is_ok
        assert low is not None
        assert high is not None
        assert low < 0.3e-3 < high
        assert "instants of the hold" in [term.words for term in side.time_constant.terms]
        assert side.mean_delay.value == pytest.approx(0.625e-3, rel=0.05)


def test_behind_a_hold_a_pole_below_a_sample_is_a_limit_and_a_longer_one_knows_the_instants_to_a_sample() -> None:
    side = measure_response(
        take_capture(BenchSetup(stages=(Linear.pole(2e-3),)), np.random.default_rng(4)).capture
    ).rising
    assert side is not None
    side = replace(side, dead_time=Estimate.measured("dead_time", 1e-3, u=1e-6, unit="s"))
    assert side.time_constant.u is not None
    wider, limited = held_direction(side, 0.5e-3), held_direction(side, 5e-3)
    assert wider.time_constant.u == pytest.approx(np.hypot(side.time_constant.u, 0.5e-3 / np.sqrt(12)))
    assert limited.time_constant.status is limited.smoothing_delay.status is Status.AT_MOST
    assert limited.time_constant.bound == 5e-3
    assert wider.dead_time.u == pytest.approx(np.hypot(1e-6, 0.5e-3 / np.sqrt(12)))
    assert limited.dead_time.u == pytest.approx(np.hypot(1e-6, 5e-3 / np.sqrt(12)))


def test_where_a_hold_may_be_what_reads_as_dead_time_may_be_smoothing() -> None:
    setup = BenchSetup(stages=(Linear.pole(2e-3),), instrument=Instrument(interval_s=40e-6))
    side = measure_response(take_capture(setup, np.random.default_rng(4)).capture).rising
    assert side is not None
    later = replace(side, mean_delay=Estimate.measured("mean_delay", 3e-3, u=1e-6, unit="s"))
    assert (limited_by_hold(later).smoothing_delay.bound or 0.0) > 3e-3


def test_a_pole_alone_is_no_hold() -> None:
    for tau_s in (0.1e-3, 0.4e-3):
        found = held(2.5e-3, 0.0, tau_s)
        assert not found.update_interval.is_ok
        assert found.rising is not None
        assert found.rising.time_constant.value == pytest.approx(tau_s, rel=0.05)


def test_the_conversion_time_counts_in_the_delay() -> None:
    sampler = Sampler(hold_s=0.5e-3, phase=0.2, conversion_s=0.25e-3)
    look = Instrument(interval_s=10e-6, duration_s=0.02, before_s=5e-3)
    setup = BenchSetup(drive=Drive(time_s=2.5e-3), stages=(sampler,), instrument=look)
    seen = take_capture(setup, np.random.default_rng(4))
    side = measure_response(seen.capture).rising
    assert side is not None
    assert side.mean_delay.value == pytest.approx(seen.truth["mean_delay"], abs=0.05e-3)


def test_a_limit_takes_the_upper_end_of_what_may_be_a_hold() -> None:
    setup = BenchSetup(stages=(Linear.pole(2e-3),), instrument=Instrument(interval_s=40e-6))
    side = measure_response(take_capture(setup, np.random.default_rng(4)).capture).rising
    assert side is not None
    limited = limited_by_hold(side)
    assert limited.time_constant.status is limited.smoothing_delay.status is Status.AT_MOST
    assert limited.time_constant.bound is not None
    assert limited.time_constant.bound > (side.time_constant.value or 0.0)
    assert limited.time_constant.caveats[-1].code == "may_hold"
    assert limited.poles == ()


@pytest.mark.parametrize(("effect", "seed"), [("hold", 105), ("pink noise", 102)])
def test_a_drive_that_may_have_changed_places_with_the_pole_gives_no_value(effect: str, seed: int) -> None:
    # an exponential drive through a quicker pole or none; a sensor that saturates early would make the drive the pole
    rng = np.random.default_rng([seed, sum(map(ord, effect))])
    seen = take_capture(draw_bench(effect, rng), rng)
    side = measure_response(seen.capture).rising
    assert side is not None
    _, high = coverage_interval(side.time_constant)
    assert high is not None
    assert high > seen.truth["time_constant"]
    assert side.time_constant.value is None or side.time_constant.value < 1.25 * seen.truth["time_constant"]
