"""What can end a recording from outside: a silent or failing capture process, a screen that is none, time."""

from __future__ import annotations

import queue
from types import SimpleNamespace
from typing import Any, cast

import pygame
import pytest

from feelcheck import recorder
from feelcheck.capturing.child import CaptureChild
from feelcheck.errors import SourceError
from feelcheck.model import Action, Script, Step
from feelcheck.recorder import running
from feelcheck.recorder.window import SheetWindow

SCRIPT = Script(
    name="short",
    title="",
    steps=(Step(action=Action.REST, duration_s=0.5), Step(action=Action.FLICK, duration_s=1.0)),
)


def child_saying(*messages: dict[str, Any] | None) -> CaptureChild:
    """A capture process that is no process: it has said this and nothing else."""
    child = CaptureChild.__new__(CaptureChild)
    child._messages = queue.SimpleQueue()
    for message in messages:
        child._messages.put(message)
    child.process = cast(Any, SimpleNamespace(wait=lambda timeout: 3))
    child._noise = cast(Any, SimpleNamespace(seek=lambda at: None, read=lambda: b"Traceback\nMemoryError\n"))
    return child


def test_an_error_of_the_capture_process_is_said_in_its_own_words() -> None:
    told = {"sentence": "The pad fell silent.", "facts": {"pad": "loaner 7"}, "next_step": "Plug it in again."}
    with pytest.raises(SourceError, match=r"The pad fell silent.") as refused:
        child_saying({"error": told}).listen(0.0)
    assert refused.value.facts == {"pad": "loaner 7"}
    assert refused.value.next_step == "Plug it in again."


def test_a_capture_process_that_died_leaves_its_last_words() -> None:
    with pytest.raises(SourceError, match=r"(?s)ended by itself.*exit code: 3.*last words: MemoryError"):
        child_saying(None).listen(0.0)


def test_nothing_said_in_time_is_no_message() -> None:
    assert child_saying().listen(0.0) is None


def test_a_source_that_is_not_ready_in_time_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(running, "_READY_S", 0.02)
    monkeypatch.setattr(running, "_LISTEN_S", 0.001)
    with pytest.raises(SourceError, match=r"The source is not ready after 0.02 s."):
        running._heard(child_saying({"started": 5}), "ready")
    assert running._heard(child_saying({"ready": {}}, {"started": 5}), "started") == 5


@pytest.mark.parametrize(("elapsed_s", "action"), [(0.0, "rest"), (0.49, "rest"), (0.5, "flick"), (1.49, "flick")])
def test_the_step_shown_is_the_one_whose_time_it_is(elapsed_s: float, action: str) -> None:
    step = running._step_at(SCRIPT, elapsed_s)
    assert step is not None
    assert step.action == action


def test_after_the_last_step_there_is_none() -> None:
    assert running._step_at(SCRIPT, 1.5) is None


@pytest.mark.parametrize(
    ("seconds", "guided", "ends_itself", "limit_s"),
    [(None, True, False, running._LONGEST_S), (7.0, True, False, 7.0), (None, False, False, 1.5),
     (None, False, True, 1.5 + running._BEGINS_WITHIN_S)],
)  # fmt: skip
def test_when_the_capture_process_stops_by_itself(
    seconds: float | None, guided: bool, ends_itself: bool, limit_s: float
) -> None:
    task = SimpleNamespace(options=SimpleNamespace(seconds=seconds), total_s=1.5)
    assert running._limit_s(cast(Any, task), guided=guided, ends_itself=ends_itself) == limit_s


def test_a_guided_recording_does_not_run_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    from contextlib import contextmanager

    @contextmanager
    def session(*_: Any) -> Any:
        yield None, 0

    monkeypatch.setattr(running, "_session", session)
    monkeypatch.setattr(running, "run_guide", lambda *_, **__: False)
    closed: list[bool] = []
    face = SimpleNamespace(begun=lambda folder: None, close=lambda: closed.append(True), end=lambda guide: None)
    task = SimpleNamespace(options=SimpleNamespace(script=SCRIPT, seconds=None), total_s=1.5)
    with pytest.raises(SourceError, match=r"took too long and was ended"):
        running._lead(cast(Any, task), child_saying(), {"axes": []}, cast(Any, face))
    assert closed == [True]


def test_a_screen_that_opens_no_window_sends_people_to_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_window(*_: Any) -> Any:
        raise pygame.error("no screen")

    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setattr(pygame.display, "set_mode", no_window)
    with pytest.raises(SourceError, match=r"(?s)No window can be opened here.*reason: no screen.*--headless"):
        SheetWindow()


def test_the_recorder_offers_its_names_and_no_others() -> None:
    assert callable(recorder.load_script)
    with pytest.raises(AttributeError, match=r"rewind"):
        recorder.rewind  # type: ignore[attr-defined]  # noqa: B018
