"""Two writers lose nothing: every edit that said it was done is there, whoever was killed meanwhile."""

from __future__ import annotations

import random
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from feelcheck.errors import OutputError, ProfileError
from feelcheck.formats.session_header import SessionHeader, header_edited
from feelcheck.model import Part, Profile
from feelcheck.outputs import locked
from feelcheck.profiles import add_part, note_polarity, read_profile, write_profile

WRITER = """
import sys
from feelcheck.profiles import note_polarity
record, name = sys.argv[1:]
for k in range(1000):
    note_polarity(record, f"{name}_{k}", 1)
    print(k, flush=True)
"""
HEADER = SessionHeader(specimen="rowan", state="as_found", script="quick", source="gamepad", device={},
                       started="2026-11-29T10:00:00+00:00", tool_version="1")  # fmt: skip
HOLDER = (
    "import sys, time; from feelcheck.outputs import locked\nwith locked(__import__('pathlib').Path(sys.argv[1])):\n"
)


def _hold(path: Path) -> subprocess.Popen[str]:
    code = HOLDER + "    print('held', flush=True); time.sleep(60)"
    holder = subprocess.Popen([sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE, text=True)
    assert holder.stdout is not None
    holder.stdout.readline()
    return holder


def test_four_writers_some_of_them_killed_lose_no_edit(tmp_path: Path) -> None:
    record = tmp_path / "alder.toml"
    write_profile(Profile(specimen="alder"), record)
    by_chance = random.Random(16)
    done: set[str] = set()
    n_killed = 0
    while len(done) < 100:
        writers = {
            f"w{n_killed}_{k}": subprocess.Popen(
                [sys.executable, "-c", WRITER, str(record), f"w{n_killed}_{k}"], stdout=subprocess.PIPE, text=True
            )
            for k in range(4)
        }
        heard: dict[str, list[str]] = {name: [] for name in writers}
        listeners = [
            threading.Thread(target=heard[name].extend, args=(writer.stdout,)) for name, writer in writers.items()
        ]
        for listener in listeners:
            listener.start()
        deadline = time.monotonic() + 60
        while sum(map(len, heard.values())) < 60 and time.monotonic() < deadline:
            time.sleep(0.01)
        for writer in writers.values():
            time.sleep(by_chance.uniform(0, 0.05))
            writer.kill()
            writer.wait()
            n_killed += 1
        for listener, writer in zip(listeners, writers.values(), strict=True):
            listener.join()
            assert writer.stdout is not None
            writer.stdout.close()
        done |= {f"{name}_{line.strip()}" for name, lines in heard.items() for line in lines}
    kept = set(read_profile(record).polarity)
    assert done <= kept
    assert len(kept - done) <= n_killed, "more was written than was being written when a writer was killed"
    note_polarity(record, "last", 1)
    assert list(tmp_path.iterdir()) == [record]


def test_a_lock_whose_holder_was_killed_is_taken_over_and_said(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    record = tmp_path / "alder.toml"
    write_profile(Profile(specimen="alder"), record)
    holder = _hold(record)
    lock = next(path for path in tmp_path.iterdir() if path.suffix == ".lock")
    draft = tmp_path / f"{lock.stem}-half.new"
    draft.write_text("half written")
    with (
        pytest.raises(OutputError, match=rf"(?s)changed by somebody else.*held by: process {holder.pid} on"),
        locked(record, patience_s=0.2),
    ):
        pytest.fail("the lock was not held")
    holder.kill()
    holder.communicate()
    caplog.clear()
    note_polarity(record, "left_x", -1)
    assert f"process {holder.pid} on" in caplog.text
    assert "taken over" in caplog.text
    assert list(tmp_path.iterdir()) == [record]
    caplog.clear()
    note_polarity(record, "left_y", -1)
    assert not caplog.text


def test_the_same_record_through_a_link_is_one_record(tmp_path: Path) -> None:
    record, link = tmp_path / "alder.toml", tmp_path / "link.toml"
    write_profile(Profile(specimen="alder"), record)
    link.symlink_to("alder.toml")
    with locked(record), pytest.raises(OutputError, match="somebody else"), locked(link, patience_s=0.1):
        pytest.fail("the lock was not held")
    note_polarity(link, "left_x", 1)
    assert link.is_symlink()
    assert read_profile(record).polarity == {"left_x": 1}


def test_there_is_no_lock_where_there_is_no_folder(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError), locked(tmp_path / "nowhere" / "alder.toml"):
        pytest.fail("there is no such folder")
    assert not (tmp_path / "nowhere").exists()


def test_an_edit_that_would_spoil_the_record_is_not_written(tmp_path: Path) -> None:
    record = tmp_path / "alder.toml"
    write_profile(Profile(specimen="alder"), record)
    before = record.read_bytes()
    with pytest.raises(ProfileError, match="not negative"):
        add_part(record, Part(position="c3", role="capacitor", value=1e-6, unit="F", tolerance_fraction=1.5))
    assert record.read_bytes() == before


def test_the_header_of_a_session_keeps_what_others_wrote(tmp_path: Path) -> None:
    HEADER.write(tmp_path)
    path = tmp_path / "datapackage.json"
    path.write_text(path.read_text().replace('"title":', '"licenses": [{"name": "CC0-1.0"}],\n  "title":'))

    def change(key: str) -> None:
        for k in range(20):
            with header_edited(tmp_path) as own:
                own["facts"] = {**own["facts"], f"{key}{k}": "noted"}

    writers = [threading.Thread(target=change, args=(key,)) for key in "abcd"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert len(SessionHeader.read(tmp_path).facts) == 80
    assert "CC0-1.0" in path.read_text()
    assert list(tmp_path.iterdir()) == [path]
