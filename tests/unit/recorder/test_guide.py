"""The state machine: what is asked when, what is asked again, and how a person steers it."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from scripted_hand import Hand

from feelcheck.model import Action, Script, Step
from feelcheck.recorder.guide import Command, Guide, Row, Said, Stage

CIRCLE = Step(action=Action.CIRCLE, duration_s=3.0, block="Circle")
RELEASE = Step(action=Action.RELEASE, duration_s=0.8, block="Flicks", say="Let go.")
PAUSE = Step(action=Action.PAUSE, duration_s=2.0, stick="", block="Pause", say="Pause.")
LAG_S = 0.05


def flick(direction_deg: float, stick: str = "left") -> Step:
    return Step(action=Action.FLICK, duration_s=1.0, stick=stick, direction_deg=direction_deg, block=f"Flicks, {stick}")


class Lesson:
    """A guide and a hand, looked at every 20 ms."""

    def stage(self) -> Stage:
        """Where the guide is; a call, so that a check before says nothing of one after."""
        return self.guide.stage

    def __init__(self, *steps: Step, ready_s: float = 0.1) -> None:
        self.hand = Hand()
        self.guide = Guide(Script(name="t", title="T", steps=steps), self.hand.records, ready_s=ready_s)
        self.said: list[Said] = []
        self.feed(self.hand.rows())
        self.idle(0.2 if ready_s < 1 else 0.0)

    def feed(self, rows: Sequence[Row]) -> None:
        for row in rows:
            self.guide.take([row])
            self.look()

    def look(self) -> None:
        self.said += self.guide.look(self.hand.t_s - LAG_S)

    def idle(self, seconds: float) -> None:
        for _ in range(round(seconds / 0.02)):
            self.feed(self.hand.wait(0.02))
            self.look()

    def circle(self) -> None:
        self.feed(self.hand.move(1.0, 0.0, 0.1))
        self.feed(self.hand.turn(380.0, 0.8))
        self.back()

    def flick(self, out: float = 1.0, angle_deg: float = 45.0) -> None:
        self.idle(0.2)
        self.feed(self.hand.move(out, angle_deg, 0.08))
        self.idle(0.65)
        self.back()

    def back(self) -> None:
        self.feed(self.hand.move(0.0, 0.0, 0.03))
        self.idle(0.5)

    def press(self) -> None:
        self.guide.take([(self.hand.t_s, "button", "button_3", 1)])
        self.idle(0.06)
        self.guide.take([(self.hand.t_s, "button", "button_3", 0)])
        self.look()

    @property
    def cues(self) -> list[str]:
        return [said.text for said in self.said if said.kind == "cue"]

    @property
    def notes(self) -> list[str]:
        return [said.text for said in self.said if said.kind == "note"]


def test_a_whole_script_is_asked_once_where_all_is_well() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE, PAUSE, flick(45.0), RELEASE)
    lesson.circle()
    lesson.flick()
    lesson.idle(2.1)
    lesson.flick()
    asked = "flick stick=left direction_deg=45"
    # The circle's own release is asked for, since a flick starts from the centre.
    assert [cue for cue in lesson.cues if not cue.startswith("release")] == [
        "circle stick=left",
        asked,
        "pause",
        asked,
        "end",
    ]
    assert lesson.guide.finished
    assert lesson.notes[-1] == "3 accepted; 0 rejected; 0 skipped"
    assert lesson.guide.view().done == 6


def test_what_was_rejected_is_asked_again_after_letting_go() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE)
    lesson.circle()
    lesson.flick(0.7)
    view = lesson.guide.view()
    assert view.verdict is not None
    assert "short of the rim, at 70 % of the way" in view.verdict.sentence
    assert (view.attempt, view.next_try, view.judged) == (2, True, "Left stick, flick up and right")
    lesson.flick()
    assert lesson.guide.finished
    assert "rejected short of the rim: flick stick=left direction_deg=45" in lesson.notes
    assert lesson.cues[-4:] == [
        "release stick=left",
        "flick stick=left direction_deg=45",
        "release stick=left",
        "end",
    ]


def test_after_three_tries_it_goes_on_with_a_remark() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE, flick(225.0), RELEASE)
    lesson.circle()
    for _ in range(3):
        lesson.flick(0.7)
    view = lesson.guide.view()
    assert view.step is not None
    assert view.step.direction_deg == 225.0
    assert (view.rejected, view.skipped) == (3, 1)
    assert lesson.guide.remarks == ["Left stick, flick up and right: none of 3 tries counted; gone on without it."]
    lesson.flick(1.0, 225.0)
    assert lesson.guide.finished


def test_the_first_page_waits_but_not_for_ever() -> None:
    lesson = Lesson(CIRCLE, ready_s=5.0)
    lesson.idle(3.0)
    assert lesson.stage() is Stage.READY
    assert lesson.guide.view().left_s == pytest.approx(2.0, abs=0.1)
    lesson.press()
    assert lesson.stage() is Stage.ASKING
    waiting = Lesson(CIRCLE, ready_s=5.0)
    waiting.idle(5.2)
    assert waiting.stage() is Stage.ASKING


def test_any_button_pauses_and_goes_on_and_the_action_is_asked_afresh() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE)
    lesson.circle()
    lesson.press()
    assert lesson.stage() is Stage.PAUSED
    assert lesson.cues[-1] == "pause"
    lesson.press()
    assert lesson.stage() is Stage.ASKING
    assert lesson.cues[-1] == "flick stick=left direction_deg=45"
    lesson.flick()
    assert lesson.guide.finished


def test_a_button_that_goes_down_with_a_flick_is_no_control() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE)
    lesson.circle()
    lesson.guide.take([(lesson.hand.t_s, "button", "left_press", 1)])
    lesson.feed(lesson.hand.move(1.0, 45.0, 0.08))
    lesson.guide.take([(lesson.hand.t_s, "button", "left_press", 0)])
    lesson.idle(0.7)
    lesson.back()
    assert lesson.guide.finished


@pytest.mark.parametrize(
    ("angle_deg", "note"), [(0.0, "skipped: "), (180.0, "repeat asked for"), (270.0, "stopped by the person")]
)
def test_a_stick_held_to_a_side_chooses_in_the_pause(angle_deg: float, note: str) -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE)
    lesson.circle()
    lesson.press()
    lesson.feed(lesson.hand.move(1.0, angle_deg, 0.1))
    lesson.idle(0.5)
    choice = lesson.guide.view().choice
    assert choice is not None
    assert 0.3 < choice[1] < 0.9
    lesson.idle(0.6)
    assert any(text.startswith(note) for text in lesson.notes)
    assert lesson.guide.stopped == (angle_deg == 270.0)


def test_a_stick_pulled_aside_for_an_instant_chooses_nothing() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE)
    lesson.circle()
    lesson.press()
    lesson.feed(lesson.hand.move(1.0, 270.0, 0.1))
    lesson.idle(0.4)
    lesson.back()
    lesson.idle(1.0)
    assert lesson.stage() is Stage.PAUSED
    assert not lesson.guide.stopped


def test_keys_repeat_skip_and_stop() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE, flick(225.0), RELEASE)
    lesson.circle()
    lesson.flick()
    lesson.guide.command(Command.REPEAT)
    lesson.look()
    lesson.idle(0.4)
    assert lesson.cues[-1] == "flick stick=left direction_deg=45"
    lesson.flick()
    assert lesson.cues[-1] == "flick stick=left direction_deg=225"
    lesson.guide.command(Command.SKIP)
    lesson.look()
    lesson.idle(0.6)
    assert lesson.guide.finished
    assert lesson.guide.view().skipped == 1
    other = Lesson(CIRCLE)
    other.guide.command(Command.STOP)
    assert other.guide.stopped


def test_the_break_counts_down_and_can_be_cut_short() -> None:
    lesson = Lesson(CIRCLE, PAUSE, flick(45.0), RELEASE)
    lesson.circle()
    assert lesson.stage() is Stage.BREAK
    assert 0.5 < lesson.guide.view().left_s < 2.0
    lesson.press()
    assert lesson.stage() is Stage.ASKING


def test_a_change_of_hands_gets_a_short_break() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE, flick(45.0, "right"))
    lesson.circle()
    lesson.flick()
    view = lesson.guide.view()
    assert view.stage is Stage.BREAK
    assert view.sentence == "Next: Flicks, right."
    lesson.idle(2.1)
    assert lesson.cues[-1] == "flick stick=right direction_deg=45"


def test_nobody_there_pauses_it() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE)
    lesson.circle()
    lesson.idle(22.0)
    assert lesson.stage() is Stage.PAUSED
    assert lesson.notes.count("rejected not moved: flick stick=left direction_deg=45") == 2


def test_unplugged_and_back_goes_on_with_the_same_action() -> None:
    lesson = Lesson(CIRCLE, flick(45.0), RELEASE)
    lesson.circle()
    lesson.guide.take([(lesson.hand.t_s, "unplug", "pad", 0)])
    lesson.idle(3.0)
    assert lesson.stage() is Stage.UNPLUGGED
    lesson.guide.take([(lesson.hand.t_s, "plug", "pad", 0)])
    lesson.look()
    assert lesson.stage() is Stage.ASKING
    lesson.flick()
    assert lesson.guide.finished


def test_a_press_that_is_asked_for_is_no_pause() -> None:
    lesson = Lesson(Step(action=Action.PRESS, duration_s=2.0, block="Marker"), RELEASE)
    lesson.press()
    lesson.idle(0.4)
    assert lesson.guide.finished


def test_a_set_up_page_waits_for_the_person() -> None:
    page = Step(action=Action.PAUSE, duration_s=4.0, stick="", block="Set-up", say="Fix the button.", waits=True)
    lesson = Lesson(page, CIRCLE)
    lesson.idle(30.0)
    assert lesson.stage() is Stage.BREAK
    lesson.press()
    assert lesson.cues[-1] == "circle stick=left"


@pytest.mark.parametrize(("tied", "reason"), [(True, "accepted done"), (False, "rejected two sticks at once")])
def test_tied_sticks_move_together(tied: bool, reason: str) -> None:
    lesson = Lesson(flick(45.0), RELEASE)
    lesson.guide.script = Script(name="t", title="T", steps=lesson.guide.script.steps, tied=tied)
    lesson.guide.command(Command.GO)
    lesson.guide.command(Command.GO)
    lesson.feed(lesson.hand.move(1.0, 45.0, 0.04))
    lesson.feed(lesson.hand.move(1.0, 45.0, 0.04, side="right"))
    lesson.idle(0.7)
    assert f"{reason}: flick stick=left direction_deg=45" in lesson.notes


def test_what_is_set_up_before_the_first_block_is_no_part_of_it() -> None:
    set_up = Step(action=Action.PAUSE, duration_s=1.0, stick="", block="Set-up", say="Tie them.", waits=True)
    lesson = Lesson(set_up, CIRCLE, RELEASE)
    view = lesson.guide.view()
    assert (view.block, view.n_blocks, view.block_name) == (0, 2, "Set-up")
    lesson.guide.command(Command.GO)
    lesson.idle(0.2)
    view = lesson.guide.view()
    assert (view.block, view.block_name) == (1, "Circle")
