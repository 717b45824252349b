"""The live stick: what is played depends on the rows and their stamps alone."""

from __future__ import annotations

import contextlib
import itertools
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest

from feelcheck.errors import FormatError, SourceError
from feelcheck.model import Estimate, PlayedStage
from feelcheck.numerics.played_response import AddedResponse
from feelcheck.psychometrics import Staircase
from feelcheck.rehearsal import running
from feelcheck.rehearsal.aiming import AimingTask
from feelcheck.rehearsal.choices import ChoiceBlock
from feelcheck.rehearsal.choosing import ChoiceCourse
from feelcheck.rehearsal.controls import HOLD_S, controls_from
from feelcheck.rehearsal.course import FreeCourse
from feelcheck.rehearsal.latency import FRAME_S, Latency
from feelcheck.rehearsal.live import LiveInput
from feelcheck.rehearsal.order import SealedOrder
from feelcheck.rehearsal.pointing import AimingCourse
from feelcheck.rehearsal.view import Command, Stage

AXES = [
    {"name": "left_x", "stick": "left", "centre": 0, "reach": 32767, "rises_toward": "right"},
    {"name": "left_y", "stick": "left", "centre": 0, "reach": 32767, "rises_toward": "down"},
]
Row = tuple[float, str, str, int]


def stage(label: str, rising_s: float, falling_s: float) -> PlayedStage:
    added = AddedResponse(
        rising_poles_s=(rising_s,), falling_poles_s=(falling_s,), own_rising_s=0.002, own_falling_s=0.002
    )
    delay = Estimate.measured("added_delay", rising_s, u=0.0, unit="s")
    return PlayedStage(label=label, mode="exact", added_rising=delay, added_falling=delay, x=added, y=added)


def live(*stages: PlayedStage) -> LiveInput:
    found = LiveInput(AXES, "left", 1e-3)
    found.play(list(stages) or [stage("a", 0.009, 0.014)], 0.0)
    return found


def flicking(seconds: float = 0.6, seed: int = 1) -> list[Row]:
    """Rows with the jitter of polling; a value that stays is not sent again."""
    rng = np.random.default_rng(seed)
    rows: list[Row] = []
    last = [0, 0]
    for k in range(1, round(seconds * 1000)):
        t_s = k * 1e-3 + float(rng.uniform(0.0, 2e-4))
        u = 0.5 - 0.5 * math.cos(2 * math.pi * min(1.0, (k % 200) / 120))
        for which, code in enumerate((round(32000 * u), round(-20000 * u))):
            if code != last[which]:
                last[which] = code
                rows.append((t_s, "axis", AXES[which]["name"], code))  # type: ignore[arg-type]
    return rows


def stepped(rows: list[Row], rising_s: float, falling_s: float, until_s: float) -> float:
    """The played output across, integrated in steps of 2 us from the same rows: straight between neighbouring reports,
    held where reports were silent; lead by the slope."""
    dt = 2e-6
    points = [(0.0, 0.0)]
    for t_s, _, name, code in rows:
        if name == "left_x":
            if t_s - points[-1][0] > 1.5e-3:
                points.append((t_s - 1e-3, points[-1][1]))
            points.append((t_s, code / 32767))
    y = 0.0
    for (t0, v0), (t1, v1) in itertools.pairwise(points):
        slope = (v1 - v0) / (t1 - t0)
        n = max(1, round((t1 - t0) / dt))
        for k in range(n):
            x = v0 + slope * (k + 0.5) * (t1 - t0) / n + 0.002 * slope
            tau = rising_s if x > y else falling_s
            y += (x - y) * -math.expm1(-(t1 - t0) / n / tau)
    rest = points[-1][1]
    return rest + (y - rest) * math.exp(-(until_s - points[-1][0]) / (rising_s if rest > y else falling_s))


def test_the_played_output_is_that_of_an_integration_of_the_same_rows() -> None:
    rows = flicking(0.25)
    played = live()
    for row in rows:
        played.take(row)
    until_s = rows[-1][0] + 0.0004
    assert played.output(0, until_s)[0] == pytest.approx(stepped(rows, 0.009, 0.014, until_s), abs=2e-4)


def test_right_and_up_are_positive_whatever_way_the_codes_rise() -> None:
    played = live()
    for row in flicking(0.05):
        played.take(row)
    x, y = played.output(0, 0.2)
    assert x > 0.0
    assert y > 0.0  # the code of y fell, which is up


def test_a_stall_changes_no_state_no_selection_and_no_place() -> None:
    def play(looks: bool) -> tuple[list[object], tuple[float, float]]:
        task = AimingTask(stages=[stage("a", 0.009, 0.014)], order=[0], n_targets=5)
        course = AimingCourse(LiveInput(AXES, "left", 1e-3), controls_from([]), task)
        course.command(Command.GO, 0.0)
        places: list[object] = []
        for row in [*flicking(), (0.61, "button", "button_0", 1), *[(r[0] + 0.62, *r[1:]) for r in flicking(seed=2)]]:
            course.row(row)
            if looks:
                course.look(row[0] + 0.004)
                course.view(row[0] + 0.004)
            if row[1] == "button":
                places.append(task.cursor)
        course.row((1.3, "button", "button_0", 1))
        return [*places, task._moves], task.cursor

    assert play(looks=True) == play(looks=False)


