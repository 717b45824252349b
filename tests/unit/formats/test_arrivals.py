"""Which files of a watched folder are finished: by a steady clock that the tests turn."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.arrivals import LATE_S, Arrivals, is_polled, watched

ROWS = "t,v\n" + "".join(f"{k},{k % 7}\n" for k in range(50))


def told(arrivals: Arrivals, now_s: float) -> list[tuple[str, str]]:
    return [(arrival.path.name, arrival.kind) for arrival in arrivals.look(now_s)]


def test_a_file_counts_once_it_has_stood_still(tmp_path: Path) -> None:
    arrivals, file = Arrivals(tmp_path), tmp_path / "a.csv"
    file.write_text(ROWS[:40])
    assert told(arrivals, 0.0) == []
    file.write_text(ROWS)
    assert told(arrivals, 0.9) == []
    assert told(arrivals, 1.8) == [], "only 0.9 s since it last grew"
    assert told(arrivals, 2.0) == [("a.csv", "finished")]
    assert told(arrivals, 3.0) == [], "told once"


def test_a_single_line_without_an_end_is_not_waited_for(tmp_path: Path) -> None:
    arrivals = Arrivals(tmp_path)
    for name, text in (("note.csv", "nothing here"), ("one.csv", "t,v\n1")):
        (tmp_path / name).write_text(text)
    assert told(arrivals, 0.0) == []
    assert told(arrivals, 2.0) == [("note.csv", "finished"), ("one.csv", "finished")]


def test_what_was_there_before_is_left_alone_until_it_changes(tmp_path: Path) -> None:
    (tmp_path / "old.csv").write_text(ROWS)
    arrivals = Arrivals(tmp_path)
    assert (told(arrivals, 0.0), told(arrivals, 5.0)) == ([], [])
    (tmp_path / "old.csv").write_text(ROWS + "50,1\n")
    assert told(arrivals, 6.0) == []
    assert told(arrivals, 7.5) == [("old.csv", "finished")]


def test_a_file_that_goes_on_is_the_same_one_and_an_overwritten_one_is_not(tmp_path: Path) -> None:
    arrivals, file = Arrivals(tmp_path), tmp_path / "a.csv"
    file.write_text(ROWS)
    assert (told(arrivals, 0.0), told(arrivals, 2.0)) == ([], [("a.csv", "finished")])
    file.write_text(ROWS + "50,1\n")
    assert (told(arrivals, 3.0), told(arrivals, 5.0)) == ([], [("a.csv", "grown")])
    file.write_text(ROWS.replace("3,3", "3,4"))
    assert (told(arrivals, 6.0), told(arrivals, 8.0)) == ([], [("a.csv", "finished")])


def test_a_file_that_never_finishes_is_named_once(tmp_path: Path) -> None:
    arrivals, file = Arrivals(tmp_path), tmp_path / "a.csv"
    (tmp_path / "empty.csv").touch()
    reasons = []
    for second in range(int(LATE_S) + 10):
        file.write_text(ROWS[: 10 + second])
        reasons += [(arrival.path.name, arrival.kind, arrival.reason) for arrival in arrivals.look(float(second))]
    assert reasons == [
        ("a.csv", "unfinished", "it is still being written, 40 bytes so far"),
        ("empty.csv", "unfinished", "it is empty"),
    ]
    assert {path.name for path in arrivals.unfinished} == {"a.csv", "empty.csv"}


def test_a_torn_last_row_waits_for_its_end_but_not_for_ever(tmp_path: Path) -> None:
    arrivals, file = Arrivals(tmp_path), tmp_path / "a.csv"
    file.write_text(ROWS + "50")
    assert (told(arrivals, 0.0), told(arrivals, 10.0)) == ([], [])
    (arrival,) = [one for one in arrivals.look(LATE_S + 1) if one.kind == "finished"]
    assert arrival.reason == "it ends inside a row"


@pytest.mark.parametrize("end", ["50,1", "END", "END,\n", ""])
def test_a_last_row_without_an_end_or_a_footer_does_not_hold_a_file_up_for_ever(tmp_path: Path, end: str) -> None:
    arrivals = Arrivals(tmp_path)
    (tmp_path / "a.csv").write_text(ROWS + end)
    arrivals.look(0.0)
    late = LATE_S + 1 if end == "END" else 2.0
    assert told(arrivals, late) == [("a.csv", "finished")]


def test_pictures_hidden_and_temporary_files_and_sessions_are_no_captures(tmp_path: Path) -> None:
    arrivals = Arrivals(tmp_path)
    for name in ("last.png", "page.html", ".hidden.csv", "~lock.csv", "a.csv.part", "b.tmp", "birch.toml"):
        (tmp_path / name).write_text(ROWS)
    session = tmp_path / "alder_as_found"
    session.mkdir()
    (session / "datapackage.json").write_text("{}")
    (session / "events.csv").write_text(ROWS)
    capture = tmp_path / "ALL0001" / "F0001.CSV"
    capture.parent.mkdir()
    capture.write_text(ROWS)
    arrivals.look(0.0)
    assert told(arrivals, 2.0) == [("F0001.CSV", "finished")]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_its_writer_locks_is_waited_for(tmp_path: Path) -> None:
    arrivals, file = Arrivals(tmp_path), tmp_path / "a.csv"
    file.write_text(ROWS)
    file.chmod(0)
    assert (told(arrivals, 0.0), told(arrivals, 5.0)) == ([], [])
    file.chmod(0o600)
    assert told(arrivals, 6.0) == [("a.csv", "finished")]


def test_a_folder_that_went_away_says_nothing_and_only_a_folder_is_watched(tmp_path: Path) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    arrivals = watched(folder)
    folder.rmdir()
    assert told(arrivals, 0.0) == []
    with pytest.raises(FormatError, match="Only a folder can be watched"):
        watched(folder)


def test_shares_and_sticks_are_told_by_the_file_system_they_are_on(tmp_path: Path) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(
        "/dev/sda / ext4 rw 0 0\nhost:/x /mnt/share nfs4 rw 0 0\n/dev/sdb /mnt/my\\040stick vfat rw 0 0\n"
        "sshfs /mnt/far fuse.sshfs rw 0 0\n/dev/sdc /mnt/share/local xfs rw 0 0\n"
    )
    expected = {
        "/srv/bench": False,
        "/mnt/share/a": True,
        "/mnt/share/local/a": False,
        "/mnt/my stick/b": True,
        "/mnt/far": True,
        "/mnt/farther": False,
    }
    assert {name: is_polled(Path(name), str(mounts)) for name in expected} == expected
