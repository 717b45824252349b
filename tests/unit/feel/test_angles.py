"""Angles of the view: bounds stay honest, units follow the game, a lifted capacitor can be felt."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from feelcheck.feel import meaning_in_use, poles_of, stick_speed
from feelcheck.feel.angles import of_picture
from feelcheck.feel.evidence import PublishedResult, notes_for_difference, result
from feelcheck.feel.trailing import trailing
from feelcheck.model import Estimate, Play, Status, UsedResponse

PLAY = Play(turn_rate_deg_s=200.0)


def delay(value_ms: float, u_ms: float = 0.1) -> Estimate:
    return Estimate.measured("smoothing_delay", value_ms / 1e3, u=u_ms / 1e3, unit="s", n=12, dof=11)


USED = UsedResponse(axis="left_x", state="as_found", origin="hand", rising=delay(9.0), falling=delay(14.0))


@pytest.mark.parametrize(
    ("angle", "status", "bound"),
    [
        (Estimate.measured("a", 60.0, u=1.0, unit="deg"), Status.AT_LEAST, 0.5),
        (Estimate.measured("a", -60.0, u=1.0, unit="deg"), Status.AT_MOST, -0.5),
        (Estimate.at_least("a", 60.0, unit="deg"), Status.AT_LEAST, 0.5),
        (Estimate.at_most("a", -60.0, unit="deg"), Status.AT_MOST, -0.5),
        (Estimate.at_most("a", 60.0, unit="deg"), Status.NOT_RESOLVED, None),
        (Estimate.at_least("a", -60.0, unit="deg"), Status.NOT_RESOLVED, None),
    ],
)
def test_a_turn_out_of_the_picture_says_what_it_still_can(angle: Estimate, status: Status, bound: float | None) -> None:
    """In a picture of 90 degrees anything beyond 45 has left it; an upper limit beyond 45 limits nothing."""
    found = of_picture(angle, PLAY, quantity="share")
    assert (found.status, found.bound, found.unit) == (status, bound, "fraction")


@pytest.mark.parametrize("status", [Status.AT_MOST, Status.AT_LEAST])
def test_a_bound_inside_the_picture_stays_that_bound(status: Status) -> None:
    angle = Estimate(quantity="a", unit="deg", status=status, bound=10.0)
    found = of_picture(angle, PLAY, quantity="share")
    assert found.status is status
    assert found.bound == pytest.approx(math.tan(math.radians(10.0)) / 2)


def test_the_share_of_the_picture_carries_the_uncertainty_of_the_angle() -> None:
    angle = Estimate.measured("a", 10.0, u=0.1, unit="deg")
    found, more = (of_picture(a, PLAY, quantity="share") for a in (angle, replace(angle, value=10.1)))
    assert found.u == pytest.approx((more.value or 0.0) - (found.value or 0.0), rel=0.01)


def test_an_unresolved_angle_has_no_share() -> None:
    found = of_picture(Estimate.not_resolved("a", unit="deg"), PLAY, quantity="share")
    assert (found.status, found.unit) == (Status.NOT_RESOLVED, "fraction")


def test_no_delay_at_all_can_be_felt_too() -> None:
    """A lifted capacitor predicts a delay of zero: nothing trails, nothing turns on."""
    nothing = Estimate.measured("smoothing_delay", 0.0, u=0.0, unit="s")
    found = meaning_in_use(replace(USED, origin="parts", rising=nothing, falling=nothing), PLAY).estimates
    assert found["trailing_rising"].value == pytest.approx(0.0, abs=5e-4)
    for name in ("carry_on_after_release", "drift_per_pair", "carry_on_of_picture"):
        assert (found[name].status, found[name].value) == (Status.OK, 0.0)
    assert found["tremor_band_gain"].value == 1.0


@pytest.mark.parametrize("factor", [0.25, 3.0])
def test_angles_grow_with_the_turn_rate(factor: float) -> None:
    plain = meaning_in_use(USED, PLAY).estimates
    quick = meaning_in_use(USED, replace(PLAY, turn_rate_deg_s=200.0 * factor)).estimates
    for name in ("carry_on_after_release", "carry_on_opposite", "net_angle_per_flick", "drift_per_pair"):
        assert quick[name].value == pytest.approx(factor * (plain[name].value or 0.0))
        assert quick[name].u == pytest.approx(factor * (plain[name].u or 0.0))


def test_swapping_the_directions_turns_the_drift_round() -> None:
    swapped = replace(USED, rising=USED.falling, falling=USED.rising)
    one, other = (meaning_in_use(used, PLAY).estimates["drift_per_pair"].value for used in (USED, swapped))
    assert one == pytest.approx(2.0)
    assert other == pytest.approx(-2.0)


def test_formula_and_run_agree_where_both_hold() -> None:
    """A response curve of exponent 1 + 1e-9 makes the same flick run sample by sample."""
    formula = meaning_in_use(USED, PLAY).estimates
    run = meaning_in_use(USED, replace(PLAY, curve_exponent=1 + 1e-9)).estimates
    for name in ("carry_on_after_release", "carry_on_opposite", "drift_per_pair"):
        assert run[name].value == pytest.approx(formula[name].value, abs=0.02)
        assert run[name].u == pytest.approx(formula[name].u, rel=0.05)


def test_settling_is_that_of_the_slower_way() -> None:
    found = meaning_in_use(USED, PLAY).estimates["settle_after_release"]
    assert found.value == pytest.approx(0.014 * math.log(50), abs=1e-4)
    assert found.u == pytest.approx(0.0001 * math.log(50), rel=0.1)


def test_an_unresolved_side_leaves_the_run_flick_unresolved() -> None:
    silent = replace(USED, falling=Estimate.not_resolved("smoothing_delay", unit="s"))
    found = meaning_in_use(silent, replace(PLAY, dead_zone_fraction=0.1)).estimates
    assert found["carry_on_opposite"].status is Status.NOT_RESOLVED
    assert "settle_after_release" not in found


def test_known_poles_come_before_the_delay() -> None:
    two = replace(USED, rising_poles_s=(0.006, 0.003))
    assert poles_of(two, "rising") == (0.006, 0.003)
    assert poles_of(two, "falling") == (0.014,)
    bounded = replace(USED, rising=Estimate.at_most("smoothing_delay", 0.001, unit="s"))
    assert poles_of(bounded, "rising") is None


def test_a_delay_with_only_a_lower_limit_trails_by_nothing_that_can_be_told() -> None:
    slow = replace(USED, rising=Estimate.at_least("smoothing_delay", 0.02, unit="s"))
    assert "trailing_rising" not in trailing(slow, PLAY)


def test_without_a_pole_the_stick_is_as_fast_as_its_output() -> None:
    speed = Estimate.measured("peak_speed", 12.0, u=0.5, unit="throws/s")
    found = stick_speed(speed, [])
    assert found.quantity == "stick_speed"
    assert (found.value, found.u) == pytest.approx((12.0, 0.5))
    unknown = Estimate.not_resolved("peak_speed", unit="throws/s")
    assert stick_speed(unknown, [0.01]) is unknown


def test_thresholds_come_in_order_and_a_wide_interval_lies_on_both_sides() -> None:
    notes = notes_for_difference(0.0, 1000.0)
    assert all(" partly within " in note.text or " on both sides of " in note.text for note in notes)
    tops = [result(note.key).high_ms for note in notes]
    assert tops == sorted(tops, key=lambda top: top or 0.0)


def test_only_known_results_can_be_cited() -> None:
    with pytest.raises(KeyError, match="hearsay"):
        result("hearsay")


@pytest.mark.parametrize(("mark", "quoted_by"), [("V2", ""), ("V1", "somebody")])
def test_who_quotes_is_said_of_second_hand_results_and_of_no_others(mark: str, quoted_by: str) -> None:
    with pytest.raises(ValueError, match="says who quotes it"):
        PublishedResult(
            key="k", mark=mark, kind="context", citation="c", device="d", varied="v", finding="f", quoted_by=quoted_by
        )
