"""Each rejection for its own reason, on both sides of its limit, on pads that differ."""

from __future__ import annotations

import math
from typing import Any

import pytest
from scripted_hand import Hand, axes

from feelcheck.capturing.sticks import Pad
from feelcheck.model import Action, Step
from feelcheck.recorder.guide import Reason, Row, Verdict
from feelcheck.recorder.guide.asking import Ask, judge_for
from feelcheck.recorder.guide.flicks import travel_s


class Trial:
    """One pad whose rim was learned by a circle, and one action asked of it."""

    def __init__(self, hand: Hand, *, learn: bool = True) -> None:
        self.hand, self.pad = hand, Pad(hand.records)
        self.feed(hand.rows())
        for stick in self.pad.sticks.values():
            stick.rests_here()
        for side in ("left", "right") if learn else ():
            circle = self.ask(Action.CIRCLE, stick=side)
            self.feed(hand.move(1.0, 0.0, 0.1, side=side))
            self.feed(hand.turn(380.0, 1.0, side=side))
            assert circle.look(hand.t_s).good
            self.feed(hand.move(0.0, 0.0, 0.1, side=side))

    def feed(self, rows: list[Row]) -> None:
        for t_s, kind, name, value in rows:
            if kind == "axis":
                self.pad.take(t_s, name, value)

    def ask(self, action: Action, direction_deg: float | None = None, **more: Any) -> Any:
        step = Step(action=action, duration_s=more.pop("duration_s", 1.0), direction_deg=direction_deg, **more)
        judge = judge_for(self.pad, Ask(step=step, number=0), self.hand.t_s)
        assert judge is not None
        return judge

    def flick(
        self, out: float = 1.0, angle_deg: float = 45.0, *, took_s: float = 0.08, held_s: float = 0.6, **ask: Any
    ) -> Verdict | None:
        side = ask.pop("side", "left")
        judge = self.ask(Action.FLICK, ask.pop("asked", 45.0), **ask)
        self.feed(self.hand.wait(0.3))
        self.feed(self.hand.move(out, angle_deg, took_s, side=side))
        first = judge.look(self.hand.t_s)
        self.feed(self.hand.wait(held_s))
        first = first or judge.look(self.hand.t_s)
        self.feed(self.hand.move(0.0, 0.0, 0.05, side=side))
        last: Verdict | None = first or judge.look(self.hand.t_s)
        return last


def test_a_good_flick_counts_in_every_direction() -> None:
    trial = Trial(Hand())
    for direction in range(0, 360, 45):
        assert trial.flick(1.0, direction, asked=float(direction)) == Verdict(reason=Reason.DONE)


@pytest.mark.parametrize(
    ("out", "reason"), [(0.6, Reason.SHORT), (0.9, Reason.SHORT), (0.94, Reason.DONE), (1.0, Reason.DONE)]
)
def test_short_of_the_rim(out: float, reason: Reason) -> None:
    verdict = Trial(Hand()).flick(out)
    assert verdict is not None
    assert verdict.reason is reason


@pytest.mark.parametrize(
    ("took_s", "reason"), [(0.05, Reason.DONE), (0.28, Reason.DONE), (0.32, Reason.SLOW), (0.8, Reason.SLOW)]
)
def test_too_slow(took_s: float, reason: Reason) -> None:
    # 20 to 60 % at an even pace is 0.4 of the whole: the limit of 0.12 s is reached at 0.3 s.
    verdict = Trial(Hand()).flick(took_s=took_s)
    assert verdict is not None
    assert verdict.reason is reason


@pytest.mark.parametrize(("took_s", "reason"), [(0.1, Reason.FAST), (0.8, Reason.DONE)])
def test_a_slow_flick_that_was_asked_must_be_slow(took_s: float, reason: Reason) -> None:
    verdict = Trial(Hand()).flick(took_s=took_s, pace="slow")
    assert verdict is not None
    assert verdict.reason is reason


@pytest.mark.parametrize(
    ("angle_deg", "reason"),
    [(45, Reason.DONE), (66, Reason.DONE), (24, Reason.DONE), (74, Reason.DIRECTION), (225, Reason.DIRECTION)],
)
def test_another_direction(angle_deg: float, reason: Reason) -> None:
    verdict = Trial(Hand()).flick(angle_deg=angle_deg)
    assert verdict is not None
    assert verdict.reason is reason
    assert angle_deg != 225 or "down and left" in verdict.sentence


@pytest.mark.parametrize(("held_s", "reason"), [(0.15, Reason.BRIEF), (0.25, Reason.BRIEF), (0.4, Reason.DONE)])
def test_held_too_briefly(held_s: float, reason: Reason) -> None:
    verdict = Trial(Hand()).flick(held_s=held_s)
    assert verdict is not None
    assert verdict.reason is reason


