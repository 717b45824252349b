"""Patterns told whole: slow falls seen to their end, the hold in the whole delay, edges that warm starts mislead."""

from __future__ import annotations

import numpy as np
import pytest
from edge_windows import edge_window

from feelcheck.bench import measure_response, recognise_board
from feelcheck.bench.fit import ModelFit, fit_spec
from feelcheck.bench.positive import positive
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import BenchResult, Estimate, FloatArray, Status
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture


def measured(world: BenchWorld, seed: int = 3) -> BenchResult:
    return measure_response(simulate_capture(world, np.random.default_rng(seed)))


@pytest.mark.parametrize("half_period_s", [50e-3, 300e-3])
def test_a_fall_longer_than_the_rise_is_named_cut_or_whole(half_period_s: float) -> None:
    parts = Parts(sink="current", sink_a=12e-6, c_pin_f=1e-6, r_series_ohm=1.5e3, c_behind_f=1e-6)
    scope = Scope(duration_s=20e-3 + 2 * half_period_s, interval_s=60e-6)
    result = measured(BenchWorld(coil=Coil(half_period_s=half_period_s), parts=parts, scope=scope))
    assert recognise_board(result) == "a"
    assert "capacitor straight on the sensor's output pin" in " ".join(result.explanation)


def test_a_fast_rise_with_a_slow_fall_is_explained_though_no_board_is_named() -> None:
    parts = Parts(sink="current", sink_a=60e-6, c_pin_f=0.6e-6)
    result = measured(BenchWorld(parts=parts, scope=Scope(interval_s=40e-6)))
    assert recognise_board(result) == "none"
    assert "Look for a capacitor on the" in " ".join(result.explanation)


@pytest.mark.parametrize("tau_s", [0.0, 40e-6])
def test_half_of_the_hold_counts_in_the_whole_delay(tau_s: float) -> None:
    world = BenchWorld(
        coil=Coil(rise_s=6e-3, fall_s=6e-3),
        sensor=Sensor(sample_interval_s=0.65e-3),
        parts=Parts(poles_s=(tau_s,) if tau_s else ()),
        scope=Scope(interval_s=10e-6),
    )
    result = measured(world)
    for side in (result.rising, result.falling):
        assert side is not None
        low, high = coverage_interval(side.mean_delay)
        # A curve of a quarter of a per cent in drive or output moves an area behind this drive by 10 us.
        assert side.mean_delay.value == pytest.approx(0.325e-3 + tau_s, abs=0.025e-3)
        half_sample_s = 5e-6
        assert (low or 0.0) - half_sample_s <= 0.325e-3 + tau_s <= (high or 0.0) + half_sample_s
        assert (low or 0.0) > (side.smoothing_delay.value or 0.0) + 0.3e-3 - 0.02e-3
        assert high is not None


@pytest.mark.parametrize(("hold_s", "noise_v"), [(0.1e-3, 1e-3), (0.2e-3, 4e-3)])
def test_faint_stairs_under_a_good_pole_fit_are_found(hold_s: float, noise_v: float) -> None:
    scope = Scope(duration_s=40e-3, interval_s=4e-6, noise_v=noise_v, bits=12)
    coil = Coil(rise_s=6e-3, fall_s=6e-3, n_edges=1)
    result = measured(BenchWorld(coil=coil, sensor=Sensor(sample_interval_s=hold_s), scope=scope))
    assert result.update_interval.value == pytest.approx(hold_s, rel=0.01)


@pytest.mark.parametrize("poles_s", [(6e-3, 2e-3), (2e-3, 1.5e-3), (1e-3, 0.8e-3)])
@pytest.mark.parametrize("rise_s", [1.25e-3, 6e-3])
def test_a_smooth_edge_of_two_poles_is_not_taken_for_stairs(poles_s: tuple[float, float], rise_s: float) -> None:
    coil = Coil(rise_s=rise_s, fall_s=rise_s, n_edges=1)
    result = measured(BenchWorld(coil=coil, parts=Parts(poles_s=poles_s), scope=Scope(duration_s=60e-3)))
    assert not result.update_interval.is_ok
    assert result.rising is not None
    assert result.rising.smoothing_delay.value == pytest.approx(sum(poles_s), rel=0.02)


T = np.linspace(-5e-3, 60e-3, 900)
RAMP = Stimulus(t_s=T, u=np.clip(T / 2.5e-3, 0.0, 1.0))


def edge(y: FloatArray) -> EdgeWindow:
    """A driven edge of unit swing."""
    noise = 2e-3
    return edge_window(T, y + noise * np.random.default_rng(9).standard_normal(T.size), RAMP, noise, duration_s=5e-3)


def behind(tau_s: float, delay_s: float = 0.0) -> FloatArray:
    return np.asarray(DrivenInstants(RAMP, T).pole(tau_s, delay_s).once[0])


@pytest.mark.parametrize(
    "spec", [ModelSpec(dead=True), ModelSpec(shape="two_pole", dead=True), ModelSpec(clip_high=True, dead=True)]
)
def test_a_later_edge_far_from_the_first_is_searched_anew(spec: ModelSpec) -> None:
    first = fit_spec(spec, edge(behind(0.4e-3)))
    other = edge(0.6 * behind(20e-3, 9e-3) + 0.4 * behind(3e-3, 9e-3))
    warm, cold = fit_spec(spec, other, first), fit_spec(spec, other)
    assert warm.fit.rss == pytest.approx(cold.fit.rss, rel=1e-3)


def test_an_edge_like_the_first_begins_where_that_ended() -> None:
    spec = ModelSpec(shape="two_pole")
    first: ModelFit = fit_spec(spec, edge(behind(4e-3)))
    warm, cold = fit_spec(spec, edge(behind(4.2e-3)), first), fit_spec(spec, edge(behind(4.2e-3)))
    assert warm.fit.n_evaluations < 0.5 * cold.fit.n_evaluations
    assert warm.fit.rss == pytest.approx(cold.fit.rss, rel=1e-3)


def test_signed_quantities_keep_their_intervals() -> None:
    level = Estimate.measured("level_before", 0.1, u=0.1, unit="V")
    assert positive(level) is level
    assert positive(Estimate.at_most("noise", 1.0, unit="V")).status is Status.AT_MOST
