"""The sessions in a folder, without reading their events."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.session_header import RecordingState, SessionHeader, new_session_folder, read_header
from feelcheck.formats.session_log import EventLog
from feelcheck.formats.session_shelf import close_session, last_session, sessions_on_shelf

HEADER = SessionHeader(
    specimen="rowan",
    state="as_found",
    script="quick",
    source="gamepad",
    device={
        "name": "pad",
        "simulated": False,
        "clock": {"kind": "host", "start_ns": 12},
        "axes": [{"name": "left_x"}],
        "truth": {"tau_ms": 4.7},
    },
    started="2026-03-01T10:00:00+00:00",
    tool_version="1",
    operator="Kim",
    facts={"cap": "tall"},
    capture={"n_rows": 3},
)


def _shelve(shelf: Path, *, minute: int, recording: RecordingState = "complete", specimen: str = "rowan") -> Path:
    folder = new_session_folder(shelf, specimen, "as_found")
    started = f"2026-03-01T10:{minute:02d}:00+00:00"
    replace(HEADER, specimen=specimen, started=started, recording=recording).write(folder)
    log = EventLog(folder / "events.csv")
    log.close()
    os.utime(folder / "events.csv", (1000.0, 1000.0))
    return folder


def test_a_header_reads_back_as_it_was_written(tmp_path: Path) -> None:
    HEADER.write(tmp_path)
    again = SessionHeader.read(tmp_path)
    assert again.document() == HEADER.document()
    again.write(tmp_path)
    assert read_header(tmp_path)["truth"] == {"tau_ms": 4.7}
    assert read_header(tmp_path)["started"] == HEADER.started


def test_the_oldest_comes_first_whatever_the_folders_are_called(tmp_path: Path) -> None:
    late, early = _shelve(tmp_path, minute=9), _shelve(tmp_path, minute=2)
    (tmp_path / "not_a_session").mkdir()
    (tmp_path / "note.txt").write_text("spare caps in the drawer")
    assert [session.folder for session in sessions_on_shelf(tmp_path)] == [early, late]
    assert [session.folder for session in sessions_on_shelf(late)] == [late]
    assert sessions_on_shelf(tmp_path)[0].n_bytes > 0


def test_the_last_session_of_a_specimen(tmp_path: Path) -> None:
    _shelve(tmp_path, minute=2)
    late = _shelve(tmp_path, minute=5)
    _shelve(tmp_path, minute=8, specimen="hazel")
    found = last_session(tmp_path, specimen="rowan", simulated=False)
    assert found is not None
    assert found.folder == late
    assert last_session(tmp_path, specimen="yew", simulated=False) is None
    assert last_session(tmp_path / "nowhere", specimen="rowan", simulated=False) is None
    assert last_session(tmp_path, specimen="rowan", simulated=True) is None


@pytest.mark.parametrize("recording", ["recording", "interrupted"])
def test_an_unfinished_session_is_closed_once(tmp_path: Path, recording: RecordingState) -> None:
    folder = _shelve(tmp_path, minute=1, recording=recording)
    assert sessions_on_shelf(tmp_path)[0].unfinished
    close_session(folder)
    assert not sessions_on_shelf(tmp_path)[0].unfinished
    with pytest.raises(FormatError, match="Only an unfinished session"):
        close_session(folder)


def test_a_session_being_written_is_left_alone(tmp_path: Path) -> None:
    folder = _shelve(tmp_path, minute=1, recording="recording")
    os.utime(folder / "events.csv")
    assert sessions_on_shelf(tmp_path)[0].running
    with pytest.raises(FormatError, match="being written now"):
        close_session(folder)


def test_no_folder_is_one_clear_message(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="no such folder of sessions"):
        sessions_on_shelf(tmp_path / "nowhere")
