"""A dead time behind a sensor that saturates: both directions tell it, one alone cannot."""

from __future__ import annotations

import importlib
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.bench.fit import fit_spec
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.saturated_delay import Lateness, _of_pair, lateness_of, with_lateness
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import BenchResult
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus
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


@pytest.mark.parametrize(
    ("told", "value", "u"),
    [
        (((0.3, 0.03), (0.3, 0.03)), 0.3, 0.03 / np.sqrt(2)),
        (((0.2, 1e-6), (0.4, 1e-6)), 0.3, 0.1),
        (((0.2, 0.02), (0.5, 0.04)), 0.26, np.hypot(0.04 / np.sqrt(5), 0.12)),
    ],
)
def test_what_levels_tell_is_weighed_and_their_scatter_counts(
    told: tuple[tuple[float, float], ...], value: float, u: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Like any weighted mean, by 1 / u^2; what levels differ by does not fall with their number."""
    module = importlib.import_module("feelcheck.bench.saturated_delay")
    monkeypatch.setattr(module, "_of_pair", lambda *_: iter(Lateness(value_s=v, u_s=own) for v, own in told))
    side: Any = SimpleNamespace(fits=[None])
    late = lateness_of(side, side)
    assert late is not None
    assert (late.value_s, late.u_s) == pytest.approx((value, u), rel=1e-3)


T = np.linspace(-10e-3, 30e-3, 400)
RAMP = Stimulus(t_s=T, u=np.clip(T / 3e-3, 0.0, 1.0))


def edge(seed: int, noise: float, rising: bool, dead_s: float) -> Any:
    """One edge of a sensor that saturates at 15 and 80 % of the drive, its dead time in front of a pole."""
    drive = np.interp(T - dead_s, RAMP.t_s, RAMP.u)
    seen = np.clip(drive if rising else 1.0 - drive, 0.15, 0.8)
    out = np.asarray(DrivenInstants(Stimulus(t_s=T, u=seen), T).pole(TAU_S, 0.0).once[0])
    y = out + noise * np.random.default_rng(seed).standard_normal(T.size)
    window = EdgeWindow(
        origin_s=0.0, t_s=T, y=y, stimulus=RAMP, driven=True, settled_start=True, swing=0.65 if rising else -0.65,
        duration_s=2e-3, drive_duration_s=2.4e-3, drive_swing=1.0, noise=noise, interval_s=1e-4, raw=(0, T.size),
    )  # fmt: skip
    return fit_spec(ModelSpec(clip_low=True, clip_high=True), window)


@pytest.mark.parametrize("dead_s", [0.0, 0.3e-3])
def test_levels_tell_a_dead_time_as_well_as_the_noise_of_both_edges_lets_them(dead_s: float) -> None:
    quiet, noisy = ([edge(seed, noise, seed == 1, dead_s) for seed in (1, 2)] for noise in (1e-3, 1e-2))
    pairs = [(quiet[0], quiet[1]), (noisy[0], quiet[1]), (quiet[0], noisy[1])]
    told = [list(_of_pair(up, down)) for up, down in pairs]
    assert [len(both) for both in told] == [2, 2, 2]
    for late in (late for both in told for late in both):
        assert abs(late.value_s - dead_s) < 3 * late.u_s
    for both in told[1:]:
        for late, sure in zip(both, told[0], strict=True):
            assert late.u_s > 4 * sure.u_s
