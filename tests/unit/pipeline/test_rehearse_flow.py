"""`feelcheck rehearse` without a window: references, stick in hand, records, and what is refused."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pytest

from feelcheck.errors import FormatError, NotComparableError, NotEnoughDataError, ProfileError, SourceError
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.pipeline import RehearsalAsked, new_profile, note_rehearsal, read_profile, rehearse
from feelcheck.pipeline._played import _target, stick_of, target_of
from feelcheck.pipeline._specimens import Specimen
from feelcheck.renderers.rehearsal_json import rehearsal_json
from feelcheck.renderers.rehearsal_text import rehearsal_text

ROOT = Path(__file__).parents[3]
ALDER, BIRCH = (ROOT / "profiles" / f"{name}.toml" for name in ("alder", "birch"))
CEDAR = ROOT / "profiles" / "cedar.toml"


def asked(**more: object) -> RehearsalAsked:
    return RehearsalAsked(**{"observer_threshold_s": 0.006, "seed": 2, "headless": True, **more})  # type: ignore[arg-type]


def test_a_record_a_change_of_parts_and_a_bench_result_can_be_played() -> None:
    hand = target_of(str(BIRCH))
    assert (hand.origin, len(hand.x.rising_poles_s)) == ("hand", 1)
    assert hand.x.falling_poles_s[0] > 1.3 * hand.x.rising_poles_s[0]
    changed = target_of(f"{BIRCH}@c3=4.7u")
    assert changed.origin == "parts"
    assert (changed.x.rising.value or 0.0) > (hand.x.rising.value or 0.0)
    record = read_profile(BIRCH)
    bench = _target(Specimen(profile=replace(record, hand=()), state="as_found"), "left")
    assert bench.origin == "bench"
    assert bench.x.falling_poles_s == pytest.approx((0.01397,), abs=1e-4)
    assert "both_axes_alike" in {remark.code for remark in bench.caveats}


def test_what_the_stick_in_hand_adds_is_read_from_its_record() -> None:
    own = stick_of(str(ALDER))
    assert own.one_pole
    assert own.report_interval_s == pytest.approx(1e-3, rel=1e-3)
    assert own.response.x.rising.value == pytest.approx(3.07e-3, rel=0.02)
    assert 1e-4 < own.rest_noise_fraction < 1e-3
    with pytest.raises(NotEnoughDataError, match="recording made with it"):
        stick_of(str(CEDAR))


def test_a_stick_may_be_taken_as_adding_nothing_and_that_is_said() -> None:
    told: list[str] = []
    result = rehearse([BIRCH], asked(own="ideal", task="aiming", n_targets=5), tell=told.append)
    assert result.stages[0].label == "birch"
    assert result.stick.known_from == "taken as adding nothing, not measured"
    assert "adding nothing" in told[0]


def test_blind_trials_of_two_records() -> None:
    told: list[str] = []
    result = rehearse([BIRCH, ALDER], asked(own=str(ALDER), observer_threshold_s=0.009), tell=told.append)
    assert (result.kind, result.n, result.simulated) == ("trials", 23, True)
    assert (result.n_correct or 0) >= 16
    assert result.p_value is not None
    assert result.p_value < 0.05
    assert [stage.label for stage in result.stages] == ["alder", "birch"]  # the quicker one first
    assert result.seal in told[0]
    digits = "".join("1" if trial.slower == "first" else "2" for trial in result.trials)
    assert hashlib.sha256((result.salt + digits).encode()).hexdigest() != result.seal  # the spare draws belong to it
    document = json.loads(rehearsal_json(result))
    assert document["schema"] == "feelcheck.rehearsal/1"
    assert document["plan"]["least_correct"] == 16
    low, high = document["estimates"]["proportion_correct"]["low"], document["estimates"]["proportion_correct"]["high"]
    assert 0.5 < low < high <= 1.0
    assert "You can tell these two apart" in rehearsal_text(result)


@pytest.mark.parametrize("placement", ["adaptive", "two_down", "three_down"])
def test_the_threshold_of_a_known_observer_comes_back(placement: str) -> None:
    result = rehearse((), asked(observer_threshold_s=0.010, placement=placement, n_trials=120, seed=3))
    assert result.kind == "staircase"
    low, high = coverage_interval(result.estimates["threshold"])
    assert low is not None
    assert high is not None
    assert 0.004 < low < 0.012
    assert 0.008 < high < 0.030
    document = result.to_dict()
    assert document["threshold"]["unit"] == "ms"
    assert document["p_value"] is None


def test_slowing_the_fall_alone_is_what_is_played_and_asked() -> None:
    result = rehearse((), asked(slowness="falling", n_trials=10))
    assert result.slowness == "falling"
    assert {trial.added_s is not None for trial in result.trials} == {True}


def test_aiming_sets_two_responses_side_by_side() -> None:
    result = rehearse([ALDER, BIRCH], asked(task="aiming", n_targets=5))
    assert result.kind == "aiming"
    assert result.n == 2 * 4 * 5
    assert set(result.estimates) >= {"throughput_a", "throughput_b", "throughput_difference", "error_rate_a"}
    assert result.to_dict()["throughput"]["unit"] == "bit/s"
    assert "Throughput is a measure of this task" in rehearsal_text(result)
    assert len(result.to_frame()) > 5


def test_a_result_is_noted_once_and_reads_back(tmp_path: Path) -> None:
    record = new_profile("linden", tmp_path)
    result = rehearse([ALDER, BIRCH], asked(n_trials=8))
    note_rehearsal(record, result, person="p1")
    (noted,) = read_profile(record).rehearsals
    assert (noted.kind, noted.n, noted.n_correct, noted.person) == ("trials", 8, result.n_correct, "p1")
    assert noted.simulated
    assert noted.estimates["sensitivity"].status == result.estimates["sensitivity"].status
    assert dict(noted.intervals) == {key: pytest.approx(ends) for key, ends in result.intervals.items()}
    with pytest.raises(ProfileError, match="counts once"):
        note_rehearsal(record, result)


def test_only_what_is_slower_than_the_stick_can_be_played() -> None:
    with pytest.raises(NotComparableError, match="Only what is slower"):
        rehearse([ALDER], asked(own=str(BIRCH)))


def test_a_record_without_a_response_is_refused(tmp_path: Path) -> None:
    record = new_profile("linden", tmp_path)
    with pytest.raises(NotEnoughDataError, match="Playing a response needs one"):
        rehearse([record], asked())


def test_a_person_needs_the_window() -> None:
    with pytest.raises(SourceError, match="in its window"):
        rehearse([ALDER], RehearsalAsked(headless=True))


def test_without_a_screen_an_observer_plays_and_a_person_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    told: list[str] = []
    assert rehearse((), asked(headless=False, n_trials=5), tell=told.append).n == 5
    assert "no screen" in told[0]
    with pytest.raises(SourceError, match="no screen here"):
        rehearse((), RehearsalAsked(source="virtual"))


@pytest.mark.parametrize(
    ("references", "more", "match"),
    [
        ([ALDER], {"task": "trials"}, "certain number"),
        ([ALDER, BIRCH], {"task": "staircase"}, "certain number"),
        ([], {"task": "guess"}, "known words"),
        ([], {"placement": "best"}, "known words"),
        ([], {"slowness": "rising"}, "known words"),
        ([], {"observer_threshold_s": 0.0}, "makes sense"),
        ([], {"n_trials": 0}, "makes sense"),
        ([], {"seed": -1}, "not negative"),
        ([], {"task": "aiming", "n_targets": 8}, "odd number of targets"),
        ([], {"task": "free"}, "asks nothing"),
        ([], {"controls": ("jump=button_1",)}, "wished as"),
        ([], {"interval_s": 0.0}, "0.2 to 60 s"),
        ([], {"theme": "green"}, "known words"),
    ],
)
def test_what_makes_no_sense_is_refused(references: list[Path], more: dict[str, object], match: str) -> None:
    with pytest.raises(FormatError, match=match):
        rehearse(references, asked(**more))


def test_the_same_seed_gives_the_same_block() -> None:
    first, again = (rehearse((), asked(n_trials=15)) for _ in range(2))
    assert first.trials == again.trials
    assert first.seal == again.seal
