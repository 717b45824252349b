"""Signals, full disks, read-only places, closed terminals, removed folders, two recorders, clocks that step.

Each fault is made once in every run; further ways to the same end stand behind the mark ``full``.
"""

from __future__ import annotations

import json
import os
import pty
import shutil
import signal
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import psutil
import pytest
import time_machine
from typer.testing import CliRunner

sys.path.append(str(Path(__file__).parent))

from faults import LINES, PROGRAM, also, away, heeded, recording, until

import feelcheck
from feelcheck.cli import app
from feelcheck.formats.session import READER
from feelcheck.formats.session_shelf import sessions_on_shelf
from feelcheck.outputs import disk_of

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX signals and mounts")
PACKAGE = Path(feelcheck.__file__).parent
SESSION = PACKAGE.parent / "demo_logs" / "alder_as_found"


def _state(folder: Path) -> str:
    return str(json.loads((folder / "datapackage.json").read_text())["feelcheck"]["recording"])


def _kept(folder: Path, said: str, state: str = "interrupted") -> None:
    assert str(folder) in said
    assert "Traceback" not in said
    assert _state(folder) == state
    assert READER.read(folder).streams
    assert sorted(path.name for path in folder.iterdir()) == ["datapackage.json", "events.csv"]


@pytest.mark.parametrize(("name", "code"), [("SIGTERM", 143), also("SIGINT", 130), also("SIGHUP", 129)])
def test_a_signal_keeps_and_says_what_was_recorded(tmp_path: Path, name: str, code: int) -> None:
    program, folder = recording(tmp_path)
    program.send_signal(getattr(signal, name))
    _, said = program.communicate(timeout=120)
    assert program.returncode == code
    assert "What was recorded is kept" in said
    assert f"--resume {folder}" in said
    _kept(folder, said)


@pytest.mark.parametrize("after_s", [0.0, also(0.9)])
def test_a_second_ctrl_c_ends_with_130(tmp_path: Path, after_s: float) -> None:
    program, folder = recording(tmp_path)
    program.send_signal(signal.SIGINT)
    time.sleep(after_s)
    program.send_signal(signal.SIGINT)
    _, said = program.communicate(timeout=120)
    assert program.returncode == 130
    _kept(folder, said)


@pytest.mark.full
def test_an_ignored_hangup_stays_ignored(tmp_path: Path) -> None:
    program, folder = recording(tmp_path, preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN))
    program.send_signal(signal.SIGHUP)
    time.sleep(0.3)
    assert program.poll() is None
    program.send_signal(signal.SIGTERM)
    _kept(folder, program.communicate(timeout=120)[1])


def test_the_systems_end_of_both_processes_is_no_finished_recording(tmp_path: Path) -> None:
    program, folder = recording(tmp_path)
    (child,) = psutil.Process(program.pid).children()
    child.send_signal(signal.SIGTERM)
    _, said = program.communicate(timeout=120)
    assert program.returncode == 2
    assert "asked to end by the system" in said
    _kept(folder, said)


def test_a_terminal_that_is_closed_keeps_the_recording(tmp_path: Path) -> None:
    master, slave = pty.openpty()
    program, folder = recording(
        tmp_path, stdin=slave, stdout=slave, stderr=slave, start_new_session=True, preexec_fn=lambda: _owns(slave)
    )
    os.close(slave)
    os.close(master)
    program.wait(120)
    _kept(folder, str(folder))


def _owns(terminal: int) -> None:
    import fcntl
    import termios

    heeded()

    fcntl.ioctl(terminal, termios.TIOCSCTTY, 0)


def test_a_folder_that_is_removed_while_recording_is_one_clear_error(tmp_path: Path) -> None:
    program, folder = recording(tmp_path)
    shutil.rmtree(folder)
    _, said = program.communicate(timeout=120)
    assert "Traceback" not in said
    assert program.returncode == 2, said
    assert "cannot be written" in said


def test_two_recorders_at_once_keep_apart(tmp_path: Path) -> None:
    first, folder = recording(tmp_path, script="default")
    second = CliRunner().invoke(
        app, ["log", "birch", "--source", "synthetic", "--seconds", "1", "--out", str(tmp_path)]
    )
    assert second.exit_code == 0, second.output
    assert second.stdout.strip() == str(tmp_path / "birch_as_found_2")
    refused = CliRunner().invoke(app, ["sessions", "--close", str(folder)])
    assert refused.exit_code == 2
    assert "being written now" in refused.stderr
    first.send_signal(signal.SIGINT)
    _kept(folder, first.communicate(timeout=120)[1])


def test_a_disk_that_fills_while_recording_is_named(tmp_path: Path) -> None:
    run = away(
        'mount -t tmpfs -o size=32k none "$1"; shift; "$@"',
        [str(tmp_path), *PROGRAM, "log", "birch", "--source", "virtual", "--headless", "--script", "quick", "--out",
         str(tmp_path)],
    )  # fmt: skip
    assert run.returncode == 2, run.stderr
    assert "Traceback" not in run.stderr
    assert "file: None" not in run.stderr
    assert "No space left on device" in run.stderr
    assert f"disk: {tmp_path}, 0 MB free" in run.stderr
    assert "events.csv" in run.stderr


