"""A dead time behind a sensor that saturates: both directions tell it, one alone cannot."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.bench.saturated_delay import Lateness, with_lateness
from feelcheck.model import BenchResult
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture

TAU_S = 0.8e-3


@cache
def late_by(dead_s: float) -> BenchResult:
    """Both edges of a sensor that saturates at 15 and 85 % of the drive and is late."""
    world = BenchWorld(
        coil=Coil(rise_s=3e-3, fall_s=4e-3),
        sensor=Sensor(low_v=0.55, high_v=1.25, dead_time_s=dead_s),
        parts=Parts(poles_s=(TAU_S,)),
        scope=Scope(interval_s=40e-6, bits=10),
    )
    return measure_response(simulate_capture(world, np.random.default_rng(5)))


@pytest.mark.parametrize("dead_s", [0.2e-3, 0.5e-3])
def test_a_saturating_sensor_that_is_late_counts_its_dead_time(dead_s: float) -> None:
    found = late_by(dead_s)
    for side in (found.rising, found.falling):
        assert side is not None
        assert side.saturated
        assert side.dead_time.value == pytest.approx(dead_s, abs=0.06e-3)
        low, high = coverage_interval(side.mean_delay)
        assert (low or np.inf) < TAU_S + dead_s < (high or 0.0)
        assert side.time_constant.value == pytest.approx(TAU_S, rel=0.05)


def test_one_that_is_not_late_keeps_its_bound() -> None:
    found = late_by(0.0)
    for side in (found.rising, found.falling):
        assert side is not None
        assert side.dead_time.value is None
        assert side.dead_time.bound is not None
        assert side.dead_time.bound < 0.1e-3
        assert side.mean_delay.value == pytest.approx(TAU_S, rel=0.03)


def test_what_both_levels_tell_is_part_of_what_is_not_known() -> None:
    side = late_by(0.0).rising
    assert side is not None
    assert side.mean_delay.u is not None
    assert with_lateness(side, None) is side
    seen = with_lateness(side, Lateness(value_s=0.3e-3, u_s=0.02e-3))
    assert seen.dead_time.u == pytest.approx(0.02e-3)
    assert seen.mean_delay.u == pytest.approx(np.hypot(side.mean_delay.u, 0.02e-3))
    assert (seen.mean_delay.value or 0.0) - (side.mean_delay.value or 0.0) == pytest.approx(0.3e-3)
    open_ = with_lateness(side, Lateness(value_s=0.1e-3, u_s=0.1e-3))
    assert open_.dead_time.bound == pytest.approx(0.1e-3 + 1.96 * 0.1e-3, rel=1e-3)
    assert open_.mean_delay.value == side.mean_delay.value
    assert open_.mean_delay.u == pytest.approx(np.hypot(side.mean_delay.u, 0.2e-3))
