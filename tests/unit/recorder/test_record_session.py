"""Recording into a session folder: sources that go at once, and everything that can go wrong around them."""

from __future__ import annotations

import json
import math
import time
from collections.abc import Iterator
from dataclasses import asdict
from importlib import metadata
from pathlib import Path
from typing import Any

import pytest

from feelcheck.capturing.child import CaptureChild
from feelcheck.capturing.process import source_kind
from feelcheck.capturing.script_wire import script_to_wire
from feelcheck.errors import FormatError, PluginError, RecordingStopped, SourceError
from feelcheck.formats.session import READER
from feelcheck.formats.session_header import SessionHeader
from feelcheck.formats.session_log import EventLog
from feelcheck.model import Action, Script, Source, SourceEvent, SourceKind, SourceOptions, Step
from feelcheck.recorder import Progress, RecordingAsked, record_session
from feelcheck.recorder.running import which_pad

SCRIPT = Script(
    name="short",
    title="One flick",
    steps=(
        Step(action=Action.REST, duration_s=0.5),
        Step(action=Action.FLICK, duration_s=0.8, direction_deg=45.0),
        Step(action=Action.RELEASE, duration_s=0.5),
    ),
)


class Scripted:
    """A source that does what a test says."""

    name = "scripted"
    batches: Any = ()

    def open(self) -> None: ...

    def describe(self) -> dict[str, Any]:
        return {"axes": [{"name": "left_x"}], "clock": "model"}

    def events(self) -> Iterator[list[SourceEvent]]:
        for batch in self.batches:
            if isinstance(batch, BaseException):
                raise batch
            yield batch

    def close(self) -> None: ...


def _make(options: SourceOptions) -> Source:
    return Scripted()


SCRIPTED = SourceKind(name="scripted", about="for tests", make=_make, realtime=False)
ROW: SourceEvent = (5, 9, "axis", "left_x", 1)


@pytest.fixture(autouse=True)
def _plugins(monkeypatch: pytest.MonkeyPatch) -> None:
    entries = {
        "synthetic": "feelcheck.sources.kinds:SYNTHETIC",
        "gamepad": "feelcheck.sources.kinds:GAMEPAD",
        "number": "math:pi",
    }
    points = [metadata.EntryPoint(name, value, "feelcheck.sources") for name, value in entries.items()]
    scripted = metadata.EntryPoint("scripted", "scripted:SCRIPTED", "feelcheck.sources")
    load = metadata.EntryPoint.load
    monkeypatch.setattr(metadata.EntryPoint, "load", lambda e: SCRIPTED if e.name == "scripted" else load(e))
    real, chosen = metadata.entry_points, [*points, scripted]
    monkeypatch.setattr(
        metadata, "entry_points", lambda group: chosen if group == "feelcheck.sources" else real(group=group)
    )
    monkeypatch.setattr(Scripted, "batches", ())


def test_a_simulated_world_becomes_a_complete_session(tmp_path: Path) -> None:
    shown: list[Progress] = []
    folder = record_session(
        RecordingAsked(
            specimen="birch",
            script=SCRIPT,
            source="synthetic",
            out=tmp_path,
            seed=3,
            operator="Kim",
            progress=shown.append,
        )
    )
    recording = READER.read(folder)
    assert folder == tmp_path / "birch_as_found"
    assert recording.provenance.complete
    assert recording.provenance.simulated
    assert recording.provenance.facts["world"] == "birch"
    assert recording.provenance.facts["operator"] == "Kim"
    assert [cue.action for cue in recording.cues] == [Action.REST, Action.FLICK, Action.RELEASE]
    assert recording.truth["report_interval_s"] == 0.001
    assert max(abs(recording.stream("left_x").codes)) > 15_000
    assert shown[-1].elapsed_s == pytest.approx(SCRIPT.duration_s, abs=0.05)
    assert shown[-1].total_s == SCRIPT.duration_s


def test_the_same_seed_gives_the_same_session_and_a_recording_can_be_replayed(tmp_path: Path) -> None:
    given: dict[str, Any] = {"specimen": "maple", "script": SCRIPT, "source": "synthetic", "out": tmp_path}
    first, second = record_session(RecordingAsked(**given)), record_session(RecordingAsked(**given))
    again = record_session(
        RecordingAsked(specimen="maple", state="replayed", source="replay", device=str(first), out=tmp_path)
    )
    tables = [(folder / "events.csv").read_bytes() for folder in (first, second)]
    assert tables[0] == tables[1]
    assert second.name == "maple_as_found_2"
    replayed = READER.read(again)
    assert replayed.stream("left_y").codes.tolist() == READER.read(first).stream("left_y").codes.tolist()
    assert replayed.provenance.simulated


def test_seconds_end_it_early(tmp_path: Path) -> None:
    folder = record_session(
        RecordingAsked(specimen="alder", script=SCRIPT, source="synthetic", seconds=0.7, out=tmp_path)
    )
    assert READER.read(folder).streams[0].time.t_s[-1] <= 0.7
    with pytest.raises(SourceError, match="longer than no time"):
        record_session(RecordingAsked(specimen="alder", script=SCRIPT, source="synthetic", seconds=0.0, out=tmp_path))


