"""Coverage factors against the published table of Student's t.

Source: JCGM 100:2008 (GUM), table G.2, column 95 % (values also in any handbook's t table).
"""

from __future__ import annotations

import math

import pytest

from feelcheck.model import Estimate
from feelcheck.numerics.uncertainty import coverage_factor, coverage_interval

TABLE_G2_95 = {1: 12.71, 2: 4.30, 3: 3.18, 4: 2.78, 5: 2.57, 10: 2.23, 20: 2.09, 50: 2.01}


@pytest.mark.reference
@pytest.mark.parametrize(("dof", "factor"), TABLE_G2_95.items())
def test_factor_equals_the_printed_table(dof: int, factor: float) -> None:
    assert coverage_factor(dof) == pytest.approx(factor, abs=0.005)


@pytest.mark.reference
def test_infinite_degrees_of_freedom_give_the_normal_factor() -> None:
    assert coverage_factor(math.inf) == pytest.approx(1.959963985, abs=1e-9)


def test_a_log_scale_interval_is_symmetric_as_a_ratio() -> None:
    low, high = coverage_interval(Estimate.measured("tau", 0.01, u=0.002, unit="s", dof=9, scale="log"))
    assert low is not None
    assert high is not None
    assert low * high == pytest.approx(1e-4, rel=1e-12)


@pytest.mark.parametrize(
    ("estimate", "interval"),
    [
        (Estimate.at_most("tau", 0.001, unit="s"), (None, 0.001)),
        (Estimate.at_least("tau", 0.05, unit="s"), (0.05, None)),
        (Estimate.not_resolved("tau", unit="s"), (None, None)),
        (Estimate.not_present("tau", unit="s"), (None, None)),
    ],
)
def test_ends_that_are_not_known_are_none(estimate: Estimate, interval: tuple[float | None, float | None]) -> None:
    assert coverage_interval(estimate) == interval