def test_an_unknown_pad_gives_its_first_two_axes_and_one_axis_is_refused() -> None:
    found = LiveInput([{"name": "axis_0"}, {"name": "axis_1"}], "left", 1e-3)
    found.play([stage("a", 0.009, 0.009)], 0.0)
    found.take((0.001, "axis", "axis_1", -32767))
    assert found.raw == pytest.approx((0.0, 1.0))
    with pytest.raises(SourceError, match="A stick has two axes"):
        LiveInput([{"name": "axis_0"}], "left", 1e-3)


def choosing(n: int = 3, **more: object) -> ChoiceCourse:
    block = ChoiceBlock(
        quick=stage("alder", 0.003, 0.003), slow=stage("birch", 0.009, 0.014), n_planned=n,
        order=SealedOrder.drawn(n, seed=1), **more,  # type: ignore[arg-type]
    )  # fmt: skip
    return ChoiceCourse(
        LiveInput(AXES, "left", 1e-3), controls_from([]), block, question="Which one was slower to stop?",
        interval_s=1.0, opening="Order sealed.",
    )  # fmt: skip


def now(course: ChoiceCourse) -> Stage:
    return course.stage


def through(course: ChoiceCourse, t_s: float) -> float:
    """Let both intervals pass; return the instant of the question."""
    for _ in range(2000):
        t_s += 0.01
        course.look(t_s)
        if course.stage is Stage.ANSWER:
            return t_s
    raise AssertionError(course.stage)


def test_a_trial_is_first_between_second_and_the_question() -> None:
    course = choosing()
    seen = [course.stage]
    course.command(Command.GO, 0.0)
    t_s = 0.0
    while course.stage is not Stage.ANSWER:
        t_s += 0.01
        course.look(t_s)
        if course.stage is not seen[-1]:
            seen.append(course.stage)
    assert seen == [Stage.READY, Stage.FIRST, Stage.BETWEEN, Stage.SECOND, Stage.ANSWER]
    assert t_s == pytest.approx(2.7, abs=0.05)
    course.command(Command.SECOND, t_s)
    assert [trial.answer for trial in course.block.trials] == ["second"]
    assert course.take_notes() == ["trial 1: answered second"]


def test_nothing_on_the_screen_tells_which_one_is_played() -> None:
    course = choosing()
    course.command(Command.GO, 0.0)
    words = []
    for t_s in (0.5, 1.2, 1.9, 2.8):
        course.look(t_s)
        view = course.view(t_s)
        words += [view.title, view.sentence, view.label, *view.more]
        assert view.trace == ()
    assert not any("alder" in text or "birch" in text or "ms" in text.split() for text in words)


def test_a_pad_that_is_unplugged_breaks_the_trial_off_and_nothing_is_lost() -> None:
    course = choosing(n=2)
    course.command(Command.GO, 0.0)
    course.command(Command.FIRST, through(course, 0.0))
    course.row((4.0, "unplug", "pad", 0))
    assert course.stage is Stage.UNPLUGGED
    assert "Plug it in again" in course.view(4.1).sentence
    course.row((5.0, "button", "button_0", 1))  # nothing but a pad that is back helps
    assert course.stage is Stage.UNPLUGGED
    course.row((6.0, "plug", "pad", 0))
    assert now(course) is Stage.PAUSED
    course.command(Command.GO, 7.0)
    course.command(Command.FIRST, through(course, 7.0))
    assert course.finished
    assert [(trial.counted, trial.why_not) for trial in course.block.trials] == [
        (True, ""), (False, "the pad was unplugged"), (True, ""),
    ]  # fmt: skip


@pytest.mark.parametrize("command", [Command.PAUSE, Command.END])
def test_pausing_and_ending_keep_the_trial_uncounted(command: Command) -> None:
    course = choosing()
    course.command(Command.GO, 0.0)
    course.look(0.5)
    course.command(command, 0.6)
    assert [trial.counted for trial in course.block.trials] == [False]
    assert course.finished == course.ended == (command is Command.END)
    assert course.block.p_value() is None


def test_a_rest_comes_after_ten_trials_and_can_be_cut_short() -> None:
    course = choosing(n=12)
    course.command(Command.GO, 0.0)
    t_s = 0.0
    for _ in range(10):
        t_s = through(course, t_s)
        course.command(Command.FIRST, t_s)
    assert course.stage is Stage.REST
    assert course.view(t_s + 1.0).left_s == pytest.approx(19.0)
    course.command(Command.GO, t_s + 2.0)
    assert now(course) is Stage.FIRST


