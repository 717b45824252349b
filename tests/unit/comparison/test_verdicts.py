"""Verdicts on hand sessions: what is a replicate, what is refused, what a bound can say."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from feelcheck.comparison import Plan, compare_before_after, compare_sides, pooled_estimate
from feelcheck.comparison.decisions import more_per_side
from feelcheck.comparison.numbers import MAX_PER_SIDE
from feelcheck.errors import NotComparableError
from feelcheck.model import Condition, Estimate, HandRecord, Margin, MetricComparison

FIXED = Plan(fixed_beforehand=True, margins={"smoothing_delay": Margin(value=0.001)})


def session(
    value_ms: float | None,
    number: int,
    *,
    mounting: int | None = None,
    state: str = "as_found",
    bound_ms: float | None = None,
    **facts: str,
) -> HandRecord:
    if value_ms is not None:
        estimate = Estimate.measured("smoothing_delay", value_ms / 1e3, u=5e-5, unit="s", n=12, dof=11)
    elif bound_ms is not None:
        estimate = Estimate.at_most("smoothing_delay", bound_ms / 1e3, unit="s")
    else:
        estimate = Estimate.not_resolved("smoothing_delay", unit="s")
    return HandRecord(
        session=f"s{number}",
        state=state,
        condition=Condition(facts=facts, mounting=mounting),
        axes={"left_x": {"rising": {"smoothing_delay": estimate}}},
    )


def side(values_ms: Sequence[float | None], **more: object) -> list[HandRecord]:
    return [session(value, k, **more) for k, value in enumerate(values_ms)]  # type: ignore[arg-type]


def only(rows: tuple[MetricComparison, ...]) -> MetricComparison:
    assert len(rows) == 1
    return rows[0]


def test_a_clear_difference() -> None:
    row = only(compare_sides(side([3.0, 3.1, 2.9]), side([9.0, 9.2, 8.9]), candidate_name="birch", plan=FIXED))
    assert (row.verdict, row.detected, row.scope) == ("different", True, "recording")
    assert row.difference.value == pytest.approx(6.03e-3, abs=1e-5)


def test_a_difference_inside_the_margin_is_equivalent_though_detected() -> None:
    baseline, candidate = side([3.00, 3.01, 2.99, 3.0]), side([3.30, 3.31, 3.29, 3.3])
    row = only(compare_sides(baseline, candidate, candidate_name="cedar", plan=FIXED))
    assert (row.verdict, row.detected) == ("equivalent", True)
    assert "a difference is seen" in row.why


def test_not_significant_is_never_the_same() -> None:
    row = only(compare_sides(side([2.0, 4.5, 3.0]), side([3.5, 1.5, 4.0]), candidate_name="elm", plan=FIXED))
    assert row.verdict == "undecided"
    assert row.more_recordings is not None


def test_one_recording_a_side_decides_nothing() -> None:
    row = only(compare_sides(side([3.0]), side([30.0]), candidate_name="birch", plan=FIXED))
    assert (row.verdict, row.scope) == ("undecided", "within_recording")
    assert row.difference.value == pytest.approx(0.027)


def test_each_mounting_counts_once_where_it_is_known() -> None:
    baseline = [session(v, k, mounting=1 + k // 2) for k, v in enumerate([3.0, 3.0, 4.0, 4.0])]
    candidate = [session(v, k, mounting=1 + k // 2) for k, v in enumerate([5.0, 5.0, 6.0, 6.0])]
    row = only(compare_sides(baseline, candidate, candidate_name="birch", plan=FIXED))
    assert (row.scope, row.baseline.n, row.verdict) == ("mounting", 2, "undecided")


def test_bounds_inside_the_margin_are_equivalent() -> None:
    baseline = [session(None, k, bound_ms=0.4) for k in range(3)]
    candidate = [session(None, k, bound_ms=0.6) for k in range(3)]
    row = only(compare_sides(baseline, candidate, candidate_name="cedar", plan=FIXED))
    assert row.verdict == "equivalent"


def test_a_bound_far_below_the_other_side_is_different_by_at_least_that() -> None:
    baseline = [session(None, k, bound_ms=0.5) for k in range(3)]
    row = only(compare_sides(baseline, side([9.0, 9.1, 9.2]), candidate_name="birch", plan=FIXED))
    assert (row.verdict, row.difference.status) == ("different", "at_least")


def test_a_bound_that_reaches_the_other_side_decides_nothing() -> None:
    baseline = [session(None, k, bound_ms=4.0) for k in range(3)]
    row = only(compare_sides(baseline, side([3.0, 3.1, 3.2]), candidate_name="birch", plan=FIXED))
    assert row.verdict == "undecided"


def test_a_silent_side_is_named() -> None:
    row = only(compare_sides(side([3.0, 3.1]), side([None, None]), candidate_name="elm", plan=FIXED))
    assert "candidate's recordings do not answer" in row.why


def test_unlike_recordings_are_refused_with_key_and_both_values() -> None:
    with pytest.raises(NotComparableError, match="connection: cable against radio"):
        compare_sides(
            side([3.0, 3.1], connection="cable"), side([3.0, 3.1], connection="radio"), candidate_name="b", plan=FIXED
        )


def test_an_unplanned_look_is_stricter_than_a_fixed_study() -> None:
    values = side([3.0, 3.4, 3.2]), side([4.0, 4.5, 4.1])
    strict = only(compare_sides(*values, candidate_name="b", plan=Plan(margins=FIXED.margins)))
    fixed = only(compare_sides(*values, candidate_name="b", plan=FIXED))
    assert strict.p_difference == fixed.p_difference
    assert Plan().alpha < FIXED.alpha


def test_a_relative_margin_scales_with_the_baseline() -> None:
    plan = Plan(fixed_beforehand=True, margins={"smoothing_delay": Margin(value=0.1, relative=True)})
    row = only(compare_sides(side([10.0, 10.1, 9.9]), side([10.2, 10.3, 10.1]), candidate_name="b", plan=plan))
    assert row.margin == pytest.approx(1e-3)


def test_without_a_sham_the_change_is_confounded_with_reassembly() -> None:
    records = side([9.0, 9.1, 9.2]) + side([0.9, 1.0, 1.1], state="c3_lifted")
    found = compare_before_after(records, before="as_found", after="c3_lifted", specimen="birch", plan=FIXED)
    assert found.caveats[0].code == "reassembly_confounded"
    assert only(found.change).verdict == "different"


def test_with_a_sham_reassembly_is_shown_on_its_own() -> None:
    records = side([9.0, 9.1, 9.2]) + side([0.9, 1.0, 1.1], state="c3_lifted") + side([9.1, 9.0, 9.2], state="sham")
    found = compare_before_after(records, before="as_found", after="c3_lifted", specimen="birch", plan=FIXED)
    assert only(found.reassembly).verdict == "equivalent"
    assert only(found.change_beyond_reassembly).verdict == "different"


def test_advice_is_bounded_and_grows_with_the_noise() -> None:
    few, many = more_per_side(1e-3, 3, 1e-3, 0.05), more_per_side(2e-3, 3, 1e-3, 0.05)
    assert few is not None
    assert many is None or many > few
    assert more_per_side(1.0, 3, 1e-3, 0.05) is None
    assert 3 + few <= MAX_PER_SIDE


def test_swapping_sides_swaps_the_sign_only() -> None:
    rng = np.random.default_rng(3)
    first, second = side(list(rng.normal(3, 0.2, 4))), side(list(rng.normal(4, 0.3, 5)))
    there = only(compare_sides(first, second, candidate_name="b", plan=FIXED))
    back = only(compare_sides(second, first, candidate_name="a", plan=FIXED))
    assert there.difference.value == pytest.approx(-(back.difference.value or 0.0))
    assert there.verdict == back.verdict


def test_from_fifteen_a_side_the_bootstrap_is_heard_too() -> None:
    rng = np.random.default_rng(5)
    few = only(
        compare_sides(side(list(rng.normal(3, 0.2, 14))), side(list(rng.normal(3, 0.2, 14))), candidate_name="b")
    )
    assert few.bootstrap90 is None
    row = only(
        compare_sides(side(list(rng.normal(3, 0.2, 15))), side(list(rng.normal(3, 0.2, 15))), candidate_name="b")
    )
    assert row.verdict == "equivalent"
    assert row.bootstrap90 is not None
    assert row.bootstrap90[0] < (row.difference.value or 0.0) < row.bootstrap90[1]
    for apart in (-2.0, 2.0):
        moved = side(list(rng.normal(3 + apart, 0.2, 15)))
        assert only(compare_sides(side(list(rng.normal(3, 0.2, 15))), moved, candidate_name="b")).detected


def test_a_bootstrap_interval_that_leaves_the_margin_takes_equivalence_back() -> None:
    """Skewed values: Welch's symmetric interval ends just inside the margin, the bootstrap's long side outside."""
    skewed = [3.0] * 11 + [3.3, 3.6, 4.2, 6.8]
    margins = {"smoothing_delay": Margin(value=0.0009)}
    row = only(
        compare_sides(
            side([3.0, 3.01] * 7 + [3.0]),
            side(skewed),
            candidate_name="b",
            plan=Plan(fixed_beforehand=True, margins=margins),
        )
    )
    assert row.high90 is not None
    assert row.bootstrap90 is not None
    assert row.high90 < row.margin < row.bootstrap90[1]
    assert row.verdict == "undecided"


def test_one_odd_recording_that_carries_the_mean_is_named() -> None:
    baseline, candidate = side([3.0, 3.4, 3.2, 3.1, 3.3]), side([3.05, 3.35, 3.25, 3.15, 3.22])
    row = only(compare_sides(baseline, candidate, candidate_name="b", plan=FIXED))
    assert row.p_ranks is not None
    assert row.p_ranks > 0.5
    quick = side([3.00, 3.02, 2.98, 3.01, 2.99, 3.0, 3.0, 3.01])
    apart = side([4.2, 4.3, 2.9, 4.2, 4.3, 2.97, 2.98, 4.3])
    odd = only(compare_sides(quick, apart, candidate_name="b", plan=FIXED))
    assert (odd.verdict, "odd recording" in odd.why) == ("different", (odd.p_ranks or 0.0) >= 0.05)
    assert (odd.p_ranks or 0.0) >= 0.05


def test_what_the_choice_of_a_model_leaves_open_does_not_shrink_with_more_sessions() -> None:
    def recorded(k: int) -> HandRecord:
        tau = Estimate.measured("time_constant", 0.006, u=0.0001, unit="s", dof=7)
        delay = Estimate.measured("smoothing_delay", 0.006, u=0.0004, unit="s", dof=7)
        return HandRecord(session=f"s{k}", axes={"x": {"rising": {"time_constant": tau, "smoothing_delay": delay}}})

    few, many = (pooled_estimate([recorded(k) for k in range(n)], "x", "rising", "smoothing_delay") for n in (2, 40))
    assert few.u is not None
    assert many.u is not None
    assert 0.00038 < many.u < few.u
    assert pooled_estimate([recorded(k) for k in range(40)], "x", "rising", "time_constant").u == pytest.approx(
        1.58e-5, rel=0.01
    )


def test_a_single_session_speaks_for_itself() -> None:
    (record,) = side([3.0])
    pooled = pooled_estimate([record], "left_x", "rising", "smoothing_delay")
    assert (pooled.value, pooled.u, pooled.dof) == (0.003, 5e-5, 11)


def test_one_session_that_hardly_tells_does_not_drown_the_others() -> None:
    def recorded(k: int, value_ms: float, u_ms: float) -> HandRecord:
        tau = Estimate.measured("time_constant", value_ms / 1e3, u=3e-4, unit="s", dof=7)
        delay = Estimate.measured("smoothing_delay", value_ms / 1e3, u=u_ms / 1e3, unit="s", dof=7)
        return HandRecord(session=f"s{k}", axes={"x": {"rising": {"time_constant": tau, "smoothing_delay": delay}}})

    sure = [recorded(k, value, 0.35) for k, value in enumerate((14.1, 14.3, 14.0, 14.2, 14.2))]
    pooled = pooled_estimate([*sure, recorded(9, 10.9, 5.0)], "x", "rising", "smoothing_delay")
    assert pooled.value == pytest.approx(14.16e-3, abs=0.05e-3)
    assert pooled.u is not None
    assert pooled.u < 0.3e-3
