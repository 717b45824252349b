"""The bench on captures of known physics, simulated on an independent fine grid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchResult, Capture, Channel, Provenance, Status
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, Sensor, simulate_capture

TAU_S = 4.7e-3
ONE_POLE, NO_POLE = Parts(poles_s=(TAU_S,)), Parts()
TWO_EDGES, LINEAR, LONG = Coil(), Sensor(), Scope()
ONE_EDGE, SHORT = Coil(n_edges=1), Scope(duration_s=50e-3)


def measured(
    *,
    coil: Coil = TWO_EDGES,
    sensor: Sensor = LINEAR,
    parts: Parts = ONE_POLE,
    scope: Scope = LONG,
) -> BenchResult:
    """The result for a bench with one pole of 4.7 ms unless `parts` says otherwise."""
    world = BenchWorld(coil=coil, sensor=sensor, parts=parts, scope=scope)
    return measure_response(simulate_capture(world, np.random.default_rng(1)))


def plain(t_s: np.ndarray, y: np.ndarray, **more: np.ndarray) -> Capture:
    """A capture of an output, and of other columns by name."""
    others = tuple(Channel(name=name, values=values, unit="V") for name, values in more.items())
    output = Channel(name="output", values=y, unit="V", role="output")
    return Capture(t_s=t_s, interval_s=None, channels=(*others, output), provenance=Provenance(format="test"))


def codes(result: BenchResult) -> set[str]:
    """Codes of the caveats of a result."""
    return {caveat.code for caveat in result.caveats}


@pytest.mark.parametrize("n_edges", [1, 3, *(pytest.param(n, marks=pytest.mark.full) for n in (2, 6))])
@pytest.mark.parametrize("begins_high", [False, True])
def test_edges_in_any_order_and_number(n_edges: int, begins_high: bool) -> None:
    coil = Coil(n_edges=n_edges, half_period_s=40e-3, begins_high=begins_high)
    result = measured(coil=coil, scope=Scope(duration_s=20e-3 + 40e-3 * n_edges, interval_s=40e-6))
    first, second = (result.falling, result.rising) if begins_high else (result.rising, result.falling)
    assert first is not None
    assert first.n_edges == (n_edges + 1) // 2
    assert first.time_constant.value == pytest.approx(TAU_S, rel=0.01)
    assert (second is None) == (n_edges == 1)
    if second is not None:
        assert second.time_constant.value == pytest.approx(TAU_S, rel=0.01)


def test_window_that_ends_before_the_output_settles_gives_bounds_as_read() -> None:
    result = measured(parts=Parts(poles_s=(60e-3,)), coil=Coil(n_edges=1), scope=Scope(duration_s=60e-3))
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(60e-3, rel=0.02)
    assert result.rising.transition_10_90.status is Status.AT_LEAST
    assert (result.rising.transition_10_90.bound or 0) < np.log(9) * 60e-3
    assert result.rising.settled_fraction.value == pytest.approx(1 - np.exp(-48.75 / 60), abs=0.03)


def test_onset_need_not_be_at_zero() -> None:
    result = measured(coil=Coil(first_edge_s=37e-3, n_edges=1), scope=Scope(trigger_s=0.0, duration_s=0.1))
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(TAU_S, rel=0.01)
    assert result.rising.dead_time.value is None or result.rising.dead_time.value < 0.2e-3


def test_inverted_output_is_named_by_its_own_direction() -> None:
    result = measured(sensor=Sensor(sensitivity=-1.0), coil=Coil(n_edges=1))
    assert result.rising is None
    assert result.falling is not None
    assert result.falling.time_constant.value == pytest.approx(TAU_S, rel=0.01)


def test_capture_that_starts_in_mid_edge() -> None:
    t = np.arange(4000) * 20e-6
    y = 0.2 + np.exp(-(t + 3e-3) / TAU_S) + 2e-3 * np.random.default_rng(4).standard_normal(t.size)
    result = measure_response(plain(t, y))
    assert result.falling is not None
    assert result.falling.time_constant.value == pytest.approx(TAU_S, rel=0.02)


@pytest.mark.parametrize("unit", ["A", "V"])
def test_drive_in_either_unit(unit: str) -> None:
    result = measured(coil=Coil(unit=unit))
    assert result.drive_swing is not None
    assert result.drive_transition is not None
    assert result.drive_swing.unit == unit
    assert result.drive_swing.value == pytest.approx(1.0, abs=0.02)
    assert result.drive_transition.value == pytest.approx(2e-3, rel=0.03)
    assert result.extra["sensitivity"].value == pytest.approx(1.0, rel=0.03)


def test_without_a_drive_the_edges_count_as_steps_and_the_caveat_says_so() -> None:
    result = measured(scope=Scope(has_drive=False), coil=Coil(shape="step"))
    assert result.drive_name is None
    assert result.drive_transition is None
    assert "includes_drive" in codes(result)
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(TAU_S, rel=0.01)


def test_no_edge_is_refused() -> None:
    t = np.arange(2000) * 1e-5
    noise = 1e-3 * np.random.default_rng(1).standard_normal(t.size)
    with pytest.raises(NotEnoughDataError, match="edge"):
        measure_response(plain(t, 0.9 + noise))
    with pytest.raises(NotEnoughDataError, match="edge"):
        measure_response(plain(t, np.full(t.size, 0.9)))


def test_saturation_is_found_and_does_not_bend_the_time_constant() -> None:
    result = measured(sensor=Sensor(high_v=1.1))
    assert result.rising is not None
    assert result.rising.saturated
    assert result.rising.time_constant.value == pytest.approx(TAU_S, rel=0.01)
    free = measured()
    assert free.rising is not None
    assert not free.rising.saturated


@pytest.mark.parametrize(("sink", "model"), [("current", "ramp"), ("resistor", "to_ground")])
def test_weak_sink_is_told_from_a_pole(sink: str, model: str) -> None:
    parts = Parts(sink=sink, sink_a=60e-6, sink_ohm=15e3, c_pin_f=0.6e-6)  # type: ignore[arg-type]
    result = measured(parts=parts, scope=Scope(interval_s=40e-6))
    assert result.rising is not None
    assert result.falling is not None
    assert result.falling.model.startswith((model, "slew") if model == "ramp" else model)
    assert result.falling.time_constant.status is not Status.OK
    assert result.asymmetry.value is None or result.asymmetry.value > 2
    assert "asymmetry_weak_sink" in codes(result) | {caveat.code for caveat in result.asymmetry.caveats}


def test_two_poles() -> None:
    result = measured(parts=Parts(poles_s=(6e-3, 2e-3)), coil=ONE_EDGE, scope=SHORT)
    assert result.rising is not None
    assert result.rising.model == "two_pole"
    assert [pole.value for pole in result.rising.poles] == pytest.approx([6e-3, 2e-3], rel=0.06)
    assert result.rising.smoothing_delay.value == pytest.approx(8e-3, rel=0.01)


def test_ringing_is_refused_a_single_time_constant() -> None:
    result = measured(parts=Parts(ring_hz=150.0, ring_damping=0.2), coil=ONE_EDGE, scope=SHORT)
    assert result.rising is not None
    assert result.rising.model == "second_order"
    assert result.rising.time_constant.status is Status.NOT_RESOLVED
    assert [caveat.code for caveat in result.rising.time_constant.caveats] == ["ringing"]
    assert result.rising.extra["envelope_decay"].value == pytest.approx(1 / (0.2 * 2 * np.pi * 150), rel=0.03)
    assert result.rising.extra["natural_frequency"].value == pytest.approx(150.0, rel=0.02)
    assert result.rising.extra["damping_ratio"].value == pytest.approx(0.2, rel=0.05)


@pytest.mark.parametrize("interval_s", [0.4e-3, 0.65e-3])
def test_stair_steps_are_timed(interval_s: float) -> None:
    result = measured(sensor=Sensor(sample_interval_s=interval_s, sample_phase_s=0.2e-3), parts=NO_POLE)
    assert result.update_interval.value == pytest.approx(interval_s, rel=0.01)
    assert any(trace.kind == "stairs" for trace in result.traces)


@pytest.mark.parametrize("poles_s", [(), (1e-3,), (TAU_S,)])
def test_no_stairs_are_claimed_of_a_smooth_edge(poles_s: tuple[float, ...]) -> None:
    result = measured(parts=Parts(poles_s=poles_s), coil=ONE_EDGE, scope=SHORT)
    assert not result.update_interval.is_ok
    assert not any(trace.kind == "stairs" for trace in result.traces)


def test_rise_like_fall_gives_a_ratio_of_one() -> None:
    result = measured()
    assert result.asymmetry.value == pytest.approx(1.0, abs=0.02)
    assert not result.asymmetry.caveats


def test_asymmetry_of_the_drive_is_not_blamed_on_the_output() -> None:
    result = measured(coil=Coil(rise_s=1e-3, fall_s=8e-3))
    assert result.asymmetry.value == pytest.approx(1.0, abs=0.05)


def test_dead_time_apart_from_smoothing() -> None:
    result = measured(sensor=Sensor(dead_time_s=3e-3), coil=ONE_EDGE, scope=SHORT)
    assert result.rising is not None
    assert result.rising.dead_time.value == pytest.approx(3e-3, abs=0.1e-3)
    assert result.rising.time_constant.value == pytest.approx(TAU_S, rel=0.02)
    assert result.rising.mean_delay.value == pytest.approx(3e-3 + TAU_S, rel=0.03)


def test_slow_triangle_gives_the_transfer_curve_and_no_response_time() -> None:
    coil = Coil(shape="triangle", first_edge_s=0.1, half_period_s=1.0, low=-0.5, high=0.5)
    scope = Scope(duration_s=2.2, interval_s=0.4e-3, bits=12)
    result = measured(coil=coil, sensor=Sensor(sensitivity=2.0, low_v=0.3, high_v=1.5), parts=NO_POLE, scope=scope)
    assert result.drive_kind == "sweep"
    assert result.rising is None
    assert result.extra["sensitivity"].value == pytest.approx(2.0, rel=0.01)
    assert result.extra["saturation_low"].value == pytest.approx(0.3, abs=0.01)
    assert result.extra["saturation_high"].value == pytest.approx(1.5, abs=0.01)
    assert result.extra["linear_high"].value == pytest.approx(0.3, abs=0.03)


def test_smoothing_far_below_the_drive_is_a_bound() -> None:
    result = measured(parts=NO_POLE, coil=ONE_EDGE, scope=SHORT)
    assert result.rising is not None
    assert result.rising.time_constant.status in {Status.AT_MOST, Status.NOT_RESOLVED, Status.NOT_PRESENT}
    assert result.rising.smoothing_delay.status is Status.AT_MOST
    assert 0 < (result.rising.smoothing_delay.bound or 0) < 0.3e-3


def test_irregular_sampling() -> None:
    capture = simulate_capture(BenchWorld(parts=Parts(poles_s=(TAU_S,))), np.random.default_rng(2))
    keep = np.sort(np.random.default_rng(3).choice(capture.t_s.size, 1500, replace=False))
    channels = tuple(replace(channel, values=channel.values[keep]) for channel in capture.channels)
    result = measure_response(replace(capture, t_s=capture.t_s[keep], interval_s=None, channels=channels))
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(TAU_S, rel=0.01)


def test_unknown_column_is_a_key_error() -> None:
    capture = simulate_capture(BenchWorld(), np.random.default_rng(1))
    with pytest.raises(KeyError):
        measure_response(capture, drive="nothing")


def answers(lag_s: float, tau_s: float, t_s: np.ndarray) -> np.ndarray:
    """An edge up from 0 to 1 and one down, each so long after its instant, with a pole."""
    since = t_s[:, None] - (np.array([0.02, 0.06]) + lag_s)
    risen = np.where(since > 0, 1.0 - np.exp(-np.maximum(since, 0.0) / tau_s), 0.0)
    return np.asarray(risen[:, 0] - risen[:, 1])


def test_an_output_that_moves_before_its_drive_is_measured_without_it() -> None:
    rng = np.random.default_rng(3)
    t_s = np.arange(1000) * 100e-6
    output = 0.3 + 1.5 * answers(0.0, 2e-3, t_s) + 0.002 * rng.standard_normal(t_s.size)
    drive = answers(2e-3, 50e-6, t_s) + 0.002 * rng.standard_normal(t_s.size)
    result = measure_response(plain(t_s, output, drive=drive))
    assert "drive_does_not_explain" in codes(result)
    assert len(result.sides) == 2
    for side in result.sides.values():
        assert side.time_constant.value == pytest.approx(2e-3, rel=0.01)


def test_an_output_that_no_model_fits_keeps_its_drive() -> None:
    rng = np.random.default_rng(3)
    t_s = np.arange(300) * 333e-6
    stairs = answers(0.0, 50e-6, t_s) + answers(3e-3, 50e-6, t_s) + answers(9e-3, 50e-6, t_s)
    result = measure_response(plain(t_s, stairs + 0.002 * rng.standard_normal(t_s.size), drive=answers(0, 50e-6, t_s)))
    assert "drive_does_not_explain" not in codes(result)
