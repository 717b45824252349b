"""A folder of sessions, logs and captures becomes a table and a page; nothing is measured twice or lost."""

from __future__ import annotations

import csv
import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

import feelcheck
from feelcheck import pipeline
from feelcheck.cli import app
from feelcheck.errors import FormatError, OutputError
from feelcheck.formats.survey_table import read_survey
from feelcheck.outputs import Journal
from feelcheck.pipeline import _survey
from feelcheck.survey import Found, engine_of, find_files
from feelcheck.survey.row_journal import RowJournal

TREES = ("alder", "birch", "cedar", "elm", "fir", "hazel")


def write_capture(path: Path, tau_ms: float, seed: int = 0) -> None:
    """A pole behind a step of the coil current, 300 samples."""
    k = np.arange(300)
    rising = np.where(k < 60, 0.0, 1.0 - np.exp(-(k - 60) / (5 * tau_ms)))
    noisy = np.round(rising + np.random.default_rng(seed).normal(0.0, 0.002, k.size), 4)
    frame = pd.DataFrame({"t (ms)": k / 5, "coil (A)": (k >= 60) * 1.0, "output (V)": noisy})
    frame.to_csv(path, index=False)


def write_log(path: Path) -> None:
    k = np.arange(800)
    x, y = np.round(30000 * np.sin(k * 0.05)), np.round(20000 * np.cos(k * 0.03))
    pd.DataFrame({"time_ms": 4 * k, "x": x.astype(int), "y": y.astype(int)}).to_csv(path, index=False)


def write_session(path: Path) -> None:
    path.mkdir()
    x = np.round(30000 * np.sin(np.arange(600) * 0.05)).astype(int)
    rows = "".join(f"{4_000_000 * k},{4_000_000 * k},axis,left_x,{code},.\n" for k, code in enumerate(x))
    (path / "events.csv").write_text("t_lo_ns,t_hi_ns,kind,name,value,end\n" + rows)
    own: dict[str, Any] = {
        "schema": "feelcheck.session/1",
        "specimen": "rowan",
        "state": "as_found",
        "recording": "interrupted",
    }
    own |= {"started": "2026-05-01T10:00:00+00:00", "facts": {"batch": "spring"}, "simulated": False}
    (path / "datapackage.json").write_text(json.dumps({"name": "rowan", "feelcheck": own}))


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """Three captures, a log, a broken-off session, a bad file, and what is none of ours."""
    shelf = tmp_path / "shelf"
    (shelf / "march").mkdir(parents=True)
    for k, name in enumerate(TREES[:3]):
        write_capture(shelf / "march" / f"{name}.csv", 2.0 + 0.3 * k, seed=k)
    write_log(shelf / "oak.csv")
    write_session(shelf / "rowan_as_found")
    (shelf / "bad.csv").write_text("The pad came back on Tuesday.\n" * 5)
    (shelf / "picture.bin").write_bytes(bytes(range(256)) * 40)
    (shelf / "coil.py").write_text(
        "COIL_A, SENSOR_V = parse(\n" + "    1.0, 2.0,\n" * 9 + ")\n" + "def step(): ...\n" * 20
    )
    (shelf / ".hidden.csv").write_text("1,2\n")
    return shelf


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as stream:
        return list(csv.DictReader(stream))


def test_everything_is_recognised_and_a_bad_file_is_a_row(shelf: Path, tmp_path: Path) -> None:
    run = CliRunner().invoke(app, ["survey", str(shelf), "--out", str(tmp_path / "t.csv"), "--jobs", "1"])
    assert run.exit_code == 0, run.output
    rows = rows_of(tmp_path / "t.csv")
    kinds = {Path(row["path"]).name: row["kind"] for row in rows}
    assert {name for name, kind in kinds.items() if kind == "capture"} == {f"{name}.csv" for name in TREES[:3]}
    assert (kinds["oak.csv"], kinds["rowan_as_found"]) == ("log", "session")
    assert not {"picture.bin", "coil.py"} & set(kinds)
    assert ".hidden.csv" not in kinds
    cedar = next(row for row in rows if row["path"].endswith("cedar.csv"))
    assert (cedar["direction"], cedar["batch"], cedar["reason"]) == ("rising", "march", "")
    assert float(cedar["smoothing_delay_ms"]) == pytest.approx(2.6, rel=0.02)
    assert float(cedar["smoothing_delay_low"]) < 2.6 < float(cedar["smoothing_delay_high"])
    assert cedar["smoothing_delay_status"] == "ok"
    (bad,) = (row for row in rows if row["path"].endswith("bad.csv"))
    assert "rows of numbers" in bad["reason"]
    rowan = [row for row in rows if row["kind"] == "session"]
    assert [(row["axis"], row["direction"]) for row in rowan] == [("left_x", "falling"), ("left_x", "rising")]
    assert {(row["specimen"], row["batch"], row["complete"]) for row in rowan} == {("rowan", "spring", "False")}
    assert rowan[0]["recorded"] == "2026-05-01T10:00:00+00:00"
    assert rows == sorted(rows, key=lambda row: (row["path"], row["axis"], row["direction"]))
    page = (tmp_path / "t.html").read_text()
    assert "rowan_as_found" in page
    assert "smoothing delay, rising" in page
    assert "<svg" in page
    assert "could not be measured" in run.stdout
    assert "2 other files passed over" in run.stdout


