"""What a recording says in the terminal: each prompt, each judgement, what was typed."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import pytest

from feelcheck.cli._progress import Shown, TerminalFace, judged_line, prompt_line, recording_shown
from feelcheck.errors import SourceError
from feelcheck.recorder.guide import Command


class Lines:
    """A bar that keeps what it was told."""

    def __init__(self) -> None:
        self.said: list[str] = []
        self.shown: list[tuple[Any, ...]] = []
        self.stopped = False

    def say(self, text: str) -> None:
        self.said.append(text)

    def show(self, *now: Any) -> None:
        self.shown.append(now)

    def stop(self) -> None:
        self.stopped = True


def view(**more: Any) -> Any:
    told = {"stage": "asking", "sentence": "Flick up.", "attempt": 1, "left_s": 2.0, "done": 0, "step": "up",
            "verdict": None, "judged": "Flick up", "next_try": False, "accepted": 3, "rejected": 1, "skipped": 2,
            "n_steps": 5}  # fmt: skip
    return SimpleNamespace(**{**told, **more})


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ({}, "> Flick up."),
        ({"attempt": 2}, "> Flick up. (try 2)"),
        ({"stage": "ready", "attempt": 2}, "> Flick up. Begins in 2 s."),
        ({"stage": "break", "left_s": math.inf}, "> Flick up. A button goes on."),
        ({"stage": "break"}, "> Flick up. Goes on in 2 s."),
    ],
)
def test_a_prompt_is_one_line(more: dict[str, Any], line: str) -> None:
    assert prompt_line(view(**more)) == line


def test_a_pause_says_every_way_on() -> None:
    line = prompt_line(view(stage="paused"))
    assert [word in line for word in ("A button goes on", "hold a stick up", "left for", "right to", "down to")] == [
        True
    ] * 5


GOOD = SimpleNamespace(good=True, sentence="", advice="")
BAD = SimpleNamespace(good=False, sentence="The rim was not reached.", advice="Flick farther.")


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ({"verdict": GOOD}, "  counts: Flick up."),
        (
            {"verdict": BAD, "next_try": True},
            "  not counted: Flick up. The rim was not reached. Flick farther. It will be asked again.",
        ),
        (
            {"verdict": BAD},
            "  not counted: Flick up. The rim was not reached. Flick farther. It goes on without this one.",
        ),
    ],
)
def test_a_judgement_is_one_line(more: dict[str, Any], line: str) -> None:
    assert judged_line(view(**more)) == line


@pytest.fixture
def face(monkeypatch: pytest.MonkeyPatch) -> TerminalFace:
    monkeypatch.setattr("sys.stdin", None)
    return TerminalFace(Lines())


def test_prompts_and_judgements_are_said_once_each(face: TerminalFace) -> None:
    bar: Any = face._bar
    n_before = len(bar.said)
    for now in (view(), view(), view(verdict=BAD), view(verdict=BAD, attempt=2), view(verdict=BAD, attempt=2)):
        face.show(now)
    assert bar.said[n_before:] == [prompt_line(view()), judged_line(view(verdict=BAD)), prompt_line(view(attempt=2))]
    assert bar.shown[-1] == ("step 1 of 5", 0, 5, "3 counted, 1 not")


def test_the_last_step_is_not_counted_beyond_the_end(face: TerminalFace) -> None:
    bar: Any = face._bar
    face.show(view(done=5))
    assert bar.shown[-1][0] == "step 5 of 5"


def test_typed_letters_become_commands_and_others_nothing(face: TerminalFace) -> None:
    for letter in ("", "p", "r", "x", "s", "q"):
        face._letters.put(letter)
    assert list(face.show(view())) == [Command(word) for word in ("go", "go", "repeat", "skip", "stop")]
    assert face.show(view()) == []


def test_the_end_tells_the_counts_and_what_was_noticed(face: TerminalFace) -> None:
    bar: Any = face._bar
    face.end(SimpleNamespace(view=view, remarks=["The left stick rests off centre."]))
    assert bar.said[-2:] == ["Finished: 3 counted, 1 not counted, 2 left out.", "The left stick rests off centre."]
    face.close()
    assert bar.stopped


def test_pain_is_spoken_of_before_anything_else(face: TerminalFace) -> None:
    bar: Any = face._bar
    assert any("Stop at once" in line for line in bar.said)


def test_where_no_window_opens_the_terminal_takes_over(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import feelcheck.recorder.window as window

    def refused(**_: Any) -> Any:
        raise SourceError("No window can be opened here.")

    monkeypatch.setattr(window, "has_display", lambda: True)
    monkeypatch.setattr(window, "SheetWindow", refused)
    assert isinstance(Shown(headless=False).face(), TerminalFace)
    assert "No window can be opened here. The prompts appear here" in capsys.readouterr().err
    monkeypatch.setattr(window, "has_display", lambda: False)
    assert isinstance(Shown(headless=False).face(), TerminalFace)
    assert "There is no screen" in capsys.readouterr().err


def test_progress_of_a_source_that_plays_by_itself_is_shown_until_a_person_is_led() -> None:
    bar: Any = Lines()
    with recording_shown(headless=True) as shown:
        shown._bar = bar
        now = SimpleNamespace(step=SimpleNamespace(say="Rest."), elapsed_s=1.0, total_s=4.0, n_rows=7)
        shown.progress(now)
        shown.progress(SimpleNamespace(step=None, elapsed_s=2.0, total_s=4.0, n_rows=9))
        shown.face()
        shown.progress(now)
    assert bar.shown == [("Rest.", 1.0, 4.0, "7 rows"), ("recording", 2.0, 4.0, "9 rows")]
    assert bar.stopped
