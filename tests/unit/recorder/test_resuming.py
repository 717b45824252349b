"""Going on with a session that was left."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from dataclasses import replace
from importlib import metadata, resources
from pathlib import Path
from typing import Any

import pytest

from feelcheck.errors import FeelcheckError, SourceError
from feelcheck.formats.session import READER
from feelcheck.formats.session_header import SessionHeader
from feelcheck.formats.session_log import sync_file
from feelcheck.formats.session_shelf import close_session, sessions_on_shelf
from feelcheck.model import Source, SourceEvent, SourceKind, SourceOptions, script_cues
from feelcheck.recorder import RecordingAsked, load_script, record_session, resume_session
from feelcheck.recorder.resuming import left_session, requests_answered, script_left

QUICK = load_script("quick")
CUES = [cue.text for cue in script_cues(QUICK)]


class Bench:
    """A source that does what a test says."""

    name = "bench"
    batches: Any = ()
    guid = "0300"
    simulated = False

    def open(self) -> None: ...

    def describe(self) -> dict[str, Any]:
        return {"axes": [{"name": "left_x"}], "clock": "host", "guid": self.guid, "simulated": self.simulated}

    def events(self) -> Iterator[list[SourceEvent]]:
        for batch in self.batches:
            if isinstance(batch, BaseException):
                raise batch
            yield batch

    def close(self) -> None: ...


def _make(options: SourceOptions) -> Source:
    Bench.asked = options  # type: ignore[attr-defined]
    return Bench()


KIND = SourceKind(name="bench", about="for tests", make=_make, realtime=False, gives_cues=True)


@pytest.fixture
def left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a session that was interrupted during its third request."""
    point = metadata.EntryPoint("bench", "bench:KIND", "feelcheck.sources")
    load, real = metadata.EntryPoint.load, metadata.entry_points
    monkeypatch.setattr(metadata.EntryPoint, "load", lambda entry: KIND if entry.name == "bench" else load(entry))
    monkeypatch.setattr(
        metadata, "entry_points", lambda group: [point] if group == "feelcheck.sources" else real(group=group)
    )
    monkeypatch.setattr(Bench, "guid", "0300")
    rows: list[SourceEvent] = [(k, k, "cue", CUES[k], 0) for k in range(3)]
    monkeypatch.setattr(Bench, "batches", ([*rows, (5, 9, "axis", "left_x", 1)], KeyboardInterrupt()))
    with pytest.raises(KeyboardInterrupt):
        record_session(
            RecordingAsked(specimen="hazel", script="quick", source="bench", out=tmp_path, facts={"cap": "tall"})
        )
    folder = tmp_path / "hazel_as_found"
    os.utime(folder / "events.csv", (1000.0, 1000.0))
    return folder


def test_what_is_left_starts_with_the_circle_and_the_request_that_was_being_done() -> None:
    left_steps = script_left(QUICK, CUES[:4]).steps
    circles = [step for step in QUICK.steps[:3] if step.action == "circle"]
    assert left_steps == (*circles, *QUICK.steps[3:])


def test_a_retake_counts_once() -> None:
    shown = [*CUES[:3], CUES[2], CUES[2]]
    assert script_left(QUICK, shown).steps == script_left(QUICK, CUES[:3]).steps


def test_nothing_shown_leaves_the_whole_script() -> None:
    assert script_left(QUICK, []) == QUICK


def test_another_script_is_told() -> None:
    with pytest.raises(SourceError, match="another script"):
        script_left(QUICK, ["roll right"])


def test_the_session_goes_on_in_its_own_folder(left: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    later_ns = time.perf_counter_ns() + 10**12
    monkeypatch.setattr(Bench, "batches", ([(later_ns, later_ns, "axis", "left_x", 2)],))
    assert resume_session(left) == left
    recording = READER.read(left)
    assert recording.provenance.complete
    assert recording.stream("left_x").codes.tolist() == [1, 2]
    assert [gap.reason for gap in recording.gaps] == ["resumed"]
    assert SessionHeader.read(left).facts == {"cap": "tall"}
    assert Bench.asked.script == script_left(QUICK, CUES[:3])  # type: ignore[attr-defined]


def test_a_restarted_computer_joins_at_a_gap(left: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    events = left / "events.csv"
    events.write_text(events.read_text().replace("\n5,9,", f"\n{60 * 10**9},{60 * 10**9},"))
    os.utime(events, (1000.0, 1000.0))
    monkeypatch.setattr(Bench, "batches", ([(7, 8, "axis", "left_x", 2)],))
    resume_session(left)
    recording = READER.read(left)
    assert recording.stream("left_x").codes.tolist() == [1, 2]
    assert any("steps back" in remark for remark in recording.provenance.remarks)


def test_another_pad_is_refused(left: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Bench, "guid", "0500")
    with pytest.raises(SourceError, match="the pad that it was begun with"):
        resume_session(left)
    assert SessionHeader.read(left).recording == "interrupted"


def test_what_cannot_be_resumed_says_so(left: Path) -> None:
    assert left_session(left).shown == tuple(CUES[:3])
    header = SessionHeader.read(left)
    for changed, match in (
        (replace(header, recording="complete"), "Only an unfinished session"),
        (replace(header, device={**header.device, "simulated": True}), "played back cannot be"),
        (replace(header, source="replay"), "played back cannot be"),
    ):
        changed.write(left)
        with pytest.raises(SourceError, match=match):
            resume_session(left)
    replace(header, recording="recording").write(left)
    os.utime(left / "events.csv")
    with pytest.raises(SourceError, match="being written now"):
        resume_session(left)
    os.utime(left / "events.csv", (1000.0, 1000.0))
    close_session(left)
    with pytest.raises(FeelcheckError, match="Only an unfinished session"):
        resume_session(left)


def test_a_try_that_was_rejected_is_still_to_be_done() -> None:
    script = load_script("quick")
    flick, release = "flick stick=left direction_deg=45", "release stick=left"
    rows = [("cue", "circle stick=left"), ("cue", "rest stick=left"), ("cue", flick)]
    rejected = [*rows, ("note", f"rejected too slow: {flick}"), ("cue", release)]
    assert script_left(script, requests_answered(rejected)).steps[1].action == "rest"
    given_up = [*rejected, ("note", f"gone on after 3 tries: {flick}"), ("cue", release)]
    assert script_left(script, requests_answered(given_up)).steps[1].action == "release"
    accepted = [*rejected, ("cue", flick), ("note", f"accepted done: {flick}"), ("cue", release)]
    assert script_left(script, requests_answered(accepted)).steps[1].action == "release"


def test_a_session_that_sends_nothing_is_still_being_written(left: Path) -> None:
    replace(SessionHeader.read(left), recording="recording").write(left)
    assert not sessions_on_shelf(left)[0].running
    sync_file(left / "events.csv")
    assert sessions_on_shelf(left)[0].running
    with pytest.raises(SourceError, match="being written now"):
        resume_session(left)


def test_a_script_of_ones_own_is_named_again(left: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    replace(SessionHeader.read(left), script="own").write(left)
    own = tmp_path / "own.toml"
    own.write_bytes((resources.files("feelcheck.recorder") / "scripts" / "quick.toml").read_bytes())
    monkeypatch.setattr(Bench, "batches", ())
    with pytest.raises(FeelcheckError, match=r"(?s)script of its own.*--script own\.toml"):
        resume_session(left)
    assert resume_session(left, script=str(own)) == left
    assert SessionHeader.read(left).recording == "complete"
