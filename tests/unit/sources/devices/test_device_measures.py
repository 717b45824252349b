"""Native step and report interval from what a pad was seen to do."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.model import Status
from feelcheck.sources.devices.survey import measured_interval, native_step

FULL = (-32768, 32767)


def levels(n_bits: int, n: int, *, cut: bool = False) -> list[int]:
    """Values of an n-bit converter stretched over 16 bits, rounded or cut as drivers do (SDL 2.28's scaling)."""
    place = np.random.default_rng(n_bits).integers(0, 2**n_bits, n) * 65535 / (2**n_bits - 1)
    return [int(value) - 32768 for value in (np.floor(place) if cut else np.rint(place))]


@pytest.mark.parametrize("cut", [False, True])
@pytest.mark.parametrize("n_bits", [8, 10, 11, 12, 13])
def test_the_native_step_of_a_stretched_axis_is_found(n_bits: int, cut: bool) -> None:
    step = native_step(levels(n_bits, 200, cut=cut), *FULL)
    assert step.value == pytest.approx(65535 / (2**n_bits - 1), rel=1e-12)


def test_a_full_16_bit_axis_has_no_coarser_lattice() -> None:
    values = np.random.default_rng(1).integers(-32768, 32768, 500).tolist()
    step = native_step(values, *FULL)
    assert (step.status, step.caveats[0].code) == (Status.NOT_RESOLVED, "no_lattice")


def test_a_few_values_decide_nothing() -> None:
    step = native_step([-32768, 0, 257], *FULL)
    assert (step.status, step.caveats[0].code) == (Status.NOT_RESOLVED, "little_motion")


def test_a_narrow_range_is_the_pads_own() -> None:
    assert native_step([4, 9], 0, 255).value == 1.0


@pytest.mark.parametrize("interval_s", [0.001, 0.004, 0.008])
def test_the_report_interval_is_that_of_the_motion_not_of_the_changes(interval_s: float) -> None:
    rng = np.random.default_rng(4)
    slots = np.arange(1500)[rng.random(1500) > 0.3]
    slots[800:] += 4000  # a pause
    t_ns = (slots * interval_s + rng.normal(0, 20e-6, slots.size)) * 1e9
    found = measured_interval([int(t) for t in np.sort(t_ns) + 1e12], [0] * t_ns.size)
    assert found.value == pytest.approx(interval_s, rel=1e-3)


def test_irregular_reports_get_no_interval() -> None:
    t_s = np.cumsum(np.random.default_rng(6).exponential(0.004, 600))
    found = measured_interval([int(t * 1e9) for t in t_s], [0] * t_s.size)
    assert (found.status, found.caveats[0].code) == (Status.NOT_RESOLVED, "uneven_reports")


def test_a_still_pad_gets_no_interval() -> None:
    assert measured_interval([5, 6], [0, 0]).caveats[0].code == "little_motion"