def test_a_disk_that_fills_leaves_older_outputs_and_records_whole(tmp_path: Path) -> None:
    script = """
    mount -t tmpfs -o size=2m none "$1"; cd "$1"; cp -r "$2" S; shift 2
    printf 'version = 1\nspecimen = "alder"\n' > a.toml; printf 't_s,x\n0,1\n' > wide.csv
    cp wide.csv old.csv; cp a.toml old.toml
    dd if=/dev/zero of=filler bs=1k 2>/dev/null || true
    "$@" "export S --out wide.csv --overwrite" "profile part a.toml c3 1u --role capacitor"
    cmp wide.csv old.csv; cmp a.toml old.toml; LC_ALL=C ls -A
    """
    run = away(script, [str(tmp_path), str(SESSION), *LINES])
    assert run.returncode == 0, run.stdout + run.stderr
    assert run.stdout.count("[2]") == run.stdout.count("No space left on device") == 2, run.stdout
    assert "Traceback" not in run.stdout
    assert f"disk: {tmp_path}, 0 MB free" in run.stdout
    assert run.stdout.split()[-6:] == ["S", "a.toml", "filler", "old.csv", "old.toml", "wide.csv"]


def test_a_read_only_folder_is_told_and_read_from(tmp_path: Path) -> None:
    shutil.copytree(SESSION, tmp_path / "S")
    (tmp_path / "a.toml").write_text('version = 1\nspecimen = "alder"\n')
    lines = {
        "sessions .": 0,
        "profile show a.toml": 0,
        "export S --out x.csv": 2,
        "profile part a.toml c3 1u --role capacitor": 2,
        "sessions --close S": 2,
        "profile new oak --folder .": 2,
        "log oak --source synthetic --out .": 2,
    }
    script = 'mount --bind "$1" "$1"; mount -o remount,ro,bind "$1"; cd "$1"; shift; "$@"'
    run = away(script, [str(tmp_path), *LINES, *lines])
    assert run.returncode == 0, run.stderr
    for line, code in lines.items():
        assert f"[{code}] {line}" in run.stdout, run.stdout
    assert "Traceback" not in run.stdout
    assert "file: None" not in run.stdout


@pytest.mark.full
def test_a_read_only_installation_works(tmp_path: Path) -> None:
    script = 'mount --bind "$1" "$1"; mount -o remount,ro,bind "$1"; cd "$2"; shift 2; "$@"'
    lines = [f"export {SESSION} --out x.csv", "plugins", "log oak --source synthetic --seconds 1 --out ."]
    run = away(script, [str(PACKAGE.parent), str(tmp_path), *LINES, *lines])
    assert run.returncode == 0, run.stderr
    assert run.stdout.count("[0]") == 3, run.stdout
    assert (tmp_path / "x.csv").stat().st_size > 1000
    assert (tmp_path / "oak_as_found" / "events.csv").stat().st_size > 1000


MOMENTS = [datetime(year, 3, 1, 3, 14, 8, tzinfo=UTC) for year in (2038, 1970, 2100)]


@pytest.mark.parametrize("moment", [MOMENTS[0], *map(also, MOMENTS[1:])])
def test_a_clock_that_steps_between_sessions_spoils_none(tmp_path: Path, moment: datetime) -> None:
    words = ["log", "alder", "--source", "synthetic", "--seconds", "1", "--out", str(tmp_path)]
    assert CliRunner().invoke(app, words).exit_code == 0
    with time_machine.travel(moment, tick=True):
        run = CliRunner().invoke(app, words)
        assert run.exit_code == 0, run.output
        assert len(sessions_on_shelf(tmp_path)) == 2
    listed = sessions_on_shelf(tmp_path)
    assert len(listed) == 2
    assert [session.started[:4] for session in listed] == sorted(session.started[:4] for session in listed)
    assert all(not session.running for session in listed)


def test_a_clock_that_steps_back_within_a_recording_is_joined_at_a_gap(tmp_path: Path) -> None:
    folder = tmp_path / "S"
    shutil.copytree(SESSION, folder)
    events = folder / "events.csv"
    head, *rows = events.read_text().splitlines(keepends=True)
    stepped = []
    for k, row in enumerate(rows):
        lo, hi, rest = row.split(",", 2)
        back = 3_600_000_000_000 if k > len(rows) // 2 else 0
        stepped.append(f"{max(0, int(lo) - back)},{max(0, int(hi) - back)},{rest}")
    events.write_text(head + "".join(stepped))
    recording_read = READER.read(folder)
    assert all((stream.time.t_s[1:] >= stream.time.t_s[:-1]).all() for stream in recording_read.streams)
    assert any("clock steps back" in remark for remark in recording_read.provenance.remarks)


def test_the_disk_of_a_path_that_is_not_there_yet_is_named(tmp_path: Path) -> None:
    assert "MB free" in disk_of(tmp_path / "a" / "b" / "c.csv")
    assert disk_of(Path("a\0b")) == "unknown"
    until(lambda: True)
