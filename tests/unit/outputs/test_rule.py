"""Nothing is destroyed by a wrong name: what an output may replace, and that it is replaced whole or not at all."""

from __future__ import annotations

import errno
import itertools
import os
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from matplotlib.figure import Figure

from feelcheck.errors import OutputError
from feelcheck.formats.export import write_wide
from feelcheck.model import Provenance, Recording, Stream, TimeBase
from feelcheck.outputs import (
    BENCH_FIGURE,
    HAND_FIGURE,
    REPORT_PAGE,
    SURVEY_TABLE,
    WIDE_TABLE,
    Form,
    check_apart,
    check_output,
    form_made,
    new_file,
    output,
    replaced,
    vouched,
    voucher,
)
from feelcheck.renderers._saving import save_figure

STREAM = Stream(name="x", time=TimeBase.from_instants([0.0, 1.0]), codes=pd.array([1, 2]).to_numpy("int64"))
RECORDING = Recording(streams=(STREAM,), provenance=Provenance())
PAGE = f'<!doctype html>\n<meta name="generator" content="{REPORT_PAGE.mark}">\n'
BOOK, PRINT = Form("wide book", (".xlsx",)), Form("print", (".pdf",))


def _figure(path: Path) -> None:
    save_figure(Figure(figsize=(1, 1)), path, HAND_FIGURE)


def _book(path: Path) -> None:
    book = openpyxl.Workbook()
    book.properties.creator = BOOK.mark
    book.save(path)


def _print(path: Path) -> None:
    Figure(figsize=(1, 1)).savefig(path, metadata={"Creator": PRINT.mark})


@pytest.mark.parametrize(
    ("name", "form", "write"),
    [
        ("a.png", HAND_FIGURE, _figure),
        ("a.svg", HAND_FIGURE, _figure),
        ("a.PNG", HAND_FIGURE, _figure),
        ("a.parquet", WIDE_TABLE, lambda path: write_wide(RECORDING, path)),
        ("a.html", REPORT_PAGE, lambda path: path.write_text(PAGE)),
        ("a.xlsx", BOOK, _book),
        ("a.pdf", PRINT, _print),
    ],
)
def test_an_older_output_is_known_by_its_mark_and_any_other_file_is_not(
    tmp_path: Path, name: str, form: Form, write: Callable[[Path], Any]
) -> None:
    path = tmp_path / name
    write(path)
    assert form_made(path) == form.name
    assert check_output(path, form) == path.resolve()
    other = Form("something else", (path.suffix.lower(),))
    with pytest.raises(OutputError, match=rf"(?s)something else replaces nothing but.*a {form.name} made by feelcheck"):
        check_output(path, other)
    data = path.read_bytes()
    for foreign in (data.replace(b"feelcheck", b"somebody_"), b"", form.mark.encode(), b"t;x\n0;1\n"):
        if path.suffix == ".xlsx" and foreign.startswith(b"PK"):
            continue
        path.write_bytes(foreign)
        with pytest.raises(OutputError, match="a file that feelcheck did not make"):
            check_output(path, form, overwrite=True)
        assert path.read_bytes() == foreign