def test_the_wrong_stick_and_two_sticks() -> None:
    trial = Trial(Hand())
    verdict = trial.flick(side="right")
    assert verdict is not None
    assert verdict.reason is Reason.STICK
    judge = trial.ask(Action.FLICK, 45.0)
    trial.feed(trial.hand.move(1.0, 45.0, 0.08))
    trial.feed(trial.hand.move(0.6, 45.0, 0.08, side="right"))
    trial.feed(trial.hand.wait(0.6))
    assert judge.look(trial.hand.t_s).reason is Reason.TWO


def test_a_tremble_of_the_other_stick_is_no_second_stick() -> None:
    trial = Trial(Hand())
    judge = trial.ask(Action.FLICK, 45.0)
    trial.feed(trial.hand.move(0.1, 10.0, 0.05, side="right"))
    trial.feed(trial.hand.move(1.0, 45.0, 0.08))
    trial.feed(trial.hand.wait(0.6))
    assert judge.look(trial.hand.t_s).good


def test_both_sticks_where_both_are_asked() -> None:
    trial = Trial(Hand())
    judge = trial.ask(Action.FLICK, 45.0, stick="both")
    trial.feed(trial.hand.move(1.0, 45.0, 0.08))
    trial.feed(trial.hand.wait(0.6))
    assert judge.look(trial.hand.t_s) is None
    trial.feed(trial.hand.move(1.0, 45.0, 0.08, side="right"))
    trial.feed(trial.hand.wait(0.6))
    assert judge.look(trial.hand.t_s).good


def test_nothing_moved() -> None:
    trial = Trial(Hand())
    judge = trial.ask(Action.FLICK, 45.0)
    trial.hand.wait(9.0)
    assert judge.look(trial.hand.t_s) is None
    trial.hand.wait(2.0)
    assert judge.look(trial.hand.t_s).reason is Reason.NOT_MOVED


def test_a_code_at_full_scale() -> None:
    # A rim at 1.15 throws: the scale ends within 30 degrees of each axis, and never between them.
    trial = Trial(Hand(rim=lambda angle_deg: 1.15))
    assert trial.flick(angle_deg=45) == Verdict(reason=Reason.DONE)
    clipped = trial.flick(angle_deg=25)
    assert clipped is not None
    assert clipped.reason is Reason.CLIPPED
    # Straight ahead nobody can avoid it on this pad.
    straight = trial.flick(angle_deg=90, asked=90.0)
    assert straight is not None
    assert straight.reason is Reason.CLIPPED_ALWAYS
    assert straight.good


PADS = {
    "inverted": Hand(records=axes(rises=("left", "up"))),
    "eight bits": Hand(records=axes(scale=(127.5, 127.5)), step_fs=1 / 127.5, step_s=0.004),
    "slow reports": Hand(step_s=0.008),
    "notched": Hand(rim=lambda a: 0.95 - 0.06 * abs(math.sin(math.radians(4 * a)))),
    "square": Hand(rim=lambda a: 0.7 / max(abs(math.cos(math.radians(a))), abs(math.sin(math.radians(a))))),
    "oval": Hand(rim=lambda a: 0.8 + 0.1 * math.cos(math.radians(2 * a))),
    "off centre": Hand(offset=(0.06, -0.05)),
}


@pytest.mark.parametrize("name", PADS)
def test_pads_that_differ(name: str) -> None:
    hand = PADS[name]
    trial = Trial(Hand(hand.records, hand.rim, hand.step_s, hand.step_fs, offset=hand.offset))
    good, short, slow = trial.flick(), trial.flick(0.85), trial.flick(took_s=0.6)
    wrong = trial.flick(angle_deg=135)
    assert [v and v.reason for v in (good, short, slow, wrong)] == [
        Reason.DONE,
        Reason.SHORT,
        Reason.SLOW,
        Reason.DIRECTION,
    ]


def test_where_nobody_knows_which_way_an_axis_rises_mirrored_directions_count() -> None:
    trial = Trial(Hand(records=axes(rises=(None, None))))
    assert trial.flick(angle_deg=135) == Verdict(reason=Reason.DONE)
    straight = trial.flick(angle_deg=90)
    assert straight is not None
    assert straight.reason is Reason.DIRECTION


def test_silence_before_a_report_is_no_slow_motion() -> None:
    # Pads speak on change only: seconds may pass between the last row at rest and the first of the flick.
    assert travel_s([(0.0, 0.0), (9.0, 0.0), (9.008, 0.5), (9.016, 0.9)]) < 0.02
    assert travel_s([(0.0, 0.0), (9.0, 1.0)]) <= 0.02


