"""Meaning in use: intervals travel along, unknown sides stay unknown, evidence is printed within its limits."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from importlib import resources

import pytest

from feelcheck.feel import compare_in_use, evidence_table, meaning_in_use, specimen_in_use
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
