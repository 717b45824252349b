"""Meaning in use: intervals travel along, unknown sides stay unknown, evidence is printed within its limits."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace
from importlib import resources

import pytest

from feelcheck.feel import compare_in_use, evidence_table, meaning_in_use, specimen_in_use, stick_speed
from feelcheck.feel.evidence import PRINTABLE_MARKS, PublishedResult, notes_for_difference
from feelcheck.model import Estimate, Play, Status, UsedResponse


def delay(value_ms: float, u_ms: float = 0.1) -> Estimate:
    return Estimate.measured("smoothing_delay", value_ms / 1e3, u=u_ms / 1e3, unit="s", n=12, dof=11)


BIRCH = UsedResponse(axis="left_x", state="as_found", origin="hand", rising=delay(9.0), falling=delay(14.0))
PLAY = Play(turn_rate_deg_s=200.0)


def test_carry_on_is_turn_rate_times_delay_with_its_uncertainty() -> None:
    found = meaning_in_use(BIRCH, PLAY).estimates["carry_on_after_release"]
    assert found.unit == "deg"
    assert (found.value, found.u) == pytest.approx((2.8, 0.02))


def test_drift_per_pair_is_twice_the_net_angle() -> None:
    found = meaning_in_use(BIRCH, PLAY).estimates
    assert found["net_angle_per_flick"].value == pytest.approx(1.0)
    assert found["drift_per_pair"].value == pytest.approx(2.0)


def test_an_unknown_side_leaves_the_drift_unresolved() -> None:
    bounded = replace(BIRCH, falling=Estimate.at_most("smoothing_delay", 0.001, unit="s"))
    found = meaning_in_use(bounded, PLAY).estimates
    assert found["carry_on_after_release"].status is Status.AT_MOST
    assert found["carry_on_after_release"].bound == pytest.approx(0.2)
    assert found["drift_per_pair"].status is Status.NOT_RESOLVED


def speed(value: float, u: float = 0.5) -> Estimate:
    return Estimate.measured("peak_speed", value, u=u, unit="throws/s", n=8, dof=7)


def test_trailing_is_delay_times_the_own_peak_speed() -> None:
    # The ramp rule: 10 full throws a second and 5 ms trail by 5 % of full throw.
    used = replace(BIRCH, rising=delay(5.0), falling=delay(8.0), peak_speed=speed(10.0))
    found = meaning_in_use(used, PLAY).estimates
    assert found["trailing_rising"].value == pytest.approx(0.05)
    assert found["trailing_falling"].value == pytest.approx(0.08)
    assert found["trailing_rising"].u == pytest.approx(0.05 * math.hypot(0.1 / 5, 0.5 / 10))


@pytest.mark.parametrize(
    ("rising", "speed_found", "status"),
    [
        (Estimate.at_most("d", 0.001, unit="s"), speed(10.0), Status.AT_MOST),
        (delay(5.0), Estimate.at_least("peak_speed", 9.0, unit="throws/s"), Status.AT_LEAST),
        (Estimate.not_resolved("d", unit="s"), speed(10.0), Status.NOT_RESOLVED),
    ],
)
def test_trailing_keeps_bounds(rising: Estimate, speed_found: Estimate, status: Status) -> None:
    found = meaning_in_use(replace(BIRCH, rising=rising, peak_speed=speed_found), PLAY).estimates
    assert found["trailing_rising"].status is status


def test_without_own_flicks_a_flick_of_the_given_duration_is_run() -> None:
    # One pole of 5 ms on a 100 ms minimum-jerk flick trails by 9.20 %, on a 50 ms one by 17.5 %.
    used = replace(BIRCH, rising=delay(5.0))
    for flick_s, percent in ((0.1, 9.2), (0.05, 17.5)):
        found = meaning_in_use(used, replace(PLAY, flick_s=flick_s)).estimates["trailing_rising"]
        assert found.value == pytest.approx(percent / 100, abs=6e-4)
        assert [caveat.code for caveat in found.caveats] == ["assumed_flick"]


def test_flicks_recorded_through_another_response_set_the_duration() -> None:
    used = replace(BIRCH, rising=delay(5.0), stick_speed=speed(18.75, 0.2))
    found = meaning_in_use(used, replace(PLAY, flick_s=0.4)).estimates["trailing_rising"]
    assert found.value == pytest.approx(0.092, abs=6e-4)
    assert [caveat.code for caveat in found.caveats] == ["borrowed_flicks"]


def test_the_stick_is_faster_than_what_a_pole_lets_through() -> None:
    # tau / T = 0.1 keeps 0.934 of the peak speed.
    found = stick_speed(speed(18.75 * 0.934), [0.01])
    assert found.value == pytest.approx(18.75, rel=2e-3)


def test_a_stick_s_own_speed_has_half_of_what_the_poles_took_as_doubt() -> None:
    found = stick_speed(speed(10.0, u=0.2), [0.01])
    assert found.value is not None
    assert found.value > 10.2
    assert found.u == pytest.approx(math.hypot(0.02 * found.value, 0.5 * (found.value - 10.0)), rel=1e-6)


def test_a_run_trail_has_the_doubt_of_the_delay_and_of_the_flick() -> None:
    def u_of(u_delay_ms: float, u_speed: float) -> float:
        used = replace(BIRCH, rising=delay(2.0, u_delay_ms), stick_speed=speed(18.75, u_speed))
        return meaning_in_use(used, PLAY).estimates["trailing_rising"].u or 0.0

    by_delay, by_speed, both = u_of(0.08, 1e-9), u_of(1e-9, 0.03 * 18.75), u_of(0.08, 0.03 * 18.75)
    # 2 ms of a flick of 100 ms: trailing grows nearly as the delay, by 4 % and by 3 %.
    trail = meaning_in_use(replace(BIRCH, rising=delay(2.0), stick_speed=speed(18.75)), PLAY)
    value = trail.estimates["trailing_rising"].value or 0.0
    assert (by_delay / value, by_speed / value) == pytest.approx((0.04, 0.03), rel=0.1)
    assert both == pytest.approx(math.hypot(by_delay, by_speed), rel=0.01)


def test_angles_become_shares_of_the_picture() -> None:
    # 2.8 degrees in a flat picture of 90 degrees: tan(2.8) / (2 tan 45) = 2.446 %.
    for field, percent in ((90.0, 2.446), (60.0, 2.446 / math.tan(math.radians(30)))):
        found = meaning_in_use(BIRCH, replace(PLAY, field_of_view_deg=field)).estimates["carry_on_of_picture"]
        assert found.value == pytest.approx(percent / 100, rel=1e-3)
        assert found.unit == "fraction"


def test_a_turn_by_more_than_the_picture_has_left_it() -> None:
    found = meaning_in_use(BIRCH, replace(PLAY, field_of_view_deg=5.0)).estimates["carry_on_of_picture"]
    assert (found.status, found.bound) == (Status.AT_LEAST, 0.5)


def test_speed_steps_say_where_the_study_did_not_look() -> None:
    # An 8-bit axis at 200 deg/s: 22.4 deg/s of the view, and of the eye where the screen is as wide as the view.
    used = replace(BIRCH, step_fraction=Estimate.measured("step", 2 / 255, u=1e-5, unit="fraction"))
    inside = meaning_in_use(used, replace(PLAY, field_of_view_deg=60.0, screen_deg=60.0)).estimates
    assert inside["steady_speed_step_below"].value == pytest.approx(0.112, abs=5e-4)
    assert inside["speed_ripple_below"].value == pytest.approx(0.026, abs=5e-4)
    assert inside["steady_speed_step_below"].caveats == ()
    outside = meaning_in_use(used, replace(PLAY, field_of_view_deg=90.0, screen_deg=8.0)).estimates
    assert "study tested 4 to 64" in outside["steady_speed_step_below"].caveats[0].text


def test_noise_of_every_report_goes_by_the_report_interval() -> None:
    one, eight = (
        meaning_in_use(
            replace(BIRCH, report_interval=Estimate.measured("report_interval", t, u=0.0, unit="s")), PLAY
        ).estimates["sensor_noise_kept"]
        for t in (0.001, 0.008)
    )
    assert one.value is not None
    assert eight.value is not None
    assert one.value < 0.3 < eight.value
    assert "sensor_noise_kept" not in meaning_in_use(BIRCH, PLAY).estimates


@pytest.mark.parametrize("play", [replace(PLAY, dead_zone_fraction=0.1), replace(PLAY, curve_exponent=2.0)])
def test_a_bound_stays_a_bound_where_the_flick_is_run(play: Play) -> None:
    bounded = replace(BIRCH, falling=Estimate.at_most("smoothing_delay", 0.001, unit="s"))
    found = meaning_in_use(bounded, play).estimates
    assert found["carry_on_after_release"].status is Status.AT_MOST
    assert found["carry_on_after_release"].bound is not None
    assert 0 < found["carry_on_after_release"].bound < 0.2
    assert found["drift_per_pair"].status is Status.NOT_RESOLVED


def test_a_run_flick_carries_the_uncertainty_of_both_delays() -> None:
    play = replace(PLAY, dead_zone_fraction=0.1)
    narrow, wide = (
        meaning_in_use(replace(BIRCH, falling=delay(14.0, u)), play).estimates["drift_per_pair"] for u in (0.1, 1.0)
    )
    assert narrow.u is not None
    assert wide.u is not None
    assert wide.u > 5 * narrow.u > 0


@pytest.mark.parametrize("play", [replace(PLAY, dead_zone_fraction=0.1), replace(PLAY, held_s=0.02)])
def test_the_flick_is_run_where_the_formula_breaks(play: Play) -> None:
    found = meaning_in_use(BIRCH, play).estimates["drift_per_pair"]
    assert [caveat.code for caveat in found.caveats] == ["simulated_flick"]
    assert found.value is not None
    assert 0 < found.value < 2.0


@pytest.mark.parametrize(
    ("axis", "plane"), [("left_x", "left_right"), ("ry", "up_down"), ("axis_0", "unknown"), ("Y [counts]", "unknown")]
)
def test_the_plane_is_read_from_the_axis_name(axis: str, plane: str) -> None:
    assert meaning_in_use(replace(BIRCH, axis=axis), PLAY).plane == plane


def test_tremor_cannot_explain_smoothness_of_a_fast_sensor() -> None:
    fast = replace(BIRCH, rising=delay(2.0), falling=delay(2.0))
    assert [note.key for note in meaning_in_use(fast, PLAY).notes] == ["thumb_tremor_1982"]
    slow = replace(BIRCH, rising=delay(20.0), falling=delay(20.0))
    assert meaning_in_use(slow, PLAY).notes == ()


def test_a_specimen_without_response_says_what_to_do() -> None:
    assert "Record flicks" in specimen_in_use("elm", (), PLAY).caveats[0].advice
    nothing = Estimate.not_resolved("smoothing_delay", unit="s")
    silent = replace(BIRCH, axis="right_x", rising=nothing, falling=nothing)
    found = specimen_in_use("elm", (BIRCH, silent), PLAY)
    assert [axis.axis for axis in found.axes] == ["left_x"]
    assert "right_x" in found.caveats[0].text


def test_nothing_from_memory_is_in_the_table() -> None:
    text = resources.files("feelcheck.feel").joinpath("evidence.toml").read_text(encoding="utf-8")
    marks = {row["mark"] for row in tomllib.loads(text)["result"]}
    assert marks <= set(PRINTABLE_MARKS)
    with pytest.raises(ValueError, match="may be printed"):
        PublishedResult(key="k", mark="M", kind="context", citation="c", device="d", varied="v", finding="f")


def test_second_hand_results_say_who_quotes_them() -> None:
    for row in evidence_table():
        assert ("as quoted by" in row.cited) == (row.mark == "V2")


@pytest.mark.parametrize(
    ("low_ms", "high_ms", "key", "word"),
    [
        (0.2, 0.8, "stylus_2014", "below"),
        (2.0, 3.0, "direct_touch_2012", "within"),
        (60.0, 70.0, "indirect_drag_2015", "above"),
        (10.0, 20.0, "hand_object_1999", "partly within"),
    ],
)
def test_a_difference_is_placed_among_the_thresholds(low_ms: float, high_ms: float, key: str, word: str) -> None:
    notes = {note.key: note for note in notes_for_difference(low_ms, high_ms)}
    assert f"lies {word} " in notes[key].text
    assert all(note.extrapolated for note in notes.values())


def test_the_thumbstick_slope_is_marked_outside_what_was_tested() -> None:
    small = compare_in_use(Estimate.measured("difference", 0.005, u=0.0005, unit="s"))
    large = compare_in_use(Estimate.measured("difference", 0.040, u=0.001, unit="s"))
    assert small[-1].extrapolated
    assert "smaller than what was tested" in small[-1].text
    assert not large[-1].extrapolated


def test_an_unresolved_difference_is_set_beside_nothing() -> None:
    assert compare_in_use(Estimate.not_resolved("difference", unit="s")) == ()
