"""Captures as people bring them: no level before the edge, unnamed channels, more than one output, a poor drive."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.model import BenchResult, Capture, Channel, FloatArray, Provenance, Status
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.renderers.bench_json import bench_document
from feelcheck.renderers.bench_text import bench_text
from feelcheck.testing.bench_world import BenchWorld, Coil, Parts, Scope, simulate_capture

COARSE = Scope(interval_s=40e-6)


def world_of(*taus_s: float, coil: Coil | None = None) -> Capture:
    """One drive and an unnamed output for each time constant."""
    coil = coil or Coil()
    seen = [
        simulate_capture(
            BenchWorld(coil=coil, parts=Parts(poles_s=(tau,) if tau else ()), scope=COARSE), np.random.default_rng(k)
        )
        for k, tau in enumerate(taus_s)
    ]
    outputs = [replace(c.channels[1], name=f"CH{k}", role="") for k, c in enumerate(seen, 1)]
    return replace(seen[0], channels=(seen[0].channels[0], *outputs))


def codes(result: BenchResult) -> set[str]:
    return {caveat.code for caveat in result.caveats}


def digitised(values: FloatArray, noise: float, bits: int, rng: np.random.Generator) -> FloatArray:
    step = 1.25 / 2**bits
    return np.asarray(0.4 + np.round((values + noise * rng.standard_normal(values.size)) / step) * step)


@pytest.mark.parametrize("draw", [*range(4), *(pytest.param(k, marks=pytest.mark.full) for k in range(4, 12))])
def test_a_capture_that_begins_at_the_edge_gives_one_pole_or_says_less(draw: int) -> None:
    rng = np.random.default_rng([51, draw])
    tau = float(np.exp(rng.uniform(np.log(0.5e-3), np.log(20e-3))))
    t = np.linspace(0.0, tau * rng.uniform(3.0, 12.0), int(rng.choice([500, 2000])))
    decay = np.exp(-(t + tau * rng.choice([0.0, 0.15])) / tau)
    values = digitised(decay if draw % 2 else 1.0 - decay, float(rng.choice([1e-3, 4e-3])), 8, rng)
    output = Channel(name="out", values=values, unit="V", role="output")
    result = measure_response(Capture(t_s=t, interval_s=None, channels=(output,), provenance=Provenance()))
    side = result.falling if draw % 2 else result.rising
    assert side is not None
    assert side.model == "one_pole"
    found = side.time_constant
    assert found.value is None or found.value == pytest.approx(tau, rel=0.02)
    assert found.status is not Status.AT_LEAST or (found.bound or 0.0) < tau
    assert not {"levels_drift", "slow_tail"} & {caveat.code for caveat in found.caveats}


def test_two_unnamed_channels_that_are_alike_are_both_outputs() -> None:
    capture = world_of(4.7e-3, 5.4e-3)
    result = measure_response(replace(capture, channels=capture.channels[1:]))
    assert (result.drive_name, result.output_name) == (None, "CH1")
    assert [other.output_name for other in result.outputs] == ["CH2"]
    assert "alike_outputs" in codes(result)
    assert list(bench_document(result)["outputs"]) == ["CH2"]
    assert "Further output: CH2" in bench_text([result])


def test_an_unnamed_channel_that_is_much_faster_still_drives() -> None:
    capture = world_of(0.0, 4.7e-3, coil=Coil(rise_s=1.25e-3, fall_s=1.25e-3))
    result = measure_response(replace(capture, channels=capture.channels[1:]))
    assert (result.drive_name, result.output_name) == ("CH1", "CH2")
    assert not result.outputs


def test_two_unnamed_outputs_behind_a_drive_that_was_not_captured_are_both_measured() -> None:
    capture = world_of(1.5e-3, 4.7e-3)
    result = measure_response(replace(capture, channels=capture.channels[1:]))
    assert [other.output_name for other in result.outputs] == ["CH1", "CH2"]
    assert all(other.drive_name is None for other in result.outputs)
    assert "guessed_drive" in codes(result)
    assert "--drive none" in bench_text([result])


def test_a_bare_sensor_behind_a_named_drive_is_the_only_output() -> None:
    result = measure_response(world_of(0.0))
    assert (result.drive_name, result.output_name, result.outputs) == ("drive", "CH1", ())


def test_a_second_output_beside_a_drive_is_measured_too() -> None:
    result = measure_response(world_of(4.7e-3, 2.2e-3))
    taus = [r.rising.time_constant.value for r in (result, *result.outputs) if r.rising]
    assert taus == pytest.approx([4.7e-3, 2.2e-3], rel=0.01)
    assert all(other.drive_name == "drive" for other in result.outputs)
    assert "further_outputs" in codes(result)
    alone = measure_response(world_of(4.7e-3, 2.2e-3), output="CH2")
    assert (alone.output_name, alone.outputs) == ("CH2", ())


def test_a_copy_of_the_output_is_no_further_output() -> None:
    capture = world_of(4.7e-3)
    copy = replace(capture.channels[1], name="copy", values=3.0 - 2.0 * capture.channels[1].values)
    assert not measure_response(replace(capture, channels=(*capture.channels, copy))).outputs


def test_a_drive_that_never_moves_is_left_aside() -> None:
    capture = world_of(4.7e-3)
    flat = replace(capture.channels[0], values=np.full(capture.t_s.size, 0.25))
    result = measure_response(replace(capture, channels=(flat, capture.channels[1])), drive="drive")
    assert "drive_without_edge" in codes(result)
    assert result.rising is not None


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_drive_cut_off_on_the_screen_is_noticed(side: float) -> None:
    capture = world_of(4.7e-3)
    noisy = capture.channels[0].values + 6e-3 * np.random.default_rng(3).standard_normal(capture.t_s.size)
    cut = np.minimum(side * noisy, 0.4) * side
    seen = replace(capture, channels=(replace(capture.channels[0], values=cut), capture.channels[1]))
    assert "drive_cut_off" in codes(measure_response(seen))
    assert "drive_cut_off" not in codes(measure_response(capture))


def test_every_interval_of_a_positive_quantity_is_positive() -> None:
    rng = np.random.default_rng(5)
    for tau in (0.0, 0.1e-3, 4.7e-3):
        world = BenchWorld(parts=Parts(poles_s=(tau,) if tau else ()), scope=Scope(interval_s=0.2e-3, noise_v=0.05))
        result = measure_response(simulate_capture(world, rng))
        sides = [side for side in (result.rising, result.falling) if side is not None]
        estimates = [result.asymmetry, result.noise, result.swing, result.update_interval]
        estimates += [getattr(s, n) for s in sides for n in ("time_constant", "transition_10_90", "mean_delay")]
        for estimate in estimates:
            low, _ = coverage_interval(estimate)
            assert low is None or low > 0
