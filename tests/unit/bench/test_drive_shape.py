"""A drive freed of its noise: ramps and exponentials by their shape, flats by their mean, the rest left alone."""

import numpy as np
import pytest

from feelcheck.bench.drive import denoised
from feelcheck.bench.drive_shape import shaped_transition
from feelcheck.bench.edges import find_edges
from feelcheck.bench.levels import prepare

T = np.arange(-10e-3, 50e-3, 20e-6)
SHAPES = {
    "ramp": np.clip(T / 2.5e-3, 0.0, 1.0),
    "exponential": 1 - np.exp(-np.maximum(T, 0.0) / 1e-3),
    "s curve": 0.5 * (1 + np.tanh((T - 2e-3) / 1e-3)),
}


@pytest.mark.parametrize("name", SHAPES)
def test_noise_goes_and_the_shape_stays(name: str) -> None:
    clean = SHAPES[name]
    noisy = clean + 0.003 * np.random.default_rng(4).standard_normal(T.size)
    trace = prepare(T, noisy)
    left = denoised(trace, find_edges(trace)) - clean
    assert np.sqrt(np.mean(left**2)) < 0.25 * 0.003
    assert np.max(np.abs(left)) < 2.5 * 0.003


@pytest.mark.parametrize(("name", "found"), [("ramp", True), ("exponential", True), ("s curve", False)])
def test_only_the_two_plain_shapes_are_taken(name: str, found: bool) -> None:
    part = (T > -1e-3) & (T < 6e-3)
    noisy = SHAPES[name] + 0.003 * np.random.default_rng(5).standard_normal(T.size)
    assert (shaped_transition(T[part], noisy[part], 0.003, 2e-3) is not None) is found


def test_a_drifting_flat_is_not_replaced_by_its_mean() -> None:
    clean = SHAPES["ramp"] + 2.0 * np.maximum(T, 0.0)
    trace = prepare(T, clean + 0.001 * np.random.default_rng(6).standard_normal(T.size))
    left = denoised(trace, find_edges(trace)) - clean
    assert abs(float(np.mean(left[-200:]))) < 0.001