def test_a_flick_that_starts_away_from_the_centre_counts_from_the_centre_only() -> None:
    trial = Trial(Hand())
    trial.feed(trial.hand.move(0.9, 200.0, 0.1))
    judge = trial.ask(Action.FLICK, 45.0)
    trial.feed(trial.hand.wait(1.0))
    assert judge.look(trial.hand.t_s) is None
    trial.feed(trial.hand.move(0.0, 0.0, 0.1))
    trial.feed(trial.hand.wait(0.3))
    trial.feed(trial.hand.move(1.0, 45.0, 0.1))
    trial.feed(trial.hand.wait(0.6))
    assert judge.look(trial.hand.t_s).good


def test_a_circle_must_be_round_and_closed() -> None:
    trial = Trial(Hand(), learn=False)
    judge = trial.ask(Action.CIRCLE)
    trial.feed(trial.hand.move(1.0, 0.0, 0.1))
    trial.feed(trial.hand.turn(200.0, 0.6))
    assert judge.look(trial.hand.t_s) is None
    trial.feed(trial.hand.move(0.0, 0.0, 0.1))
    assert judge.look(trial.hand.t_s).reason is Reason.LEFT_RIM
    assert not trial.pad.sticks["left"].rim.known


@pytest.mark.parametrize(("took_s", "reason"), [(0.8, Reason.FAST), (3.0, Reason.DONE)])
def test_a_roll_goes_round_slowly(took_s: float, reason: Reason) -> None:
    trial = Trial(Hand())
    judge = trial.ask(Action.ROLL, pace="slow")
    trial.feed(trial.hand.move(1.0, 0.0, 0.3))
    trial.feed(trial.hand.turn(380.0, took_s))
    assert judge.look(trial.hand.t_s).reason is reason


def test_a_roll_that_leaves_the_rim_is_none() -> None:
    trial = Trial(Hand())
    judge = trial.ask(Action.ROLL, pace="slow")
    trial.feed(trial.hand.move(1.0, 0.0, 0.3))
    trial.feed(trial.hand.turn(180.0, 2.0))
    trial.feed(trial.hand.move(0.0, 0.0, 0.3))
    assert judge.look(trial.hand.t_s).reason is Reason.LEFT_RIM


def test_rest_is_truly_still() -> None:
    trial = Trial(Hand())
    judge = trial.ask(Action.REST, duration_s=2.0)
    trial.feed(trial.hand.wait(1.0))
    assert judge.look(trial.hand.t_s) is None
    trial.feed(trial.hand.move(0.5, 0.0, 0.2))
    assert judge.look(trial.hand.t_s).reason is Reason.NOT_STILL
    trial.feed(trial.hand.move(0.03, 0.0, 0.1))
    judge = trial.ask(Action.REST, duration_s=2.0)
    trial.feed(trial.hand.wait(2.1))
    assert judge.look(trial.hand.t_s).good
    assert trial.pad.sticks["left"].centre[0] == pytest.approx(0.027, abs=0.001)


def test_letting_go_is_waited_for() -> None:
    trial = Trial(Hand())
    trial.feed(trial.hand.move(1.0, 45.0, 0.1))
    judge = trial.ask(Action.RELEASE)
    trial.feed(trial.hand.wait(1.0))
    assert judge.look(trial.hand.t_s) is None
    trial.feed(trial.hand.move(0.0, 0.0, 0.03))
    trial.feed(trial.hand.wait(0.3))
    assert judge.look(trial.hand.t_s).good


def test_a_hold_lasts_as_long_as_asked() -> None:
    trial = Trial(Hand())
    judge = trial.ask(Action.HOLD, 45.0, duration_s=2.0)
    trial.feed(trial.hand.move(1.0, 45.0, 0.5))
    trial.feed(trial.hand.wait(1.8))
    assert judge.look(trial.hand.t_s) is None
    trial.feed(trial.hand.wait(0.3))
    assert judge.look(trial.hand.t_s).good


def test_axes_of_no_known_stick_are_found_by_the_circle() -> None:
    records = [{"name": f"axis_{k}", "stick": "", "centre": 0, "reach": 32767, "rises_toward": None} for k in range(4)]
    pad = Pad(records)
    for k in range(400):
        angle = math.radians(2.0 * k)
        pad.take(0.001 * k, "axis_2", 500 * (k % 2))
        pad.take(0.001 * k, "axis_0", round(30_000 * math.cos(angle)))
        pad.take(0.001 * k, "axis_1", round(30_000 * math.sin(angle)))
    pad.adopt("left")
    assert (pad.sticks["left"].x.name, pad.sticks["left"].y.name) == ("axis_0", "axis_1")
    assert not pad.sticks["left"].sure
