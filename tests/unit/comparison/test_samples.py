"""From sessions to replicates: what counts once, what is left out, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from feelcheck.comparison.pooling import pooled_estimate
from feelcheck.comparison.samples import MetricKey, collect, mountings_known, refuse_unlike, replicates_of
from feelcheck.errors import NotComparableError
from feelcheck.model import Condition, Estimate, HandRecord, Status

KEY = MetricKey(axis="left_x", direction="rising", name="smoothing_delay")


def session(estimate: Estimate, mounting: int | None = None, **more: Any) -> HandRecord:
    return HandRecord(
        session="s", axes={"left_x": {"rising": {"smoothing_delay": estimate}}},
        condition=Condition(mounting=mounting, facts=more.pop("facts", {})), **more,
    )  # fmt: skip


def told(ms: float, u_ms: float = 0.3) -> Estimate:
    return Estimate.measured("smoothing_delay", ms / 1e3, u=u_ms / 1e3, unit="s", n=8)


TOP = Estimate.at_most("smoothing_delay", 0.002, unit="s")
FLOOR = Estimate.at_least("smoothing_delay", 0.006, unit="s")
NOTHING = Estimate.not_resolved("smoothing_delay", unit="s")


def test_recordings_of_one_mounting_are_one_replicate() -> None:
    # Mountings 1 (8 and 10 ms) and 2 (12 ms): two values, the first half as unsure in squares.
    found = collect([session(told(8.0), 1), session(told(10.0), 1), session(told(12.0), 2)])[KEY]
    by_mounting, each = replicates_of(found, by_mounting=True), replicates_of(found, by_mounting=False)
    assert by_mounting.values == pytest.approx((0.009, 0.012))
    assert by_mounting.u_within == pytest.approx((0.3e-3 / 2**0.5, 0.3e-3))
    assert (by_mounting.scope, len(each.values), each.scope) == ("mounting", 3, "recording")


def test_bounds_and_silent_sessions_are_kept_apart() -> None:
    found = collect([session(told(8.0)), session(TOP), session(NOTHING)])[KEY]
    side = replicates_of(found, by_mounting=False)
    assert (side.values, side.bounds, side.unit) == ((0.008,), (0.002,), "s")
    assert replicates_of(found[:1], by_mounting=False).scope == "within_recording"
    assert replicates_of([], by_mounting=False).unit == ""


@pytest.mark.parametrize(
    ("mountings", "known"), [([1, 2], True), ([1, 1], False), ([1, None], False), ([None, None], False), ([], False)]
)
def test_mountings_count_only_where_every_session_says_its_own(mountings: list[int | None], known: bool) -> None:
    assert mountings_known([session(told(8.0), mounting) for mounting in mountings]) is known


@pytest.mark.parametrize(
    ("estimates", "status", "number"),
    [
        ([told(8.0)], Status.OK, 0.008),
        ([told(8.0), told(10.0)], Status.OK, 0.009),
        ([told(8.0), TOP], Status.OK, 0.008),
        ([told(1.0), TOP, TOP], Status.AT_MOST, 0.002),
        ([told(8.0), TOP, TOP], Status.AT_MOST, 0.008 + 1.96 * 0.0003),
        ([told(8.0), FLOOR, FLOOR], Status.AT_LEAST, 0.006),
        ([told(8.0), told(8.0), FLOOR], Status.OK, 0.008),
        ([TOP, replace(TOP, bound=0.004), replace(TOP, bound=0.010)], Status.AT_MOST, 0.004),
        ([NOTHING, NOTHING], Status.NOT_RESOLVED, None),
        ([], Status.NOT_RESOLVED, None),
    ],
)
def test_sessions_pool_to_what_they_say_together(
    estimates: list[Estimate], status: Status, number: float | None
) -> None:
    found = pooled_estimate([session(e) for e in estimates], "left_x", "rising", "smoothing_delay")
    assert found.status is status
    assert (found.value if found.is_ok else found.bound) == (
        None if number is None else pytest.approx(number, rel=1e-5)
    )


@pytest.mark.parametrize(
    ("key", "first", "second"),
    [("script", "quick", "slow"), ("cap", "domed", "flat"), ("report_rate_hz", "250", "1000")],
)
def test_unlike_conditions_are_named_with_both_sides(key: str, first: str, second: str) -> None:
    sides = [[session(told(8.0), facts={key: value})] for value in (first, second)]
    with pytest.raises(
        NotComparableError, match=rf"(?s)Only like recordings.*specimen: elm.*{key}: {first} against {second}"
    ):
        refuse_unlike(*sides, specimen="elm")


def test_what_one_side_does_not_know_is_not_held_against_it() -> None:
    refuse_unlike([session(told(8.0), facts={"cap": "domed"})], [session(told(8.0), facts={"spring": "stiff"})])
    refuse_unlike([], [session(told(8.0), facts={"cap": "domed"})])


def test_one_recording_cannot_stand_on_both_sides() -> None:
    one, other = session(told(8.0), sha256="abc"), session(told(8.0), sha256="def")
    refuse_unlike([one], [other])
    refuse_unlike([session(told(8.0))], [session(told(8.0))])
    with pytest.raises(NotComparableError, match=r"(?s)counts on one side only.*on both sides: s"):
        refuse_unlike([one], [other, one])
