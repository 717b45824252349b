"""Small laws of the bench: candidates, noise, converter steps, pooling, sensitivity."""

from __future__ import annotations

import math

import numpy as np
import pytest

from feelcheck.bench.levels import block_average, converter_step, noise_rms, prepare
from feelcheck.bench.pooling import pool
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.transfer import edge_sensitivity
from feelcheck.model import Estimate, FloatArray, Status


@pytest.mark.parametrize(
    ("spec", "n", "weak"),
    [
        (ModelSpec(), 1, False),
        (ModelSpec(shape="none", dead=True), 1, False),
        (ModelSpec(shape="two_pole", dead=True, clip_high=True), 4, False),
        (ModelSpec(shape="ramp"), 2, True),
        (ModelSpec(shape="ramp_open"), 1, True),
        (ModelSpec(shape="to_ground"), 3, True),
        (ModelSpec(shape="second_order"), 2, False),
    ],
)
def test_a_candidate_counts_its_parameters(spec: ModelSpec, n: int, weak: bool) -> None:
    assert (spec.n_parameters, spec.weak) == (n, weak)


@pytest.mark.parametrize(
    ("values", "step"),
    [
        (np.repeat([0.0, 0.25, 0.5, 1.25], 9), 0.25),
        (np.repeat([0.0, 1.0], 9), 0.0),
        (np.arange(40) * 0.1, 0.0),
        (np.zeros(9), 0.0),
    ],
    ids=["coarse", "two_levels", "all_different", "constant"],
)
def test_a_converters_step_is_told_where_values_repeat(values: FloatArray, step: float) -> None:
    assert converter_step(values) == pytest.approx(step)


@pytest.mark.parametrize("sd", [0.01, 3.0])
@pytest.mark.parametrize("slope", [0.0, 1.0])
def test_white_noise_is_told_under_a_slope_and_beside_an_edge(sd: float, slope: float) -> None:
    # Median of 4000 second differences: about 2 % for one sigma.
    t = np.linspace(0.0, 1.0, 4000)
    y = slope * t + (t > 0.5) + sd * np.random.default_rng(2).standard_normal(t.size)
    assert noise_rms(y) == pytest.approx(sd, rel=0.08)


def test_three_values_have_no_noise_and_a_line_none_either() -> None:
    assert noise_rms(np.array([1.0, 2.0, 9.0])) == 0.0
    assert noise_rms(np.arange(50.0)) == 0.0


def test_what_is_not_finite_is_left_out_and_rounding_counts_as_noise() -> None:
    values = np.repeat([0.0, 0.5, 1.0, 2.0], 20)
    values[3] = np.nan
    trace = prepare(np.arange(80.0), values)
    assert trace.t_s.size == 79
    assert trace.step == pytest.approx(0.5)
    assert trace.noise >= 0.5 / math.sqrt(12) - 1e-12
    assert trace.part(2, 5).values.size == 3
    assert prepare(np.arange(5.0), np.arange(5.0)).interval_s == 1.0


def test_block_averages_keep_whole_blocks_and_their_mean() -> None:
    assert block_average(np.arange(7.0), 3).tolist() == [1.0, 4.0]
    assert block_average(np.arange(3.0), 1).tolist() == [0.0, 1.0, 2.0]
    assert block_average(np.arange(2.0), 3).size == 0


@pytest.mark.parametrize(
    ("values", "us", "mean", "u"),
    [([4.0], [0.1], 4.0, 0.1), ([4.0, 4.0], [0.1, 0.1], 4.0, 0.1 / math.sqrt(2))],
)
def test_edges_that_agree_pool_to_their_mean(values: list[float], us: list[float], mean: float, u: float) -> None:
    assert pool(values, us) == pytest.approx((mean, u))


def test_edges_that_disagree_are_less_sure_than_each_says() -> None:
    mean, u = pool([4.0, 5.0], [0.01, 0.01])
    assert mean == pytest.approx(4.5)
    assert u > 0.2


COIL = Estimate.measured("swing", 0.5, u=0.005, unit="A")
SWING = Estimate.measured("swing", 1.0, u=0.02, unit="V", n=4)


@pytest.mark.parametrize(
    ("swing", "drive", "saturated", "status", "number"),
    [
        (SWING, COIL, False, Status.OK, 2.0),
        (SWING, COIL, True, Status.AT_LEAST, 2.0),
        (Estimate.at_least("swing", 1.0, unit="V"), COIL, False, Status.AT_LEAST, 2.0),
        (Estimate.not_resolved("swing", unit="V"), COIL, False, Status.NOT_RESOLVED, None),
        (SWING, None, False, Status.NOT_RESOLVED, None),
        (SWING, Estimate.measured("swing", 0.0, u=0.1, unit="A"), False, Status.NOT_RESOLVED, None),
    ],
)
def test_volts_per_ampere_of_an_edge(
    swing: Estimate, drive: Estimate | None, saturated: bool, status: Status, number: float | None
) -> None:
    found = edge_sensitivity(swing, drive, saturated, "V/A")
    assert (found.status, found.unit) == (status, "V/A")
    assert (found.value if found.is_ok else found.bound) == number
    if found.is_ok:
        assert found.u == pytest.approx(2.0 * math.hypot(0.02, 0.01))
