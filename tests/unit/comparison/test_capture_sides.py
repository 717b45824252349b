"""Captures before and after: what repeats decide, and what one capture a side can't."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from feelcheck.comparison import Plan, capture_caveats, compare_captures, pooled_capture_estimate
from feelcheck.comparison.capture_sides import BENCH_ORDER
from feelcheck.errors import NotComparableError
from feelcheck.model import BenchRecord, Estimate, MetricComparison

FIXED = Plan(fixed_beforehand=True)


def capture(delay_ms: float | Estimate, number: int = 0, **more: Any) -> BenchRecord:
    delay = delay_ms if isinstance(delay_ms, Estimate) else ms(delay_ms)
    overall = {
        "swing": Estimate.measured("swing", 1.4, u=0.001, unit="V"),
        "drive_transition": ms(more.pop("drive_ms", 2.0)),
        "update_interval": more.pop("held", Estimate.not_present("update_interval", unit="s")),
    }
    both = {"time_constant": delay.renamed("time_constant"), "smoothing_delay": delay}
    directions = {"rising": both, "falling": both}
    return BenchRecord(
        axis="output", path=f"{number}.csv", directions=directions, overall=overall,
        **{"drive_kind": "coil_current", **more},
    )  # fmt: skip


def ms(value: float) -> Estimate:
    return Estimate.measured("smoothing_delay", value / 1e3, u=2e-6, unit="s", n=2, dof=500)


def side(*delays_ms: float | Estimate, **more: Any) -> list[BenchRecord]:
    return [capture(delay, k, **more) for k, delay in enumerate(delays_ms)]


def rows(
    before: Sequence[BenchRecord], after: Sequence[BenchRecord], name: str = "smoothing_delay"
) -> list[MetricComparison]:
    return [row for row in compare_captures(before, after, candidate_name="after", plan=FIXED) if row.name == name]


def test_repeats_on_both_sides_decide_and_their_scatter_is_the_interval() -> None:
    found = rows(side(4.70, 4.72, 4.68), side(0.40, 0.42, 0.41))
    assert [(row.direction, row.verdict, row.scope) for row in found] == [
        ("rising", "different", "recording"), ("falling", "different", "recording"),
    ]  # fmt: skip
    # standard error of each mean by hand: 0.02 / sqrt(3) and 0.01 / sqrt(3) ms
    assert found[0].difference.u == pytest.approx(1e-3 * (0.02**2 / 3 + 0.01**2 / 3) ** 0.5, rel=1e-3)
    assert found[0].sources == ("bench", "bench")


def test_unchanged_repeats_are_equivalent_never_just_not_different() -> None:
    assert {row.verdict for row in rows(side(4.70, 4.72, 4.68), side(4.71, 4.69, 4.70))} == {"equivalent"}


def test_one_capture_a_side_has_its_own_interval_and_no_verdict() -> None:
    (rising, _) = rows(side(4.7), side(0.4))
    assert (rising.verdict, rising.scope, rising.detected) == ("undecided", "within_recording", False)
    assert rising.difference.value == pytest.approx(-4.3e-3)
    assert rising.difference.u == pytest.approx(2e-6 * 2**0.5)
    assert rising.difference.dof > 500, "its own degrees of freedom, not those of a sample of one"
    assert "beyond the margin" in rising.why
    assert "inside the margin" in rows(side(4.7), side(4.5))[0].why
    assert [caveat.code for caveat in capture_caveats(side(4.7), side(0.4))] == ["within_capture_only"]


def test_a_lone_capture_against_repeats_is_named() -> None:
    assert "one recording on the candidate's side" in rows(side(4.7, 4.71), side(0.4))[0].why


def test_how_many_gave_only_a_bound_is_the_reason() -> None:
    bound = Estimate.at_most("smoothing_delay", 3e-3, unit="s")
    (rising, _) = rows(side(2.0, 2.1, 1.9), side(2.0, 2.1, bound))
    assert rising.verdict == "undecided"
    assert "1 of 3 recordings of the candidate gave only a bound" in rising.why


def test_a_lower_bound_beyond_the_other_side_is_different_by_at_least_that() -> None:
    floors = [Estimate.at_least("smoothing_delay", value, unit="s") for value in (20e-3, 21e-3, 22e-3)]
    (rising, _) = rows(side(4.7, 4.71, 4.69), side(*floors))
    assert (rising.verdict, rising.difference.status) == ("different", "at_least")
    assert rising.difference.bound == pytest.approx(16.3e-3, abs=1e-4)
    assert (rising.high90, rising.candidate.status) == (None, "at_least")


def test_steps_that_are_gone_are_said_to_be_gone() -> None:
    held = ms(0.65).renamed("update_interval")
    (row,) = rows(side(4.7, 4.7, held=held), side(4.7, 4.7), "update_interval")
    assert (row.verdict, row.candidate.status) == ("undecided", "not_present")
    assert row.why == "none is seen in the candidate"


def test_a_drive_on_one_side_only_leaves_delays_open() -> None:
    before, after = side(4.7, 4.71, 4.69), side(6.0, 6.01, 5.99, drive_kind="none")
    assert {row.verdict for row in rows(before, after)} == {"undecided"}
    assert rows(before, after, "swing")[0].verdict == "equivalent"
    assert [caveat.code for caveat in capture_caveats(before, after)] == ["drive_on_one_side"]


def test_unlike_drives_are_said() -> None:
    found = capture_caveats(side(4.7, 4.7), side(4.7, 4.7, drive_ms=6.0))
    assert [caveat.code for caveat in found] == ["drives_differ"]


def test_copies_and_simulated_sides_are_refused() -> None:
    with pytest.raises(NotComparableError, match=r"(?s)counts on one side only.*0\.csv"):
        rows(side(4.7, sha256="a"), side(4.7, sha256="a"))
    with pytest.raises(NotComparableError, match="a simulated side against a real one"):
        rows(side(4.7, simulated=True), side(4.7))


def test_rows_come_in_the_order_of_the_edge() -> None:
    names = [row.name for row in compare_captures(side(4.7), side(4.7), candidate_name="after")]
    assert names == sorted(names, key=BENCH_ORDER.index)


def test_a_pooled_delay_is_the_mean_and_a_lone_one_itself() -> None:
    assert pooled_capture_estimate(side(4.0, 5.0), "rising", "smoothing_delay").value == pytest.approx(4.5e-3)
    assert pooled_capture_estimate(side(4.0), "rising", "smoothing_delay").dof == 500
    assert pooled_capture_estimate(side(4.0), "rising", "nothing").status == "not_resolved"
