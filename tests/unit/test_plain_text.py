"""What leaves the tool runs nowhere: formulas in tables, control characters in terminals, scripts in pages."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import json
import re
import unicodedata
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure
from typer.testing import CliRunner

from feelcheck.cli import app
from feelcheck.formats.export import write_wide
from feelcheck.model import Provenance, Recording, Report, Stream, TimeBase
from feelcheck.outputs import HAND_FIGURE
from feelcheck.pipeline._hand import read_recording as read
from feelcheck.plain_text import harmless, json_escaped, table_cell, table_name
from feelcheck.renderers._saving import save_figure
from feelcheck.renderers.report import report_html
from feelcheck.renderers.report.tables import Cell, Table, table_csv

EVIL = "alder\x1b[2J\x1b]0;owned\x07\u202eredla\u2066\x9b31m\x00"
FORMULAS = ["=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)", "\t=1", '=HYPERLINK("x")', "-x", "|x", "%0", "-1 (=x)"]
TURNING = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
NUMBERS = ["-0.5", "+3", "-1e-5", "-0.5 ms", "-0.5 ms (-0.6 to -0.4)", "12 %", "-3,5", "-1,234.5"]


@given(st.text())
def test_no_text_acts_on_a_terminal_or_turns_a_line_round(text: str) -> None:
    shown = harmless(text)
    assert harmless(shown) == shown
    for character in shown:
        assert character in "\n\t" or unicodedata.category(character) not in ("Cc", "Cs")
        assert unicodedata.bidirectional(character) not in TURNING
    document = json.dumps({"a": text}, ensure_ascii=False)
    assert json.loads(json_escaped(document)) == {"a": text}
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", json_escaped(document))


@given(st.text() | st.sampled_from(FORMULAS) | st.builds("".join, st.tuples(st.sampled_from("=+-@|%' "), st.text())))
def test_no_cell_begins_as_a_formula_and_every_name_comes_back(text: str) -> None:
    cell = table_cell(text)
    assert table_name(cell) == harmless(text)
    if cell.lstrip()[:1] in set("=+-@|%"):
        assert re.match(r"[-+]?[0-9]", cell)
        assert not set(cell) & set("=@|!'\"*&<>:;")
        assert not re.search(r"[A-Za-z]\(|[0-9][-+/*]", re.sub("[eE][-+]", "", cell))


@pytest.mark.parametrize("text", NUMBERS)
def test_a_number_stays_a_number(text: str) -> None:
    assert table_cell(text) == text


@pytest.mark.parametrize("text", FORMULAS)
def test_a_formula_becomes_text(text: str) -> None:
    assert table_cell(text).startswith(("'", "\\x"))


def test_a_wide_table_reads_back_with_the_same_names_and_numbers(tmp_path: Path) -> None:
    t_s = np.arange(400) / 250.0
    names = ["=1+1", "@x", "-x", "left_x"]
    time = TimeBase.from_instants(t_s)
    codes = np.round(-500 * np.sin(9 * t_s)).astype(np.int64)
    streams = tuple(Stream(name=name, time=time, codes=codes + k) for k, name in enumerate(names))
    write_wide(Recording(streams=streams, provenance=Provenance()), tmp_path / "a.csv")
    with (tmp_path / "a.csv").open(newline="") as file:
        head, *rows = csv.reader(file)
    assert head == ["t_s", "'=1+1", "'@x", "'-x", "left_x"]
    assert all(re.fullmatch(r"-?\d+(\.\d+)?", cell) for row in rows for cell in row)
    back = read(tmp_path / "a.csv")
    assert [stream.name for stream in back.streams] == names
    assert back.streams[0].codes.tolist() == codes.tolist()
    assert pd.read_csv(tmp_path / "a.csv")["left_x"].min() < 0


def test_a_table_of_a_page_holds_no_formula() -> None:
    table = Table(
        caption="x",
        header=("=name", "value"),
        rows=tuple((Cell(text=a), Cell(text=b)) for a, b in (("@alder", "-0.5 ms"), (EVIL, "-1+2"))),
    )
    rows = list(csv.reader(io.StringIO(table_csv(table))))
    assert rows[:2] == [["'=name", "value"], ["'@alder", "-0.5 ms"]]
    assert rows[2][1] == "'-1+2"
    assert "\x1b" not in table_csv(table)


def test_the_pages_one_script_is_known_by_its_hash_and_names_are_harmless() -> None:
    page = report_html(Report(title=f"feelcheck: {EVIL}<script>alert(1)</script>", provenance={}))
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)
    assert policy is not None
    assert "script-src 'sha256-" in policy[1]
    assert "unsafe" not in policy[1].partition("script-src")[2]
    scripts = re.findall(r"<script>(.*?)</script>", page, flags=re.DOTALL)
    assert len(scripts) == 1
    assert base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode() in policy[1]
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", page)
    assert " onclick" not in page


def test_a_picture_with_a_control_character_in_a_name_is_whole(tmp_path: Path) -> None:
    from xml.etree import ElementTree

    figure = Figure(figsize=(2, 1))
    figure.suptitle("alder\x1b[2J")
    save_figure(figure, tmp_path / "a.svg", HAND_FIGURE)
    ElementTree.parse(tmp_path / "a.svg")


def test_nothing_from_a_file_acts_on_the_terminal(tmp_path: Path) -> None:
    record = tmp_path / "alder.toml"
    record.write_text(f"version = 1\nspecimen = {json.dumps(EVIL)}\npad = {json.dumps(EVIL)}\n", encoding="utf-8")
    for words in (["profile", "show", str(record)], ["profile", "show", str(record), "--json"], ["analyze", EVIL],
                  ["feel", str(record)], ["sessions", EVIL[:-1]]):  # fmt: skip
        run = CliRunner().invoke(app, words)
        assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", run.output), words
        assert run.output.strip()
