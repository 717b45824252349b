"""Flick scripts as data."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest

from feelcheck.capturing.script_wire import script_from_wire, script_to_wire
from feelcheck.errors import FormatError
from feelcheck.model import Action
from feelcheck.recorder import load_script, script_names
from feelcheck.recorder.script_files import parse_script

STEP = '[[block]]\nsteps = [{ action = "rest", duration_s = 1.0 }]\n'


def test_the_default_is_mostly_diagonal_and_under_two_minutes() -> None:
    script = load_script("default")
    flicks = [step for step in script.steps if step.action is Action.FLICK]
    diagonal = [step for step in flicks if step.direction_deg is not None and step.direction_deg % 90 == 45]
    assert script.duration_s < 120
    assert len(diagonal) >= 0.6 * len(flicks)
    assert len(flicks) - len(diagonal) >= 4
    assert {step.stick for step in diagonal} == {"left", "right"}
    actions = {step.action for step in script.steps}
    assert {Action.REST, Action.ROLL, Action.PAUSE, Action.RELEASE, Action.CIRCLE, Action.END} <= actions


@pytest.mark.parametrize("name", ["default", "quick"])
def test_flicks_of_two_speeds_are_asked_in_each_diagonal(name: str) -> None:
    """Sliding, clipping and a soft rim show in what differs between speeds and between directions."""
    flicks = [step for step in load_script(name).steps if step.action is Action.FLICK and step.stick == "left"]
    for pace in ("quick", "easy"):
        assert {step.direction_deg for step in flicks if step.pace == pace} >= {45, 135, 225, 315}
    assert all("easy" in step.say for step in flicks if step.pace == "easy")


def test_straight_flicks_stand_between_diagonal_ones() -> None:
    """Early and late flicks then have both kinds of direction."""
    for block in ("Quick flicks, left", "Quick flicks, right"):
        asked = [s.direction_deg for s in load_script("default").steps if s.block == block and s.action is Action.FLICK]
        assert {0, 180, 90, 270, 45, 225, 135, 315} == set(asked)


def test_a_full_circle_of_each_stick_comes_before_any_flick() -> None:
    steps = load_script("default").steps
    first = next(k for k, step in enumerate(steps) if step.action is Action.FLICK)
    assert [step.stick for step in steps[:first] if step.action is Action.CIRCLE] == ["left", "right"]


def test_every_flick_is_held_and_then_released() -> None:
    for name in script_names():
        steps = load_script(name).steps
        for flick, after in pairwise(steps):
            if flick.action is Action.FLICK:
                assert after.action is Action.RELEASE
                assert after.stick == flick.stick
                assert flick.duration_s >= 0.8


def test_pauses_say_when_to_stop() -> None:
    pauses = [step for step in load_script("default").steps if step.action is Action.PAUSE]
    assert len(pauses) >= 2
    assert all("Stop if anything hurts" in step.say for step in pauses)


@pytest.mark.parametrize("name", script_names())
def test_each_stick_goes_round_once_before_its_first_flick(name: str) -> None:
    script = load_script(name)
    round_once: set[str] = set()
    for step in script.steps:
        if step.action is Action.CIRCLE:
            round_once.add(step.stick)
        if step.action is Action.FLICK:
            assert step.stick in round_once


def test_the_quick_script_takes_about_twenty_seconds() -> None:
    assert load_script("quick").duration_s == pytest.approx(20.0, abs=2.0)


def test_words_follow_the_direction() -> None:
    said = {step.direction_deg: step.say for step in load_script("default").steps if step.action is Action.FLICK}
    assert "up and right" in said[45.0]
    assert "down and left" in said[225.0]
    assert "flick up to" in said[90.0]


def test_over_the_wire_and_back() -> None:
    script = load_script("default")
    assert script_from_wire(json.loads(json.dumps(script_to_wire(script)))) == script


def test_anybodys_own_file(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text('title = "Mine"\n' + STEP)
    script = load_script(str(tmp_path / "mine.toml"))
    assert (script.name, script.title, script.duration_s) == ("mine", "Mine", 1.0)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("[[block", "valid TOML"),
        ("title = 'x'", r"(?s)blocks of steps.*required field block"),
        ("[[block]]\nname = 'x'", "at least one step"),
        (STEP + "colour = 1", r"(?s)at: block.0..*unknown field colour"),
        (STEP.replace("rest", "jump"), r"(?s)known action.*steps.0..action.*jump"),
        (STEP.replace("1.0", "'long'"), r"(?s)steps.0..duration_s.*Expected float, got str"),
        (STEP.replace("1.0", "0.0"), "duration_s"),
        (STEP.replace("1.0", "inf"), "number must be finite"),
        (STEP.replace("1.0", "9" * 400), "long number"),
        (STEP.replace("1.0", "9" * 5000), "valid TOML"),
        ("steps = 3\n" + STEP, "unknown field|blocks of steps"),
        ("block = [1]", "Expected object"),
        ("block = 1", "Expected array"),
        ("[[block]]\nsteps = 3", "Expected array"),
        ("[[block]]\nflicks_deg = [inf]", "finite"),
        ("[[block]]\nflicks_deg = [1e300]", "flicks_deg"),
        ("[[block]]\nflicks_deg = [" + "45," * 600 + "]", "at least one step, and not more"),
        ("[[block]]\nname = '" + "x" * 300 + "'", "length <= 200"),
        ("a = " + "[" * 3000 + "]" * 3000, "nests"),
        ("a." * 200 + "b = 1", "nests"),
        (STEP.replace("1.0", "1e9"), "<= 60"),
        (STEP.replace("duration_s = 1.0", "duration_s = 1.0, stick = 'third'"), "(?s)known action, stick and pace"),
    ],
)
def test_a_broken_script_is_refused(text: str, match: str) -> None:
    with pytest.raises(FormatError, match=match):
        parse_script(text, "mine")


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(FormatError, match=r"(?s)no flick script of that name.*default.*quick"):
        load_script("waltz")
