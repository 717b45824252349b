"""A slow phase is named on a terminal, a quick one passes without a word."""

from __future__ import annotations

import io
import sys
import threading

import pytest

from feelcheck.cli._outcome import SlowPhases, slow_phases_named
from feelcheck.phases import phase, told_to


def test_a_phase_that_lasts_is_named_and_a_quick_one_is_not() -> None:
    said: list[str] = []
    heard = threading.Event()

    def say(words: str) -> None:
        said.append(words)
        heard.set()

    patient = SlowPhases(say, patience_s=60.0)
    patient("reading alder")
    patient("measuring alder")
    patient.over()
    assert not said
    quick = SlowPhases(say, patience_s=0.0)
    quick("measuring gate stop in alder")
    assert heard.wait(30)
    quick.over()
    assert said == ["measuring gate stop in alder ..."]


@pytest.mark.parametrize("is_terminal", [True, False])
def test_only_a_terminal_is_told(is_terminal: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(stream, "isatty", lambda: is_terminal)
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr("feelcheck.cli._outcome.PATIENCE_S", 0.0)
    heard: list[str] = []
    monkeypatch.setattr(SlowPhases, "__call__", lambda self, words: heard.append(words))
    with slow_phases_named(lambda _: None):
        phase("reading alder")
    phase("nobody listens any more")
    assert heard == (["getting ready", "reading alder"] if is_terminal else [])


def test_nothing_is_named_where_the_work_shows_itself() -> None:
    said: list[str] = []
    phases = SlowPhases(said.append, patience_s=0.05)
    with told_to(phases):
        phase("starting the recording")
        phase("")
    threading.Event().wait(0.2)
    assert not said


def test_listeners_nest() -> None:
    outer: list[str] = []
    inner: list[str] = []
    with told_to(outer.append):
        with told_to(inner.append):
            phase("a")
        phase("b")
    assert (outer, inner) == (["b"], ["a"])