def test_a_broken_workbook_bears_no_mark(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(b"PK\x03\x04" + bytes(100))
    assert form_made(tmp_path / "a.xlsx") == ""


def test_a_table_that_cannot_bear_a_mark_is_replaced_only_when_told(tmp_path: Path) -> None:
    table = tmp_path / "a.csv"
    table.write_text("t_s,x\n")
    with pytest.raises(OutputError, match=r"(?s)size: 6 bytes.*--overwrite"):
        check_output(table, WIDE_TABLE)
    assert check_output(table, WIDE_TABLE, overwrite=True) == table.resolve()
    for form, foreign in itertools.product((WIDE_TABLE, SURVEY_TABLE), ("t;x\n", "Time;CH1\n", "t_s", "paths,x\n")):
        table.write_text(foreign)
        with pytest.raises(OutputError, match="a file that feelcheck did not make"):
            check_output(table, form, overwrite=True)


def test_a_page_vouches_for_tables_beside_it_until_they_are_changed(tmp_path: Path) -> None:
    table, page = tmp_path / "a.csv", tmp_path / "report.html"
    table.write_text("t_s,b\n")
    assert not vouched(table)
    page.write_text(PAGE + f'<meta name="tables" content="{voucher([table])}">')
    assert check_output(table, WIDE_TABLE) == table.resolve()
    table.write_text("t_s,b\nmy own note\n")
    with pytest.raises(OutputError, match="--overwrite"):
        check_output(table, WIDE_TABLE)
    table.write_text("t_s,b\n")
    page.write_text(page.read_text().replace("Made by", "Not made by me:"))
    assert not vouched(table)


def test_what_is_read_is_never_replaced_however_it_is_spelt(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = tmp_path / "log.csv"
    log.write_text("t;x\n")
    (tmp_path / "soft.csv").symlink_to(log)
    os.link(log, tmp_path / "hard.csv")
    (tmp_path / "sub").mkdir()
    monkeypatch.chdir(tmp_path)
    spellings = ["log.csv", "./log.csv", "sub/../log.csv", str(log), "soft.csv", "hard.csv", "sub//..//log.csv"]
    for spelt in spellings:
        with pytest.raises(OutputError, match="never replaces what it is made from"):
            check_output(Path(spelt), WIDE_TABLE, inputs=[log], overwrite=True)
    with pytest.raises(OutputError, match=r"(?s)never replaces what it is made from.*folder read"):
        check_output(log, WIDE_TABLE, inputs=[tmp_path], overwrite=True)
    assert check_output(Path("other.csv"), WIDE_TABLE, inputs=[log, tmp_path]) == tmp_path.resolve() / "other.csv"


@pytest.mark.parametrize("name", ["events.csv", "EVENTS.CSV"])
@pytest.mark.parametrize("there", ["datapackage.json", "events.csv"])
def test_a_session_is_never_written_into(tmp_path: Path, name: str, there: str) -> None:
    (tmp_path / there).write_text("x")
    with pytest.raises(OutputError, match="a file of a recorded session"):
        check_output(tmp_path / name, WIDE_TABLE, overwrite=True)


def test_names_that_lead_nowhere_are_refused_before_the_work(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "record.toml").write_text("specimen = 'alder'\n")
    (tmp_path / "link.csv").symlink_to(tmp_path / "record.toml")
    (tmp_path / "loop.csv").symlink_to(tmp_path / "loop.csv")
    for name, words in {
        "pipe.csv": "no plain file",
        "folder.csv": "not of a folder",
        "link.csv": "written as CSV",
        "a.txt": r"(?s)written as CSV or Parquet.*got: a.txt",
        "nowhere/a.csv": "existing folder",
        "record.toml/a.csv": "existing folder",
        "loop.csv": "no plain file|symbolic links",
        "a" * 300 + ".csv": "File name too long",
        "a\0.csv": "null (byte|character)",
    }.items():
        with pytest.raises(OutputError, match=words) as refusal:
            check_output(tmp_path / name, WIDE_TABLE, overwrite=True)
        assert str(refusal.value).count("Next: ") == 1
    with pytest.raises(OutputError, match="file of its own"):
        check_apart([tmp_path / "a.csv", tmp_path / "folder.csv" / ".." / "a.csv"])
    check_apart([tmp_path / "a.csv", tmp_path / "b.csv"])


def test_a_link_stays_and_what_it_leads_to_is_replaced_with_its_permissions(tmp_path: Path) -> None:
    real, link = tmp_path / "real.csv", tmp_path / "link.csv"
    real.write_text("t_s,old")
    real.chmod(0o640)
    link.symlink_to("real.csv")
    with output(link, WIDE_TABLE, overwrite=True) as stream:
        stream.write(b"new")
    assert link.is_symlink()
    assert real.read_text() == "new"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link.csv", "real.csv"]


def test_a_new_file_gets_the_permissions_of_any_new_file(tmp_path: Path) -> None:
    (tmp_path / "plain").touch()
    with replaced(tmp_path / "ours") as stream:
        stream.write(b"x")
    assert (tmp_path / "ours").stat().st_mode == (tmp_path / "plain").stat().st_mode


@pytest.mark.parametrize("where", ["fsync", "write"])
def test_a_full_disk_leaves_the_old_file_whole_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    old = tmp_path / "a.csv"
    old.write_text("t_s,old")
    if where == "fsync":
        monkeypatch.setattr(os, "fsync", full)

    def write() -> None:
        with output(old, WIDE_TABLE, overwrite=True) as stream:
            stream.write(b"new" * 1000)
            if where == "write":
                full()

    with pytest.raises(OutputError, match=r"(?s)wide table cannot be written.*a\.csv.*No space left"):
        write()
    assert old.read_text() == "t_s,old"
    assert list(tmp_path.iterdir()) == [old]


def test_a_failure_of_the_maker_leaves_the_old_file_too(tmp_path: Path) -> None:
    old = tmp_path / "a.csv"
    old.write_text("t_s,old")

    def write() -> None:
        with output(old, WIDE_TABLE, overwrite=True):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write()
    assert old.read_text() == "t_s,old"
    assert list(tmp_path.iterdir()) == [old]


def test_a_new_file_never_replaces_one_that_came_meanwhile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "alder.toml"

    def write(name: str) -> None:
        with new_file(tmp_path / name) as stream:
            stream.write(b"mine")
            (tmp_path / name).write_text("theirs")

    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    with pytest.raises(FileExistsError):
        write("alder.toml")
    monkeypatch.setattr(os, "link", no_links)
    with pytest.raises(FileExistsError):
        write("birch.toml")
    assert path.read_text() == "theirs"
    with new_file(tmp_path / "cedar.toml") as stream:
        stream.write(b"new")
    assert (tmp_path / "cedar.toml").read_text() == "new"
    assert len(list(tmp_path.iterdir())) == 3


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_what_is_protected_against_writing_stays(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("kept")
    path.chmod(0o444)
    with pytest.raises(OutputError, match="protected against writing"):
        check_output(path, WIDE_TABLE, overwrite=True)
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(OutputError, match="folder that you may write to"):
            check_output(tmp_path / "new.png", BENCH_FIGURE)
    finally:
        tmp_path.chmod(0o755)
