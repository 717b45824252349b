"""From a time constant to a part, its marks, and how far marks may lie off: worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feelcheck.model import Caveat, Estimate, Status
from feelcheck.network import (
    class_2_factors,
    infer_capacitance,
    infer_resistance,
    is_class_2,
    nearest_preferred,
    tolerance_factors,
)
from feelcheck.network.preferred import SERIES, decade, preferred_between

TAU = Estimate.measured("smoothing_delay", 4.7e-3, u=0.0, unit="s", n=8, dof=7)


def test_a_plain_capacitor_is_named_by_its_mark() -> None:
    # 1 uF +- 1 % (of the resistor) and 10 % of the mark: 0.90 to 1.12 uF, where E12 has 1.0 only.
    found = infer_capacitance(TAU, 4700.0, class_2=False)
    assert found.capacitance is not None
    assert found.capacitance.value == pytest.approx(1e-6)
    assert found.capacitance.u == pytest.approx(1e-6 * 0.01 / 1.959964)
    assert (found.capacitance.n, found.capacitance.dof, found.capacitance.caveats) == (8, 7, ())
    assert [(mark.value, mark.nearest) for mark in found.preferred] == [(1e-6, True)]


def test_a_class_2_capacitor_may_be_marked_up_to_twice_as_high() -> None:
    # At 1.8 V it keeps 0.5 to 1.05: marks from 0.99 / 1.155 = 0.857 to 1.01 / 0.45 = 2.24 uF.
    found = infer_capacitance(TAU, 4700.0)
    assert found.capacitance is not None
    assert [caveat.code for caveat in found.capacitance.caveats] == ["class_2"]
    assert [mark.value for mark in found.preferred] == pytest.approx([1e-6, 1.2e-6, 1.5e-6, 1.8e-6, 2.2e-6])
    assert [mark.ratio for mark in found.preferred] == pytest.approx([1.0, 1.2, 1.5, 1.8, 2.2])


def test_a_part_is_as_unsure_as_its_time_constant_and_the_known_part() -> None:
    """The time constant to 3 %, the resistor within 5 % with 95 %."""
    found = infer_capacitance(replace(TAU, u=0.03 * 4.7e-3), 4700.0, tolerance=0.05, class_2=False)
    assert found.capacitance is not None
    assert found.capacitance.u == pytest.approx(1e-6 * math.hypot(0.03, 0.05 / 1.959964))


def test_a_resistor_is_named_within_its_own_and_the_capacitors_tolerance() -> None:
    # 4.7 kohm times exp(+-0.10), then 5 % of the mark: 4.05 to 5.47 kohm in E24.
    found = infer_resistance(TAU, 1e-6)
    assert [mark.value for mark in found.preferred] == pytest.approx([4300.0, 4700.0, 5100.0])
    assert [mark.nearest for mark in found.preferred] == [False, True, False]


@pytest.mark.parametrize(("known", "infer"), [(4700.0, infer_capacitance), (1e-6, infer_resistance)])
def test_bounds_stay_bounds_and_take_the_worst_of_the_known_part(known: float, infer: object) -> None:
    assert callable(infer)
    for tau, bound in (
        (Estimate.at_most("t", 0.01, unit="s"), 0.01 / known / 0.9),
        (Estimate.at_least("t", 0.01, unit="s"), 0.01 / known / 1.1),
    ):
        found = infer(tau, known, tolerance=0.1)
        estimate = found.capacitance or found.resistance
        assert (estimate.status, estimate.bound) == (tau.status, pytest.approx(bound))
        assert found.preferred == ()


def test_what_is_not_resolved_says_why_and_names_no_mark() -> None:
    why = Caveat(code="few_edges", text="One edge only.")
    found = infer_resistance(Estimate.not_resolved("t", unit="s", caveats=(why,)), 1e-6)
    assert found.resistance is not None
    assert (found.resistance.status, found.resistance.caveats) == (Status.NOT_RESOLVED, (why,))
    assert found.preferred == ()


@given(value=st.floats(1e-12, 1e9), series=st.sampled_from(SERIES))
def test_the_nearest_mark_is_nearest_and_moves_with_the_decade(value: float, series: str) -> None:
    found = nearest_preferred(value, series)
    steps = [*decade(series), 10.0]
    widest = max(math.log(b / a) for a, b in pairwise(steps))
    assert abs(math.log(found / value)) <= widest / 2 + 1e-9
    assert nearest_preferred(10 * found, series) == pytest.approx(10 * found, rel=1e-12)


def test_the_nearest_mark_is_named_even_outside_the_range() -> None:
    found = preferred_between(5.0, 5.2, 5.1, "E6")
    assert [(mark.value, mark.nearest) for mark in found] == [(4.7, True)]


def test_an_unknown_series_is_refused() -> None:
    with pytest.raises(ValueError, match="no series 'E5'; there are E3, E6"):
        decade("E5")


@pytest.mark.parametrize(
    ("bias_v", "low"), [(0.0, 0.50), (2.0, 0.50), (-2.0, 0.50), (2.1, 0.30), (3.5, 0.30), (5.0, 0.19), (5.6, 0.07)]
)
def test_the_more_volts_the_less_a_class_2_capacitor_holds(bias_v: float, low: float) -> None:
    assert class_2_factors(bias_v) == (low, 1.05)


@pytest.mark.parametrize(
    ("dielectric", "expected"), [("C0G", False), ("np0", False), ("film", False), ("X7R", True), ("", True)]
)
def test_only_known_stable_dielectrics_keep_their_value(dielectric: str, expected: bool) -> None:
    assert is_class_2(dielectric) is expected


def test_a_tolerance_is_symmetric() -> None:
    assert tolerance_factors(0.2) == pytest.approx((0.8, 1.2))
