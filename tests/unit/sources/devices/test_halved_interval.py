"""Late looks do not halve a report interval."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.model import Status
from feelcheck.sources.devices.survey import measured_interval


def test_late_looks_at_half_the_interval_leave_it_open() -> None:
    stamps_ns = np.arange(200) * 4_000_000
    stamps_ns[50::60] += 2_000_000
    found = measured_interval(stamps_ns.tolist(), [0] * 200)
    assert found.status is Status.NOT_RESOLVED or found.value == pytest.approx(0.004, rel=0.01)


def test_an_even_clock_is_told() -> None:
    found = measured_interval((np.arange(200) * 4_000_000).tolist(), [0] * 200)
    assert found.value == pytest.approx(0.004, rel=1e-6)


def test_looks_of_a_busy_machine_that_are_late_by_turns_are_left_out() -> None:
    late_ns = np.where(np.arange(400) % 5 < 2, 2_000_000, 0)
    stamps_ns = np.arange(400) * 4_000_000 + late_ns
    found = measured_interval(stamps_ns.tolist(), (300_000 + late_ns).tolist())
    assert found.value == pytest.approx(0.004, rel=1e-6)


def test_looks_as_long_as_the_interval_tell_none() -> None:
    found = measured_interval((np.arange(200) * 4_000_000).tolist(), [4_000_000] * 200)
    assert (found.status, found.caveats[0].code) == (Status.NOT_RESOLVED, "looked_seldom")
