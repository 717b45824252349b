"""The shelf of sessions, what a new one is held against, and what is noted of its quality."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from feelcheck.comparison import quick
from feelcheck.errors import FormatError, NotComparableError
from feelcheck.formats.session_header import SessionHeader
from feelcheck.formats.session_log import EVENTS_FILE, EventLog
from feelcheck.model import BenchRecord, Estimate, HandRecord, Profile, QuickChange
from feelcheck.pipeline import _sessions
from feelcheck.pipeline._measuring import Measurements
from feelcheck.pipeline._prediction import file_at_hand, latest_session, recorded_tails
from feelcheck.pipeline._sessions import close_session, note_capture, quick_answer, sessions
from feelcheck.pipeline._specimens import Specimen

DEVICE: dict[str, Any] = {
    "device": "pad", "axes": [{"name": "left_x", "index": 0, "stick": "left"}],
    "clock": {"kind": "host", "name": "perf_counter_ns", "start_ns": 0},
}  # fmt: skip


def session(shelf: Path, name: str, *, day: int, n_rows: int = 60, **more: Any) -> Path:
    """A session of one axis, its brackets 0.2 ms wide, begun on that day."""
    told: dict[str, Any] = {
        "specimen": "elm", "state": "as_found", "script": "quick", "source": "gamepad", "device": DEVICE,
        "started": f"2026-11-{day:02}T10:00:00+01:00", "tool_version": "0", "recording": "complete", **more,
    }  # fmt: skip
    folder = shelf / name
    folder.mkdir()
    SessionHeader(**told).write(folder)
    log = EventLog(folder / EVENTS_FILE)
    log.add([(4_000_000 * k - 200_000, 4_000_000 * k, "axis", "left_x", 3 * k) for k in range(1, n_rows + 1)])
    log.flush()
    log.close()
    return folder


def test_a_shelf_lists_its_sessions_from_the_oldest_on(tmp_path: Path) -> None:
    for name, day, recording in (("b", 2, "complete"), ("a", 3, "interrupted"), ("c", 1, "closed")):
        session(tmp_path, name, day=day, recording=recording)
    (tmp_path / "pictures").mkdir()
    assert [found.folder.name for found in sessions(tmp_path)] == ["c", "b", "a"]
    assert [found.folder.name for found in sessions(tmp_path, unfinished_only=True)] == ["a"]
    with pytest.raises(FormatError, match="no such folder of sessions"):
        sessions(tmp_path / "nowhere")


def test_only_what_was_left_can_be_closed(tmp_path: Path) -> None:
    left = session(tmp_path, "left", day=1, recording="interrupted")
    close_session(left)
    assert SessionHeader.read(left).recording == "closed"
    with pytest.raises(FormatError, match=r"(?s)Only an unfinished session can be closed.*recording: closed"):
        close_session(left)


def test_quality_is_noted_in_the_header_and_said(tmp_path: Path) -> None:
    folder = session(tmp_path, "s", day=1)
    said = note_capture(folder)
    noted = SessionHeader.read(folder).capture
    assert said.startswith("60 rows; 99 of 100 instants are known to 0.2 ms")
    assert (noted["n_rows"], noted["bracket_p99_ms"]) == (60, pytest.approx(0.2))


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Which sessions were measured against each other, the older first."""
    pairs: list[list[str]] = []
    nothing = Estimate.not_resolved("d", unit="s")
    change = QuickChange(axis="left_x", direction="rising", before=nothing, now=nothing, difference=nothing)

    def changes(*records: str) -> tuple[QuickChange, ...]:
        pairs.append(list(records))
        return (change,)

    monkeypatch.setattr(_sessions, "analyze", lambda path: path)
    monkeypatch.setattr(_sessions, "hand_record_of", lambda path: path.name)
    monkeypatch.setattr(quick, "quick_changes", changes)
    return pairs


def test_a_new_session_is_held_against_the_last_one_of_another_state(tmp_path: Path, held: list[list[str]]) -> None:
    session(tmp_path, "old", day=1)
    session(tmp_path, "found", day=2)
    session(tmp_path, "lifted", day=3, state="c3_lifted")
    new = session(tmp_path, "lifted_2", day=4, state="c3_lifted")
    told: list[str] = []
    assert len(quick_answer(new, tell=told.append)) == 1
    assert held == [["found", "lifted_2"]]
    assert told == ["Held against found (as_found, 2026-11-02T10:00:00+01:00)."]


def test_without_another_state_it_is_held_against_the_same(tmp_path: Path, held: list[list[str]]) -> None:
    for name, day in (("one", 1), ("two", 2)):
        session(tmp_path, name, day=day)
    quick_answer(session(tmp_path, "three", day=3))
    assert held == [["two", "three"]]


@pytest.mark.parametrize(
    "unlike",
    [
        {"specimen": "oak"},
        {"script": "default"},
        {"recording": "interrupted"},
        {"device": {**DEVICE, "simulated": True}},
    ],
)
def test_unlike_sessions_are_nothing_to_be_held_against(
    unlike: dict[str, Any], tmp_path: Path, held: list[list[str]]
) -> None:
    session(tmp_path, "other", day=1, **unlike)
    told: list[str] = []
    assert quick_answer(session(tmp_path, "new", day=2), tell=told.append) == ()
    assert held == []
    assert "first quick session of elm" in told[0]


def test_only_quick_sessions_are_answered_at_once(tmp_path: Path, held: list[list[str]]) -> None:
    session(tmp_path, "one", day=1, script="default")
    told: list[str] = []
    assert quick_answer(session(tmp_path, "two", day=2, script="default"), tell=told.append) == ()
    assert (held, told) == ([], [])


def test_sessions_that_cannot_be_compared_are_answered_with_the_reason(
    tmp_path: Path, held: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: Any) -> Any:
        raise NotComparableError("Only like recordings can be compared.", {"cap": "domed against flat"})

    monkeypatch.setattr(quick, "quick_changes", refused)
    session(tmp_path, "one", day=1)
    told: list[str] = []
    assert quick_answer(session(tmp_path, "two", day=2), tell=told.append) == ()
    assert "domed against flat" in told[-1]


def test_a_recording_is_looked_for_as_noted_and_beside_its_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "profiles").mkdir()
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "s1").mkdir()
    found = Specimen(profile=Profile(specimen="elm", path=str(tmp_path / "profiles" / "elm.toml")), state="as_found")
    assert file_at_hand(str(tmp_path / "logs" / "s1"), found) == tmp_path / "logs" / "s1"
    assert file_at_hand("logs/s1", found) == tmp_path / "logs" / "s1"
    assert file_at_hand("logs/gone", found) is None
    assert file_at_hand("", found) is None


def test_without_a_recording_at_hand_there_are_no_tails() -> None:
    bench = BenchRecord(axis="left_x", directions={})
    gone = Profile(specimen="elm", hand=(HandRecord(session="s", path="gone"),), bench=(bench,))
    assert latest_session(Specimen(profile=gone, state="as_found")) is None
    assert recorded_tails([Specimen(profile=gone, state="as_found")], Measurements()) == ()
