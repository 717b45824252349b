"""A session folder, written and read back, whatever happened to it in between."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.session import READER
from feelcheck.formats.session_header import SessionHeader, folder_name, new_session_folder, read_header
from feelcheck.formats.session_log import EVENTS_FILE, EventLog, sync_file, word
from feelcheck.model import LogReader, SourceEvent

AXES: list[dict[str, Any]] = [
    {"name": "left_x", "index": 0, "stick": "left", "centre": 128, "reach": 127, "polarity": -1},
    {"name": "left_y", "index": 1, "stick": "left", "rises_toward": "down"},
]
HEADER = SessionHeader(
    specimen="alder",
    state="as_found",
    script="default",
    source="virtual",
    device={
        "device": "virtual pad",
        "guid": "ff00",
        "backend": "virtual",
        "hints": {"SDL_JOYSTICK_THREAD": "1"},
        "axes": AXES,
        "clock": {"kind": "host", "name": "perf_counter_ns", "start_ns": 1_000},
        "simulated": True,
        "truth": {"left_x.rising.tau_s": 0.003},
    },
    started="2025-05-01T10:00:00+02:00",
    tool_version="0.1.0",
    operator="Kim",
    facts={"cap": "tall"},
)
ROWS: list[SourceEvent] = [
    (1_000, 1_000, "cue", "flick stick=left direction_deg=45", 0),
    (2_000, 3_000, "axis", "left_x", -5),
    (2_000, 3_000, "axis", "left_y", 7),
    (4_000, 5_000, "button", "left_press", 1),
    (5_000, 6_000, "axis", "left_x", 70_000),
    (7_000, 8_000, "gap", "event queue full", 0),
    (9_000, 9_500, "unplug", "pad", 0),
    (12_000, 12_500, "plug", "pad", 0),
    (13_000, 14_000, "axis", "left_x", 1),
    (14_000, 14_000, "note", "dropped, it seems", 0),
]


def made(folder: Path, rows: list[SourceEvent] = ROWS, header: SessionHeader = HEADER) -> Path:
    folder.mkdir(exist_ok=True)
    header.write(folder)
    log = EventLog(folder / EVENTS_FILE)
    log.add(rows)
    log.flush()
    log.close()
    return folder


def test_everything_comes_back(tmp_path: Path) -> None:
    recording = READER.read(made(tmp_path / "alder", header=replace(HEADER, recording="complete")))
    left_x = recording.stream("left_x")
    assert left_x.codes.tolist() == [-5, 70_000, 1]
    assert left_x.codes.dtype.kind == "i"
    assert left_x.time.t_lo_s.tolist() == pytest.approx([1e-6, 4e-6, 12e-6], rel=1e-12)
    assert left_x.time.t_hi_s.tolist() == pytest.approx([2e-6, 5e-6, 13e-6], rel=1e-12)
    assert (left_x.scale.centre, left_x.scale.reach, left_x.reports, left_x.time.clock) == (
        128.0,
        127.0,
        "on_change",
        "host",
    )
    assert recording.stream("left_y").scale.reach == 32767
    assert [(stick.stick, stick.x, stick.y) for stick in recording.sticks] == [("left", "left_x", "left_y")]
    assert [cue.text for cue in recording.cues] == ["flick stick=left direction_deg=45"]
    assert [(button.name, button.value) for button in recording.buttons] == [("left_press", 1)]
    assert [gap.reason for gap in recording.gaps] == ["event queue full", "unplugged"]
    assert recording.gaps[1].end_s == pytest.approx(11.5e-6)
    assert recording.truth == {"left_x.rising.tau_s": 0.003}


def test_the_header_says_where_it_came_from(tmp_path: Path) -> None:
    origin = READER.read(made(tmp_path / "alder", header=replace(HEADER, recording="complete"))).provenance
    assert (origin.specimen, origin.state, origin.format) == ("alder", "as_found", "session")
    assert origin.simulated
    assert origin.complete
    assert origin.remarks == ()
    assert len(origin.sha256) == 64
    wanted = {"cap": "tall", "operator": "Kim", "backend": "virtual", "script": "default", "left_x.polarity": "-1"}
    assert wanted.items() <= origin.facts.items()


def test_the_header_is_a_data_package_with_a_table_schema(tmp_path: Path) -> None:
    # Frictionless Data Package and Table Schema (specs.frictionlessdata.io): a package names its resources, a tabular
    # resource its path and the name and type of each field, in the order of the columns.
    folder = made(tmp_path / "alder")
    package = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    (resource,) = package["resources"]
    table = pd.read_csv(folder / resource["path"])
    fields = resource["schema"]["fields"]
    assert [field["name"] for field in fields] == list(table.columns)
    assert {field["type"] for field in fields} == {"integer", "string"}
    assert all(table[field["name"]].dtype.kind == "i" for field in fields if field["type"] == "integer")
    assert package["profile"] == "tabular-data-package"
    assert package["name"] == package["name"].lower()
    assert set(table["end"]) == {"."}


def test_plain_pandas_reads_every_row(tmp_path: Path) -> None:
    table = pd.read_csv(made(tmp_path / "alder") / EVENTS_FILE)
    assert table["value"].tolist() == [row[4] for row in ROWS]
    assert table["name"].iloc[-1] == "dropped it seems"


def test_an_unfinished_session_is_read_with_a_remark(tmp_path: Path) -> None:
    origin = READER.read(made(tmp_path / "alder")).provenance
    assert not origin.complete
    assert "not finished" in origin.remarks[-1]


@pytest.mark.parametrize("tail", [b"15000,16000,axis,left_x,2", b"\0\0\0\0", b"15000,16000,axis,left_x,2,.\0\0", b"15"])
def test_a_torn_end_is_dropped_with_a_remark(tmp_path: Path, tail: bytes) -> None:
    folder = made(tmp_path / "alder")
    with (folder / EVENTS_FILE).open("ab") as stream:
        stream.write(tail)
    recording = READER.read(folder)
    assert recording.stream("left_x").codes.tolist() == [-5, 70_000, 1]
    assert "dropped" in recording.provenance.remarks[0]


def test_a_damaged_row_in_the_middle_costs_only_itself(tmp_path: Path) -> None:
    folder = made(tmp_path / "alder")
    text = (folder / EVENTS_FILE).read_text().replace("2000,3000,axis,left_y,7,.", "2000,3x00,axis,left_y,7,.")
    (folder / EVENTS_FILE).write_text(text)
    recording = READER.read(folder)
    assert [stream.name for stream in recording.streams] == ["left_x"]
    assert recording.provenance.remarks[0].startswith("1 torn or damaged row dropped")


def test_line_ends_changed_by_a_mail_program_do_no_harm(tmp_path: Path) -> None:
    folder = made(tmp_path / "alder")
    data = (folder / EVENTS_FILE).read_bytes()
    (folder / EVENTS_FILE).write_bytes(b"\xef\xbb\xbf" + data.replace(b"\n", b"\r\n"))
    assert READER.read(folder).stream("left_x").codes.size == 3


def test_a_log_that_is_continued_keeps_its_torn_row_apart(tmp_path: Path) -> None:
    folder = made(tmp_path / "alder")
    with (folder / EVENTS_FILE).open("ab") as stream:
        stream.write(b"15000,16000,axis,left_x,2")
    made_again = EventLog(folder / EVENTS_FILE)
    made_again.add([(17_000, 18_000, "axis", "left_x", 9)])
    made_again.flush()
    made_again.close()
    assert READER.read(folder).stream("left_x").codes.tolist() == [-5, 70_000, 1, 9]


def test_a_clock_that_starts_again_is_joined_at_a_gap(tmp_path: Path) -> None:
    rows: list[SourceEvent] = [(5_000, 6_000, "axis", "left_x", 1), (50, 70, "axis", "left_x", 2)]
    recording = READER.read(made(tmp_path / "alder", rows=rows))
    assert (recording.stream("left_x").time.t_s * 1e9).tolist() == pytest.approx([5_000, 5_020])
    assert recording.gaps[0].reason == "the clock stepped back"


@pytest.mark.parametrize("rows", [[], [(1_000, 1_000, "cue", "rest", 0)]])
def test_a_session_without_motion_is_too_short(tmp_path: Path, rows: list[SourceEvent]) -> None:
    with pytest.raises(FormatError, match="too short"):
        READER.read(made(tmp_path / "alder", rows=rows))


def test_what_is_missing_is_said(tmp_path: Path) -> None:
    folder = made(tmp_path / "alder")
    (folder / EVENTS_FILE).rename(folder / "other.csv")
    with pytest.raises(FormatError, match=r"holds no events\.csv"):
        READER.read(folder)
    (folder / "other.csv").rename(folder / EVENTS_FILE)
    (folder / "datapackage.json").unlink()
    with pytest.raises(FormatError, match=r"needs its datapackage\.json"):
        READER.read(folder)
    with pytest.raises(FormatError, match="A session is a folder"):
        READER.read(tmp_path)


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("{", "readable JSON"),
        ("[]", "does not describe"),
        ("{}", "does not describe"),
        ('{"feelcheck": {"recording": "lost"}}', "recording, complete, interrupted or closed"),
    ],
)
def test_a_broken_header_is_refused(tmp_path: Path, text: str, match: str) -> None:
    folder = made(tmp_path / "alder")
    (folder / "datapackage.json").write_text(text)
    with pytest.raises(FormatError, match=match):
        read_header(folder)


def test_a_foreign_events_file_is_refused(tmp_path: Path) -> None:
    folder = made(tmp_path / "alder")
    (folder / EVENTS_FILE).write_text("date,event\n2020,fair\n")
    with pytest.raises(FormatError, match="begins with its column names"):
        READER.read(folder)


def test_options_are_not_for_sessions(tmp_path: Path) -> None:
    folder = made(tmp_path / "alder")
    with pytest.raises(FormatError, match="says its times and axes itself"):
        READER.read(folder, time="t_hi_ns")
    assert READER.read(folder, time=None).streams


def test_the_reader_knows_its_own(tmp_path: Path) -> None:
    folder = made(tmp_path / "alder")
    assert isinstance(READER, LogReader)
    assert [READER.claims(folder / name) for name in ("", EVENTS_FILE, "datapackage.json")] == [1.0, 1.0, 1.0]
    (tmp_path / "table.csv").write_text("t_s,x\n0,1\n")
    assert READER.claims(tmp_path / "table.csv") == 0.0
    assert READER.claims(tmp_path) == 0.0
    (folder / "datapackage.json").unlink()
    assert READER.claims(folder) == 0.5


@pytest.mark.parametrize(
    ("specimen", "state", "name"),
    [
        ("alder", "as_found", "alder_as_found"),
        ("../../etc/passwd", "a b", "etc_passwd_a_b"),
        ("CON", "", "CON_"),
        ("Ünnü ½", "", "Ünnü_1_2"),
        ("x" * 300, "", "x" * 60),
    ],
)
def test_labels_become_safe_folder_names(specimen: str, state: str, name: str) -> None:
    assert folder_name(specimen, state) == name


def test_a_label_of_signs_is_refused() -> None:
    with pytest.raises(FormatError, match="needs a letter or a digit"):
        folder_name("../..", "as_found")


def test_an_existing_session_is_never_written_over(tmp_path: Path) -> None:
    names = [new_session_folder(tmp_path, "alder", "as_found").name for _ in range(3)]
    assert names == ["alder_as_found", "alder_as_found_2", "alder_as_found_3"]


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(FormatError, match="kept in a folder"):
        new_session_folder(tmp_path / "file", "alder", "")
    with pytest.raises(FormatError, match="cannot be made"):
        new_session_folder(tmp_path / "file" / "below", "alder", "")


def test_a_full_disk_is_an_os_error_and_words_are_safe(tmp_path: Path) -> None:
    if Path("/dev/full").exists():
        with pytest.raises(OSError, match="No space left"):
            EventLog(Path("/dev/full"))
    assert word("a,b\r\n") == "a b"
    sync_file(made(tmp_path / "alder") / EVENTS_FILE)


def test_a_header_that_finds_no_room_leaves_the_old_one_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = made(tmp_path / "alder")
    before = sorted((path.name, path.read_bytes()) for path in folder.iterdir())

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="No space left"):
        replace(HEADER, recording="complete").write(folder)
    assert sorted((path.name, path.read_bytes()) for path in folder.iterdir()) == before


@pytest.mark.parametrize("stamp_ns", [0, 3 * 10**16])
def test_an_impossible_stamp_is_left_out(stamp_ns: int, tmp_path: Path) -> None:
    t_ns = (10**14 + 1_000_000 * np.arange(400)).tolist()
    t_ns[250] = stamp_ns
    recording = READER.read(made(tmp_path / "birch", [(t, t, "axis", "left_x", k) for k, t in enumerate(t_ns)]))
    t_s = recording.stream("left_x").time.t_s
    assert t_s.size == 399
    assert t_s[-1] - t_s[0] == pytest.approx(0.399)
    assert any("impossible time" in remark for remark in recording.provenance.remarks)


def test_a_session_that_runs_backward_is_refused_at_once(tmp_path: Path) -> None:
    backward: list[SourceEvent] = [(10**9 - k, 10**9 - k, "axis", "left_x", k) for k in range(20_000)]
    with pytest.raises(FormatError, match="must run forward"):
        READER.read(made(tmp_path / "birch", backward))
