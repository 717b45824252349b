"""A few late stamps do not halve a report interval."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.model import Status
from feelcheck.sources.devices.measures import measured_interval


def test_late_looks_at_half_the_interval_leave_it_open() -> None:
    stamps_ns = np.arange(200) * 4_000_000
    stamps_ns[50::60] += 2_000_000
    found = measured_interval(stamps_ns.tolist())
    assert found.status is Status.NOT_RESOLVED or found.value == pytest.approx(0.004, rel=0.01)


def test_an_even_clock_is_told() -> None:
    found = measured_interval((np.arange(200) * 4_000_000).tolist())
    assert found.value == pytest.approx(0.004, rel=1e-6)
