"""Output against drive from a slow triangle: slope, ends, hysteresis of a sensor that is known."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.bench.edges import Edge
from feelcheck.bench.levels import prepare
from feelcheck.bench.transfer import TransferCurve, measure_transfer
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import FloatArray, Status

N = 12_000
T_S: FloatArray = 1e-3 * np.arange(N, dtype=np.float64)
DRIVE: FloatArray = 2.0 * np.abs(np.linspace(-1.0, 1.0, N)) - 1.0  # 1 A down to -1 A and back


def edge(begin: int, end: int) -> Edge:
    """A flank of the triangle as whole stretch."""
    return Edge(
        onset_s=float(T_S[begin]), t50_s=float(T_S[(begin + end) // 2]), end_s=float(T_S[end]), previous_s=0.0,
        first=float(DRIVE[begin]), last=float(DRIVE[end]), mid_edge=False, duration_s=4.8,
        resolution_s=1e-3,
    )  # fmt: skip


FLANKS = (edge(0, N // 2 - 1), edge(N // 2, N - 1))


def curve(output: FloatArray, seed: int = 1) -> TransferCurve:
    noisy = output + 1e-3 * np.random.default_rng(seed).standard_normal(N)
    return measure_transfer(prepare(T_S, DRIVE), prepare(T_S, noisy), FLANKS, ("A", "V"), "out")


@pytest.mark.parametrize("slope", [0.5, -0.5])
def test_a_straight_sensor_is_its_slope_from_end_to_end(slope: float) -> None:
    found = curve(0.9 + slope * DRIVE)
    sensitivity = found.estimates["sensitivity"]
    assert sensitivity.unit == "V/A"
    assert sensitivity.value == pytest.approx(slope, abs=4 * (sensitivity.u or 0.0) + 1e-4)
    assert found.swing.value == pytest.approx(1.0, rel=0.03)
    for name in ("saturation_low", "saturation_high"):
        assert found.estimates[name].status is Status.NOT_PRESENT
    assert found.estimates["noise"].value == pytest.approx(1e-3, rel=0.1)


def test_a_sensor_that_runs_into_its_ends_tells_both_levels() -> None:
    found = curve(np.clip(0.9 + 1.5 * DRIVE, 0.2, 1.6)).estimates
    assert found["sensitivity"].value == pytest.approx(1.5, rel=0.02)
    assert found["saturation_low"].value == pytest.approx(0.2, abs=0.01)
    assert found["saturation_high"].value == pytest.approx(1.6, abs=0.01)
    # Straight from (0.2 - 0.9) / 1.5 to (1.6 - 0.9) / 1.5 A, told to a bin of 1/30 A.
    assert found["linear_low"].value == pytest.approx(-0.467, abs=0.05)
    assert found["linear_high"].value == pytest.approx(0.467, abs=0.05)


def test_hysteresis_is_told_in_the_unit_of_the_drive() -> None:
    # 0.04 A wide: the output follows the drive 0.02 A behind, either way.
    way = np.where(np.arange(N) < N // 2, 0.02, -0.02)
    found = curve(0.9 + 0.5 * (DRIVE + way)).estimates["hysteresis"]
    assert found.unit == "A"
    assert found.value == pytest.approx(0.04, rel=0.05)


def test_without_hysteresis_it_is_bounded() -> None:
    found = curve(0.9 + 0.5 * DRIVE).estimates["hysteresis"]
    assert found.status is Status.AT_MOST
    assert 5e-5 < (found.bound or 0.0) < 2e-4, "0.13 mV a bin, of 60, over 0.5 V/A: twice 34 uA, and what was seen"


def test_two_levels_of_the_drive_are_no_sweep() -> None:
    steps = prepare(T_S, np.where(DRIVE > 0, 1.0, -1.0))
    with pytest.raises(NotEnoughDataError, match="needs a sweep of the drive"):
        measure_transfer(steps, prepare(T_S, 0.9 + 0.5 * DRIVE), FLANKS, ("A", "V"), "out")


def test_a_hysteresis_scatters_as_much_as_it_says() -> None:
    way = np.where(np.arange(N) < N // 2, 0.02, -0.02)
    found = [curve(0.9 + 0.5 * (DRIVE + way), seed).estimates["hysteresis"] for seed in range(25)]
    scatter = np.std([one.value or 0.0 for one in found], ddof=1)
    assert 0.6 < scatter / np.mean([one.u or 0.0 for one in found]) < 1.9, "a median of bins: 1.25, with its draws"


def test_what_a_sweep_tells_lies_in_its_intervals_and_these_are_no_wider_than_said() -> None:
    """Twelve sweeps of one sensor: slope 1.5 V/A between 0.2 and 1.6 V, 0.04 A wide, noise of 1 mV."""
    way = np.where(np.arange(N) < N // 2, 0.02, -0.02)
    found = [curve(np.clip(0.9 + 1.5 * (DRIVE + way), 0.2, 1.6), seed) for seed in range(12)]
    truths = {
        "sensitivity": (1.5, 6.0, 1e-4),  # bins that hold a corner take part, too: 0.013 %
        "linear_low": (-0.7 / 1.5, 1.1, 1 / 60),  # half of a bin of the drive's 2 A
        "linear_high": (0.7 / 1.5, 1.1, 1 / 60),
        "saturation_low": (0.2, 1.0, 3e-3),
        "saturation_high": (1.6, 1.0, 3e-3),
        "hysteresis": (0.04, 2.0, 1e-3),
        "noise": (1e-3, 2.0, 1.1e-4),
    }
    for name, (truth, most, width) in truths.items():
        values, us = np.array([(one.estimates[name].value, one.estimates[name].u) for one in found], dtype=float).T
        assert np.all(np.abs(values - truth) < most * us), name
        assert np.all(us < 1.05 * width), name
    pairs = [(one.estimates["sensitivity"].value, one.estimates["sensitivity"].u) for one in found]
    slopes, us = np.array(pairs, dtype=float).T
    assert 0.55 < np.std(slopes, ddof=1) / np.mean(us) < 1.8
    for one in found:
        assert abs((one.swing.value or 0.0) - 1.4) < 2 * (one.swing.u or 0.0) < 3e-3