def test_a_question_is_answered_by_holding_the_stick_to_a_side_after_it_was_home() -> None:
    course = choosing()
    course.command(Command.GO, 0.0)
    course.row((0.1, "axis", "left_x", -32000))
    t_s = through(course, 0.1)
    course.look(t_s + 2.0)  # still out from the flick: no answer
    assert course.stage is Stage.ANSWER
    course.row((t_s + 2.1, "axis", "left_x", 0))
    course.look(t_s + 2.11)
    course.row((t_s + 2.2, "axis", "left_x", 32000))
    course.look(t_s + 2.21)
    view = course.view(t_s + 2.21)
    assert view.choice is not None
    assert view.choice[0] == "right"
    course.look(t_s + 2.22 + HOLD_S)
    assert [trial.answer for trial in course.block.trials] == ["second"]


def test_free_feel_changes_between_two_and_hides_their_names_on_request() -> None:
    shown = FreeCourse(
        LiveInput(AXES, "left", 1e-3), controls_from([]), [stage("alder", 0.003, 0.003), stage("elm", 0.009, 0.009)]
    )
    hidden = FreeCourse(LiveInput(AXES, "left", 1e-3), controls_from([]), shown.stages, hide_names=True)
    for course in (shown, hidden):
        course.command(Command.GO, 0.0)
        for row in flicking(0.1):
            course.row(row)
        course.row((0.11, "button", "button_5", 1))
    assert shown.view(0.12).label == "B: elm"
    assert hidden.view(0.12).label == "B"
    assert len(shown.view(0.12).trace) > 10
    assert hidden.view(0.12).trace == ()


def test_aiming_begins_a_broken_sequence_again() -> None:
    task = AimingTask(stages=[stage("a", 0.009, 0.014)], order=[0], n_targets=5)
    course = AimingCourse(LiveInput(AXES, "left", 1e-3), controls_from([]), task)
    course.command(Command.GO, 0.0)
    for k in range(3):
        course.row((0.5 + k, "button", "button_0", 1))
        course.row((0.55 + k, "button", "button_0", 0))
    course.row((4.0, "unplug", "pad", 0))
    assert course.take_notes() == ["sequence 1: broken off after 2 movements, the pad was unplugged"]
    assert task.n_done == 0
    assert not task.sequences


@pytest.mark.parametrize("wish", ["jump=button_1", "first", "first=", "=button_1"])
def test_a_wish_for_a_control_that_makes_no_sense_is_refused(wish: str) -> None:
    with pytest.raises(FormatError, match="wished as"):
        controls_from([wish])


def test_controls_can_be_given_other_places() -> None:
    controls = controls_from(["first=button_4", "second=button_5", "go=key:G"])
    assert controls.button("button_4", 1) is Command.FIRST
    assert controls.button("button_5", 1) is Command.SECOND
    assert controls.button("button_0", 1) is Command.GO
    assert controls.button("button_4", 0) is None
    assert controls.keys["g"] is Command.GO


def test_own_delays_are_measured_and_late_frames_counted() -> None:
    latency = Latency()
    for k in range(100):
        latency.state(0.002 + 1e-5 * k)
        at_s = k * FRAME_S + (FRAME_S if k >= 50 else 0.0)  # one frame is left out
        latency.frame(at_s - 0.004, at_s)
    found = latency.estimates()
    assert found["report_to_state"].value == pytest.approx(0.0025, abs=2e-5)
    assert found["report_to_state_p95"].value == pytest.approx(0.00295, abs=3e-5)
    assert found["state_to_frame"].value == pytest.approx(0.004, abs=1e-9)
    assert (latency.n_frames, latency.late_frames) == (100, 1)
    assert str(Latency().estimates()["report_to_state"].status) == "not_resolved"


def test_a_staircase_block_plays_its_own_delays() -> None:
    course = choosing(placement=Staircase(start_s=0.03))
    course.command(Command.GO, 0.0)
    assert {pair.x.falling_poles_s[0] for pair in course.block.pair()} == {0.003, 0.033}


def test_ctrl_c_on_the_last_page_closes_it_and_takes_nothing_back(monkeypatch: pytest.MonkeyPatch) -> None:
    class Interrupting:
        def __getattr__(self, name: str) -> Callable[..., None]:
            return lambda *_: None

        def end(self, *_: object) -> None:
            raise KeyboardInterrupt

    monkeypatch.setattr(running, "CaptureChild", lambda *_: Interrupting())
    monkeypatch.setattr(running, "_heard", lambda *_: {"axes": AXES})
    monkeypatch.setattr(running, "_kept", lambda *_: contextlib.nullcontext(Path("kept")))
    monkeypatch.setattr(running, "_turns", lambda *_: None)
    task = running.LiveTask(
        source="virtual", reference="", device="", kind="free", side="left", interval_s=1e-3, out=Path("out")
    )
    told: list[str] = []

    def lines(*_: object) -> list[str]:
        told.append("all")
        return told

    page = cast(Any, Interrupting())
    try:
        assert running.play_live(task, lambda _: page, lambda: page, lines) is None
    except KeyboardInterrupt:
        pytest.fail("it went past the last page")
    assert told == ["all"]