def test_a_replay_keeps_its_script_and_pace_and_can_end_early(tmp_path: Path) -> None:
    first = record_session(
        RecordingAsked(specimen="maple", script="quick", source="synthetic", seconds=2.0, out=tmp_path)
    )
    began_s = time.monotonic()
    given: dict[str, Any] = {"specimen": "maple", "state": "again", "source": "replay", "out": tmp_path}
    again = record_session(RecordingAsked(**given, device=str(first), seconds=0.5))
    assert time.monotonic() - began_s >= 0.4
    assert SessionHeader.read(again).script == "quick"
    t_s = READER.read(again).streams[0].time.t_s
    assert t_s[-1] - t_s[0] <= 0.5
    with pytest.raises(SourceError, match="needs a session to play"):
        record_session(RecordingAsked(**given))


def test_a_stop_names_its_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Scripted, "batches", ([ROW], KeyboardInterrupt()))
    with pytest.raises(RecordingStopped, match=r"(?s)Stopped by Ctrl-C.*kept.*alder_as_found") as stopped:
        record_session(RecordingAsked(specimen="alder", script=SCRIPT, source="scripted", out=tmp_path))
    assert stopped.value.folder == tmp_path / "alder_as_found"
    assert str(RecordingStopped(tmp_path, asked=True)).startswith("Ended as you asked")


def test_a_stop_while_the_header_is_written_leaves_no_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(SessionHeader, "write", stopped)
    with pytest.raises(KeyboardInterrupt):
        record_session(RecordingAsked(specimen="alder", script=SCRIPT, source="scripted", out=tmp_path))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("wrong", [{"seconds": math.inf}, {"seconds": math.nan}, {"seed": -1}])
def test_impossible_numbers_are_told(tmp_path: Path, wrong: dict[str, Any]) -> None:
    with pytest.raises(SourceError, match=r"longer than no time|not negative"):
        record_session(RecordingAsked(specimen="alder", script=SCRIPT, source="synthetic", out=tmp_path, **wrong))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("problem", [KeyboardInterrupt(), SourceError("The pad fell silent.", {"a": 1}, "Plug it in.")])
def test_what_was_recorded_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, problem: BaseException) -> None:
    monkeypatch.setattr(Scripted, "batches", ([ROW], problem))
    with pytest.raises(type(problem)):
        record_session(RecordingAsked(specimen="alder", script=SCRIPT, source="scripted", out=tmp_path))
    recording = READER.read(tmp_path / "alder_as_found")
    assert recording.stream("left_x").codes.tolist() == [1]
    assert not recording.provenance.complete
    header = json.loads((tmp_path / "alder_as_found" / "datapackage.json").read_text())
    assert header["feelcheck"]["recording"] == "interrupted"


def test_a_full_disk_is_one_clear_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: EventLog, data: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Scripted, "batches", ([ROW],))
    monkeypatch.setattr(EventLog, "_write", full)
    with pytest.raises(SourceError, match=r"(?s)cannot be written.*No space left.*Make room"):
        record_session(RecordingAsked(specimen="alder", script=SCRIPT, source="scripted", out=tmp_path))


def test_a_disk_that_is_full_from_the_start_gets_no_empty_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Scripted, "batches", ([ROW],))
    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(SourceError, match=r"(?s)cannot be written.*No space left"):
        record_session(RecordingAsked(specimen="alder", script=SCRIPT, source="scripted", out=tmp_path))
    assert list(tmp_path.iterdir()) == []


def test_a_wrong_request_makes_no_folder(tmp_path: Path) -> None:
    given: dict[str, Any] = {"specimen": "alder", "script": SCRIPT, "out": tmp_path}
    with pytest.raises(PluginError, match=r"(?s)no plugin of that name.*known: auto.*replay"):
        record_session(RecordingAsked(source="telepathy", **given))
    with pytest.raises(PluginError, match="must be a SourceKind"):
        record_session(RecordingAsked(source="number", **given))
    with pytest.raises(SourceError, match="no simulated world"):
        record_session(RecordingAsked(source="synthetic", simulate="oak tree", **given))
    with pytest.raises(FormatError, match="needs a letter"):
        record_session(RecordingAsked(source="synthetic", **{**given, "specimen": "!!"}))
    with pytest.raises(FormatError, match="no flick script"):
        record_session(RecordingAsked(source="synthetic", **{**given, "script": "waltz"}))
    assert list(tmp_path.iterdir()) == []


def test_no_pad_is_told_by_the_capture_process(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match=r"No pad.*was found"):
        record_session(
            RecordingAsked(specimen="alder", script=SCRIPT, source="auto", device="no such pad", out=tmp_path)
        )
    assert list(tmp_path.iterdir()) == []


def test_one_pad_is_told_alone() -> None:
    assert which_pad({"device": "cedar pad", "other_pads": ""}) == "Pad: cedar pad."
    assert which_pad({}) == "Pad: a pad without a name."


def test_a_capture_process_that_breaks_says_its_last_words() -> None:
    options = {**asdict(SourceOptions(script=SCRIPT)), "script": script_to_wire(SCRIPT)}
    child = CaptureChild({"kind": "math:pi", "options": options, "cues": [], "limit_ns": 1})
    try:
        with pytest.raises(SourceError, match=r"(?s)ended by itself.*TypeError: math:pi is no SourceKind"):
            child.listen(60.0)
    finally:
        child.close()
    assert source_kind("feelcheck.sources.kinds:VIRTUAL").name == "virtual"
