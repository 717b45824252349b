"""How uncertainties and bounds travel through differences, products and known factors."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from feelcheck.model import Caveat, Estimate, Status
from feelcheck.numerics.uncertainty import (
    coverage_factor,
    coverage_interval,
    difference_of,
    effective_dof,
    product_of,
    scaled_estimate,
)

TEN = Estimate.measured("x", 10.0, u=0.3, unit="s", n=5, dof=4)
FOUR = Estimate.measured("y", 4.0, u=0.4, unit="s", n=3, dof=2)
TOP = Estimate.at_most("x", 2.0, unit="s", n=5)
BOTTOM = Estimate.at_least("x", 3.0, unit="s", n=5)
NOTHING = Estimate.not_resolved("x", unit="s")
FINITE = st.floats(1e-3, 1e3)


@pytest.mark.parametrize(
    ("variances", "dofs", "expected"),
    [
        ([1.0, 1.0], [4, 4], 8.0),
        ([1.0, 3.0], [2, 6], 16 / (1 / 2 + 9 / 6)),
        ([1.0, 1.0], [4, math.inf], 16.0),
        ([1.0, 0.0], [4, 1], 4.0),
        ([1.0, 1.0], [math.inf, math.inf], math.inf),
        ([0.0, 0.0], [4, 4], math.inf),
    ],
)
def test_effective_degrees_of_freedom(variances: list[float], dofs: list[float], expected: float) -> None:
    """Welch-Satterthwaite by hand: (sum v)^2 / sum(v^2 / dof)."""
    assert effective_dof(variances, dofs) == pytest.approx(expected)


def test_a_difference_adds_the_variances() -> None:
    found = difference_of(TEN, FOUR, quantity="d")
    assert (found.value, found.u) == pytest.approx((6.0, 0.5))
    assert found.n == 3
    assert found.dof == pytest.approx(0.25**2 / (0.09**2 / 4 + 0.16**2 / 2))


@pytest.mark.parametrize("side", [TOP, BOTTOM, NOTHING])
def test_a_difference_needs_two_values(side: Estimate) -> None:
    for found in (difference_of(TEN, side, quantity="d"), difference_of(side, TEN, quantity="d")):
        assert found.status is Status.NOT_RESOLVED
        assert [caveat.code for caveat in found.caveats] == ["side_without_value"]


def test_unlike_units_are_not_subtracted() -> None:
    with pytest.raises(ValueError, match="d: cannot subtract V from s"):
        difference_of(TEN, Estimate.measured("v", 1.0, u=0.1, unit="V"), quantity="d")


@pytest.mark.parametrize(
    ("first", "second", "status", "number"),
    [
        (TEN, FOUR, Status.OK, 40.0),
        (TOP, Estimate.measured("y", 4.0, u=0.0, unit="s"), Status.AT_MOST, 8.0),
        (Estimate.measured("y", 4.0, u=0.0, unit="s"), BOTTOM, Status.AT_LEAST, 12.0),
        (TOP, TOP, Status.AT_MOST, 4.0),
        (BOTTOM, BOTTOM, Status.AT_LEAST, 9.0),
        (TOP, BOTTOM, Status.NOT_RESOLVED, None),
        (TEN, NOTHING, Status.NOT_RESOLVED, None),
    ],
)
def test_a_product_keeps_bounds_and_their_sides(
    first: Estimate, second: Estimate, status: Status, number: float | None
) -> None:
    for found in (
        product_of(first, second, quantity="p", unit="s2"),
        product_of(second, first, quantity="p", unit="s2"),
    ):
        assert (found.status, found.unit) == (status, "s2")
        assert (found.value if status is Status.OK else found.bound) == number


def test_a_bound_times_a_value_takes_the_values_own_end() -> None:
    # 95 % of a value of 4 +- 0.4 with two degrees of freedom: 4 +- 4.3027 x 0.4 (Student's t).
    found = product_of(TOP, FOUR, quantity="p", unit="")
    assert found.bound == pytest.approx(2.0 * (4 + 4.3027 * 0.4), rel=1e-5)


def test_a_known_factor_scales_everything_and_a_negative_one_swaps_the_bounds() -> None:
    scaled = scaled_estimate(TEN, -2.0, quantity="z", unit="deg")
    assert (scaled.value, scaled.u, scaled.n, scaled.dof, scaled.unit) == (-20.0, 0.6, 5, 4, "deg")
    flipped = scaled_estimate(TOP, -2.0, quantity="z", unit="deg")
    assert (flipped.status, flipped.bound) == (Status.AT_LEAST, -4.0)
    assert scaled_estimate(BOTTOM, -1.0, quantity="z", unit="s").status is Status.AT_MOST
    positive = Estimate.measured("x", 1.0, u=0.1, unit="s", scale="log")
    assert [scaled_estimate(positive, k, quantity="z", unit="s").scale for k in (2.0, -2.0, 0.0)] == [
        "log", "linear", "linear"
    ]  # fmt: skip


@given(value=FINITE, share=st.floats(0.0, 0.5), factor=FINITE, dof=st.floats(1.0, 100.0))
def test_intervals_scale_with_the_unit_on_either_scale(value: float, share: float, factor: float, dof: float) -> None:
    for scale in ("linear", "log"):
        estimate = Estimate.measured("x", value, u=share * value, unit="s", dof=dof, scale=scale)
        plain = coverage_interval(estimate)
        found = coverage_interval(scaled_estimate(estimate, factor, quantity="x", unit="ms"))
        assert found == pytest.approx([factor * (end or 0.0) for end in plain], rel=1e-9, abs=1e-12)


@given(value=FINITE, share=st.floats(0.01, 0.5), dof=st.floats(1.0, 100.0))
def test_more_confidence_needs_more_room(value: float, share: float, dof: float) -> None:
    estimate = Estimate.measured("x", value, u=share * value, unit="s", dof=dof)
    (low90, high90), (low95, high95) = (coverage_interval(estimate, level) for level in (0.90, 0.95))
    assert low90 is not None
    assert low95 is not None
    assert low95 < low90 < value < (high90 or 0.0) < (high95 or 0.0)


@given(a=FINITE, b=FINITE, u=FINITE, v=FINITE)
def test_swapping_the_sides_of_a_difference_turns_its_sign_only(a: float, b: float, u: float, v: float) -> None:
    one, two = Estimate.measured("a", a, u=u, unit="s", dof=3), Estimate.measured("b", b, u=v, unit="s", dof=7)
    forth, back = difference_of(one, two, quantity="d"), difference_of(two, one, quantity="d")
    assert forth.value == pytest.approx(-(back.value or 0.0))
    assert (forth.u, forth.dof) == pytest.approx((back.u, back.dof))
    # No fewer degrees of freedom than the poorer side, no more than both together.
    assert 3 - 1e-9 <= forth.dof <= 10 + 1e-9


def test_caveats_do_not_travel_through_arithmetic() -> None:
    spoken = TEN.with_caveats(Caveat(code="few", text="Few."))
    assert product_of(spoken, FOUR, quantity="p", unit="").caveats == ()
    assert scaled_estimate(spoken, 2.0, quantity="p", unit="").caveats == spoken.caveats


@pytest.mark.reference
@pytest.mark.parametrize("level", [0.5, 0.9, 0.95, 0.99])
@pytest.mark.parametrize("dof", [1.0, 1.1, 2.0, 3.7, 13.0, 59.9, 60.0, 200.0, 1e6, math.inf])
def test_coverage_factor_without_scipy_is_scipys(dof: float, level: float) -> None:
    # source: scipy.special.stdtrit, ndtri
    tail = 0.5 + level / 2
    expected = special.ndtri(tail) if math.isinf(dof) else special.stdtrit(dof, tail)
    assert coverage_factor(dof, level) == pytest.approx(float(expected), rel=1e-8)
