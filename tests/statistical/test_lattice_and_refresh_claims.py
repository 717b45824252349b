"""Steps within 1 %, refresh within 2 %, and nothing claimed that is not there, over simulated worlds."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from feelcheck.hand import quantization, refresh
from feelcheck.hand.view import prepare
from feelcheck.model import Estimate, HandView, Provenance, Recording, Stream, TimeBase
from feelcheck.sources.synthetic import quick_script, random_world, simulate_recording

# Filters with a memory leave no lattice; their worlds test that none is claimed. Two holds in a row (a sensor's and a
# converter's) show the converter's.
BLURRED = ("recursive", "adaptive_filter")


def measured(view: HandView) -> dict[tuple[str, str], Estimate]:
    outputs = [metric.METRIC.measure(view) for metric in (quantization, refresh)]
    return {(f.axis, f.estimate.quantity): f.estimate for output in outputs for f in output.findings}


def world_and_log(seed: int) -> Any:
    rng = np.random.default_rng(seed)
    world = random_world(rng, chance=0.2, style=("table", "events")[seed % 2])
    return world, simulate_recording(world, quick_script(12, rng), rng)


def check_claims(seeds: range, *, wrong_share: float) -> None:
    n_steps = n_found = n_axes = 0
    wrong = []
    for seed in seeds:
        world, recording = world_and_log(seed)
        found = measured(prepare(recording))
        truth = recording.truth
        for axis in ("left_x", "left_y"):
            n_axes += 1
            step = found[axis, "quantization_step"]
            if not any(effect in world.name for effect in BLURRED):
                n_steps += 1
                n_found += step.is_ok
                if step.value is not None and step.value != pytest.approx(truth[f"{axis}.step_counts"], rel=0.01):
                    wrong.append((seed, axis, world.name, step))
            update, true_s = found[axis, "update_interval"], float(truth[f"{axis}.update_interval_s"])
            judged = update.value is not None and not ("refresh" in world.name and "slow_converter" in world.name)
            if judged and abs((update.value or 0.0) - true_s) >= max(0.02 * true_s, 2.5 * (update.u or 0.0)):
                wrong.append((seed, axis, world.name, update))
            if update.bound is not None and update.bound < 0.995 * true_s:
                wrong.append((seed, axis, world.name, update))
    assert len(wrong) <= wrong_share * n_axes, wrong
    assert n_found > 0.85 * n_steps


@pytest.mark.statistical
def test_claims_over_a_sample_of_worlds() -> None:
    check_claims(range(500, 508), wrong_share=0.0)


@pytest.mark.full
def test_claims_over_many_worlds() -> None:
    check_claims(range(1000, 1200), wrong_share=0.02)


@pytest.mark.statistical
@pytest.mark.parametrize("seed", [0, 1, *(pytest.param(seed, marks=pytest.mark.full) for seed in range(2, 12))])
def test_noise_and_interpolated_streams_claim_no_step_and_no_refresh(seed: int) -> None:
    rng = np.random.default_rng(seed)
    t_s = np.arange(0, 20, 1e-3)
    walk = np.interp(t_s, np.arange(0, 20.5, 0.25), rng.uniform(-0.9, 0.9, 82))
    smooth = np.convolve(walk, np.hanning(500) / np.hanning(500).sum(), "same")
    slow = np.round(smooth[::8] * 2047) / 2047
    drift_s = np.cumsum(rng.uniform(0.9e-3, 1.1e-3, 18_000))
    streams = {
        "noise": (t_s, np.round(rng.normal(0, 8000, t_s.size).clip(-32768, 32767)).astype(np.int64)),
        "smooth": (t_s, np.round(smooth * 32767 + rng.normal(0, 30, t_s.size)).astype(np.int64)),
        "interpolated": (t_s, np.round(np.interp(t_s, t_s[::8], slow) * 32767).astype(np.int64)),
        "resampled": (drift_s, np.interp(drift_s, t_s[::8], slow)),
    }
    for name, (at_s, codes) in streams.items():
        stream = Stream(name="x", time=TimeBase.from_instants(at_s), codes=codes)
        found = measured(prepare(Recording(streams=(stream,), provenance=Provenance())))
        step, update = found["x", "quantization_step"], found["x", "update_interval"]
        if name == "interpolated" and step.is_ok:  # held values may show the converter itself, nothing else may
            assert step.value == pytest.approx(32767 / 2047, rel=0.01)
        else:
            assert not step.is_ok, (seed, name, step)
        assert not update.is_ok, (seed, name, update)
