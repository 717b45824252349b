from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from feelcheck.hand.lattice import find_lattice, number_grid
from feelcheck.model import AxisScale, Stream, TimeBase


def stream(codes: Any, *, reach: float = 32767.0, unit: Any = "counts", centre: float = 0.0) -> Any:
    return Stream(
        name="x",
        time=TimeBase.from_instants(np.arange(len(codes)) * 1e-3),
        codes=np.asarray(codes),
        scale=AxisScale(reach=reach, unit=unit, centre=centre),
    )


def sweeps(n: int = 20_000, seed: int = 0) -> Any:
    """Return a stick that wanders over the whole range at varied speed, fractions of full throw."""
    rng = np.random.default_rng(seed)
    t = np.arange(n) / n
    wave = sum(np.sin(2 * np.pi * (f * t + rng.random())) / k for k, f in enumerate((9.3, 23.1, 51.7), 1))
    return wave / np.abs(wave).max()


def converted(step: Any, seed: int = 0, noise: float = 0.3) -> Any:
    rng = np.random.default_rng(seed)
    motion = 32000 * sweeps(seed=seed) / step + rng.normal(0, noise, 20_000)
    return np.round(np.round(motion) * step).astype(np.int64)


@pytest.mark.parametrize("step", [8.0, 16.0037, 63.7, 64.0616, 79.3, 256.0, 257.0, 258.0])
def test_converter_steps_are_found(step: Any) -> None:
    lattice = find_lattice(stream(converted(step)))
    assert lattice.step == pytest.approx(step, rel=1e-3)
    assert lattice.reason == "found"


def test_native_codes_are_their_own_step() -> None:
    codes = np.round(127.5 + 120 * sweeps()).astype(np.int64)
    lattice = find_lattice(stream(codes, reach=127.5, centre=127.5))
    assert (lattice.step, lattice.reason) == (1.0, "native")


def test_the_grid_of_a_16_bit_log_is_not_taken_for_a_converter() -> None:
    lattice = find_lattice(stream(np.round(32000 * sweeps()).astype(np.int64)))
    assert (lattice.step, lattice.reason) == (None, "log_grid")


@pytest.mark.parametrize("decimals", [3, 4, 5])
def test_printed_fractions(decimals: Any) -> None:
    codes = np.round(np.round(sweeps() * 127) / 127, decimals)
    lattice = find_lattice(stream(codes, reach=1.0, unit="fraction"))
    assert lattice.step == pytest.approx(1 / 127, rel=2e-3)


def test_fractions_printed_too_coarsely_are_not_resolved() -> None:
    codes = np.round(np.round(sweeps() * 127) / 127, 2)
    assert find_lattice(stream(codes, reach=1.0, unit="fraction")).step is None


def test_floats_keep_their_lattice() -> None:
    codes = np.round(sweeps() * 511.5) / 511.5
    assert find_lattice(stream(codes, reach=1.0, unit="fraction")).step == pytest.approx(1 / 511.5, rel=1e-3)


def test_a_recursive_filter_hides_the_lattice() -> None:
    codes, state = [], 0.0
    for value in converted(64.0616):
        state += 0.2 * (value - state)
        codes.append(round(state))
    assert find_lattice(stream(codes)).step is None


def test_resampled_floats_claim_no_lattice() -> None:
    t = np.arange(20_000) * 1e-3
    codes = np.interp(np.arange(0, 19.9, np.pi * 1e-3), t, converted(64.0) / 32767)
    assert find_lattice(stream(codes, reach=1.0, unit="fraction")).step is None


def test_interpolation_at_a_whole_ratio_does_not_pass_for_a_finer_converter() -> None:
    coarse = np.repeat(converted(257.0, noise=0.0)[::50], 3)  # a stick that stops every now and then
    codes = np.round(np.interp(np.arange(0, coarse.size - 1, 0.25), np.arange(coarse.size), coarse)).astype(np.int64)
    lattice = find_lattice(stream(codes))
    assert lattice.step == pytest.approx(257.0, rel=1e-3)
    assert lattice.finer == pytest.approx(257.0 / 4, rel=1e-2)


@pytest.mark.parametrize(("first", "second"), [(64.0616, 257.0), (64.0, 256.0)])
def test_a_log_that_changes_its_width_is_told(first: Any, second: Any) -> None:
    codes = np.concatenate((converted(first)[:9000], converted(second)[9000:]))
    lattice = find_lattice(stream(codes))
    assert lattice.step is not None
    assert lattice.mixed_with is not None
    assert sorted([lattice.step, lattice.mixed_with]) == pytest.approx([first, second], rel=2e-3)


def test_sides_scaled_apart_are_told() -> None:
    codes = converted(64.0, noise=0.0)
    codes = np.where(codes < 0, np.round(codes * 0.95), codes).astype(np.int64)
    lattice = find_lattice(stream(codes))
    assert lattice.halves == pytest.approx((60.8, 64.0), rel=1e-3)
    assert (lattice.step, lattice.u) == pytest.approx((62.4, 1.6), rel=0.02), "either side's step is within it"


def test_a_dead_zone_that_shifts_each_side_keeps_the_step() -> None:
    codes = converted(64.0, noise=0.0)
    codes = np.where(np.abs(codes) < 1000, 0, codes - 1011 * np.sign(codes)).astype(np.int64)
    assert find_lattice(stream(codes)).step == pytest.approx(64.0, rel=1e-3)


def test_one_even_sweep_is_not_a_lattice() -> None:
    """Evenly timed reports of an evenly moving stick are evenly spaced, once."""
    codes = np.concatenate((np.linspace(-1, 1, 400), np.random.default_rng(5).uniform(-1, 1, 800)))
    assert find_lattice(stream(codes, reach=1.0, unit="fraction")).step is None


def test_few_levels_and_clusters_claim_nothing() -> None:
    assert find_lattice(stream(np.tile([0, 64, 128], 50))).reason == "few_levels"
    clustered = np.concatenate([k * 3000 + np.arange(60) for k in range(-8, 9)])
    assert find_lattice(stream(np.tile(clustered, 3))).step is None


def test_decimal_grid_of_a_log() -> None:
    assert number_grid(np.array([0.5, -0.25]), 0.0).unit_step == 0.01
    assert number_grid(np.array([np.pi, 1 / 3]), 0.0).kind == "float"


@pytest.mark.parametrize("reach", [1e9, 1e300, pytest.param(1e18, marks=pytest.mark.full)])
def test_the_cost_does_not_follow_what_the_numbers_reach(reach: float) -> None:
    # Numbers of all sizes once asked for a transform as long as they reach.
    values = np.sin(np.arange(400) * 0.37) * reach
    stream = Stream(name="x", time=TimeBase.from_instants(np.arange(400) * 0.004), codes=values)
    assert find_lattice(stream).n_levels > 100