def test_what_did_not_change_is_not_measured_again(
    shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "t.csv"
    first = feelcheck.survey(shelf, out, jobs=1)
    before = out.read_bytes()
    assert (first.n_measured, first.n_unchanged) == (6, 0)
    measured = []

    def counted(path: str) -> Any:
        measured.append(path)
        return pipeline.bench(path)

    monkeypatch.setattr(_survey, "bench", counted)
    again = feelcheck.survey(shelf, out, jobs=1)
    assert (again.n_measured, again.n_unchanged, measured) == (0, 6, [])
    assert out.read_bytes() == before
    write_capture(shelf / "march" / "cedar.csv", 7.0)
    (shelf / "march" / "birch.csv").unlink()
    assert feelcheck.survey(shelf, out, jobs=1).n_measured == 1
    assert [Path(path).name for path in measured] == ["cedar.csv"]
    assert not [row for row in rows_of(out) if row["path"].endswith("birch.csv")]
    monkeypatch.setattr(_survey, "tool_version", lambda: "another")
    assert feelcheck.survey(shelf, out, jobs=1).n_measured == 5


def test_two_processes_and_parquet_give_the_same_rows(shelf: Path, tmp_path: Path) -> None:
    (shelf / "oak.csv").unlink()
    (shelf / "march" / "birch.csv").unlink()
    feelcheck.survey(shelf, tmp_path / "one.csv", jobs=1)
    result = feelcheck.survey(shelf, tmp_path / "two.parquet", jobs=2)
    assert result.to_frame().to_csv(index=False) == (tmp_path / "one.csv").read_text()
    assert pd.read_parquet(tmp_path / "two.parquet").to_csv(index=False) == (tmp_path / "one.csv").read_text()
    assert read_survey(tmp_path / "two.parquet") == read_survey(tmp_path / "one.csv")


@pytest.fixture
def bad_shelf(tmp_path: Path) -> Path:
    """Six files that nobody can read: quick to measure."""
    (tmp_path / "bad").mkdir()
    for name in TREES:
        (tmp_path / "bad" / f"{name}.txt").write_text(f"The {name} pad came back on Tuesday.\n")
    return tmp_path / "bad"


def test_ctrl_c_keeps_what_is_done(bad_shelf: Path, tmp_path: Path) -> None:
    out, seen = tmp_path / "t.csv", []

    def stop_after_three(now: Any) -> None:
        seen.append(now)
        if now.done == 3:
            raise KeyboardInterrupt

    result = feelcheck.survey(bad_shelf, out, jobs=1, progress=stop_after_three)
    assert result.interrupted
    assert result.n_left == 3
    assert len(rows_of(out)) == 3
    assert "broken off" in (tmp_path / "t.html").read_text()
    assert seen[1].left_s is not None
    rest = feelcheck.survey(bad_shelf, out, jobs=1)
    assert (rest.n_unchanged, rest.n_measured, rest.n_left) == (3, 3, 0)


def test_what_no_disk_should_hold_ends_no_survey(
    bad_shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A link to itself, a spoilt header, a folder that nobody may look into, a name that is no text."""
    (bad_shelf / "circle").symlink_to("circle")
    write_session(bad_shelf / "hazel_found")
    (bad_shelf / "hazel_found" / "datapackage.json").write_text("{")
    (bad_shelf / "locked").mkdir()
    Path(os.fsdecode(os.fsencode(bad_shelf) + b"/oak\xff.csv")).write_text("no table\n")
    look = os.scandir

    def refusing(folder: Any) -> Any:
        if Path(folder).name == "locked":
            raise PermissionError(13, "Permission denied")
        return look(folder)

    monkeypatch.setattr(os, "scandir", refusing)
    feelcheck.survey(bad_shelf, tmp_path / "t.csv", jobs=1)
    reasons = {Path(row["path"]).name: row["reason"] for row in rows_of(tmp_path / "t.csv")}
    assert reasons.keys() == {*(f"{name}.txt" for name in TREES), "hazel_found", "locked", "oak\\udcff.csv"}
    assert all(reasons.values())


class KilledError(BaseException):
    """The end of a process, as far as files are concerned."""


def test_a_kill_keeps_what_is_done(bad_shelf: Path, tmp_path: Path) -> None:
    out = tmp_path / "t.csv"

    def kill_after_three(now: Any) -> None:
        if now.done == 3:
            raise KilledError

    with pytest.raises(KilledError):
        feelcheck.survey(bad_shelf, out, jobs=1, progress=kill_after_three)
    journal = Path(f"{out}.progress")
    journal.write_text(journal.read_text() + '[{"path": "torn')
    assert not out.exists()
    names = [line for line in journal.read_text().splitlines() if '"names"' in line]
    assert len(names) == len(set(names)) < 3
    rest = feelcheck.survey(bad_shelf, out, jobs=1)
    assert (rest.n_unchanged, rest.n_measured, rest.n_left) == (3, 3, 0)
    assert not journal.exists()


def test_a_journal_gives_its_rows_back_and_passes_over_what_nobody_named(tmp_path: Path) -> None:
    rows: list[dict[str, Any]] = [{"path": "a", "noise_mv": 0.1}, {"path": "b", "reason": "no, µ"}, {"path": "c"}]
    path = tmp_path / "journal"
    for k in (0, 2):
        with Journal(path) as opened:
            kept = RowJournal(opened)
            assert list(kept.rows) == rows[:k]
            kept.add(rows[k : k + 2])
    with Journal(path) as opened:
        assert list(RowJournal(opened).rows) == rows
    lines = path.read_text().splitlines()
    path.write_text("\n".join([*lines[:1], *lines[2:], '[{"path": "d"}, [7, "x"], [1]]', ""]))
    with Journal(path) as opened:
        assert list(RowJournal(opened).rows) == rows[1:]


def test_a_process_that_dies_is_a_row(tmp_path: Path) -> None:
    engine = engine_of(jobs=2, n_tasks=6)
    done = sorted(engine.run(_die_of_three, list(range(6)), lambda task: ("lost", task)), key=str)
    assert done == [("done", 0), ("done", 1), ("done", 2), ("done", 4), ("done", 5), ("lost", 3)]


def _die_of_three(task: int) -> tuple[str, int]:
    if task == 3:
        os._exit(1)
    return "done", task


def test_a_fault_of_the_tool_is_a_row(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_survey, "bench", lambda path: 1 / 0)
    path = str(shelf / "march" / "birch.csv")
    done = _survey.measure_file(Found(path=path, batch="", n_bytes=1, named=True), "")
    assert done.reason == "A fault of the tool: ZeroDivisionError: division by zero"
    assert done.rows[0]["sha256"]


def test_foreign_files_stand(bad_shelf: Path, tmp_path: Path) -> None:
    (tmp_path / "mine.csv").write_text("a,b\n1,2\n")
    with pytest.raises(OutputError, match="a file that feelcheck did not make"):
        feelcheck.survey(bad_shelf, tmp_path / "mine.csv")
    (tmp_path / "t.csv.progress").write_text("my notes\n")
    with pytest.raises(OutputError, match="no journal"):
        feelcheck.survey(bad_shelf, tmp_path / "t.csv", jobs=1)
    assert (tmp_path / "t.csv.progress").read_text() == "my notes\n"
    run = CliRunner().invoke(app, ["survey", str(bad_shelf / "nowhere"), "--out", str(tmp_path / "t.csv")])
    assert run.exit_code == 2


def test_its_own_table_inside_the_folder_is_no_log(bad_shelf: Path) -> None:
    out = bad_shelf / "t.csv"
    first = feelcheck.survey(bad_shelf, out, jobs=1)
    feelcheck.survey(bad_shelf, bad_shelf / "u.csv", jobs=1)
    again = feelcheck.survey(bad_shelf, out, jobs=1)
    assert len(again.rows) == len(first.rows)


def test_a_new_capture_is_placed_among_the_old_ones(shelf: Path, tmp_path: Path) -> None:
    for k, name in enumerate(TREES):
        write_capture(shelf / "march" / f"{name}.csv", 2.0 + 0.3 * k, seed=k)
    feelcheck.survey(shelf / "march", tmp_path / "t.csv", jobs=1)
    write_capture(tmp_path / "yew.csv", 3.0)
    run = CliRunner().invoke(app, ["bench", str(tmp_path / "yew.csv"), "--against", str(tmp_path / "t.csv")])
    assert "yew, rising: slower than 67 % (" in run.stdout
    assert "of your 6 sticks" in run.stdout
    told = CliRunner().invoke(app, ["bench", str(tmp_path / "yew.csv"), "--against", str(tmp_path / "t.csv"), "--json"])
    placed = json.loads(told.stdout)["population"][0]
    assert placed["share"] == pytest.approx(4 / 6)
    assert placed["low"] < 0.67 < placed["high"]
    with pytest.raises(FormatError, match="no table of a survey"):
        read_survey(shelf / "oak.csv")


def test_finding_takes_each_once_and_names_batches(shelf: Path) -> None:
    found = find_files([shelf, shelf / "march"])
    assert len(found) == len({one.path for one in found}) == 8
    assert {one.batch for one in found} == {"", "march"}
    with pytest.raises(FormatError, match="no such file"):
        find_files([shelf / "nowhere"])
