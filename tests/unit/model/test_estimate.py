"""Estimates keep value, uncertainty, bound and status consistent."""

from __future__ import annotations

import math

import pytest

from feelcheck.model import Caveat, Estimate, Status

FEW = Caveat(code="few_flicks", text="Two flicks only.", advice="Record ten.")


def test_measured_has_a_value_and_no_bound() -> None:
    estimate = Estimate.measured("time_constant", 0.01, u=0.001, unit="s", n=5, dof=4)
    assert (estimate.status, estimate.value, estimate.bound, estimate.is_ok) == (Status.OK, 0.01, None, True)


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_measured_refuses_values_that_are_not_finite(bad: float) -> None:
    with pytest.raises(ValueError, match="finite value"):
        Estimate.measured("noise", bad, u=1.0, unit="counts")


@pytest.mark.parametrize("u", [-1.0, math.nan, math.inf])
def test_measured_refuses_a_senseless_uncertainty(u: float) -> None:
    with pytest.raises(ValueError, match="u >= 0"):
        Estimate.measured("noise", 1.0, u=u, unit="counts")


def test_log_scale_needs_a_positive_value() -> None:
    with pytest.raises(ValueError, match="must be positive"):
        Estimate.measured("ratio", 0.0, u=0.1, unit="", scale="log")


def test_degrees_of_freedom_must_be_positive() -> None:
    with pytest.raises(ValueError, match="degrees of freedom"):
        Estimate.measured("noise", 1.0, u=0.1, unit="counts", dof=0)


def test_bounds_carry_no_value() -> None:
    upper = Estimate.at_most("time_constant", 0.001, unit="s")
    lower = Estimate.at_least("transition_10_90", 0.05, unit="s")
    assert (upper.value, upper.bound, lower.value, lower.bound) == (None, 0.001, None, 0.05)


def test_a_bound_belongs_to_bounded_statuses_only() -> None:
    with pytest.raises(ValueError, match="finite bound"):
        Estimate(quantity="x", unit="s", status=Status.NOT_RESOLVED, bound=1.0)
    with pytest.raises(ValueError, match="finite bound"):
        Estimate(quantity="x", unit="s", status=Status.AT_MOST)


def test_unresolved_estimates_cannot_hide_a_value() -> None:
    with pytest.raises(ValueError, match="only an ok estimate"):
        Estimate(quantity="x", unit="s", status=Status.NOT_RESOLVED, value=1.0)


def test_a_caveat_is_added_once() -> None:
    estimate = Estimate.not_resolved("x", unit="s").with_caveats(FEW, FEW).with_caveats(FEW)
    assert estimate.caveats == (FEW,)


def test_caveats_keep_the_order_in_which_they_came() -> None:
    other = Caveat(code="slow", text="Slow flicks.")
    estimate = Estimate.not_resolved("x", unit="s", caveats=(FEW,)).with_caveats(other, FEW)
    assert [caveat.code for caveat in estimate.caveats] == ["few_flicks", "slow"]


def test_renaming_keeps_everything_else() -> None:
    estimate = Estimate.measured("a", 1.0, u=0.1, unit="s", n=3)
    assert estimate.renamed("b").renamed("a") == estimate
