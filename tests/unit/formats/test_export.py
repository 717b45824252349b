"""The wide table for other tools."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest

from feelcheck import pipeline
from feelcheck.errors import FormatError, OutputError
from feelcheck.formats import export
from feelcheck.formats.export import to_wide, write_wide
from feelcheck.formats.scope import read_captures
from feelcheck.model import Provenance, Recording, Stream, TimeBase
from feelcheck.pipeline._hand import read_recording


def _stream(name: str, t_s: list[float], codes: list[float], dtype: type) -> Stream:
    return Stream(name=name, time=TimeBase.from_instants(t_s), codes=np.array(codes, dtype=dtype))


RECORDING = Recording(
    streams=(
        _stream("left_x", [0.0, 0.001, 0.003], [1, 2, 4], np.int64),
        _stream("left_y", [0.001, 0.002], [-1, -2], np.int64),
        _stream("trigger", [0.0], [0.25], np.float64),
    ),
    provenance=Provenance(),
)


def test_an_axis_keeps_its_last_code() -> None:
    table = to_wide(RECORDING)
    assert table["t_s"].tolist() == [0.0, 0.001, 0.002, 0.003]
    assert table["left_x"].tolist() == [1, 2, 2, 4]
    assert table["left_y"].isna().tolist() == [True, False, False, False]
    assert table["left_y"].tolist()[1:] == [-1, -2, -2]
    assert table["trigger"].tolist() == [0.25] * 4


@pytest.mark.parametrize("name", ["wide.csv", "wide.parquet", "wide.xlsx"])
def test_written_and_read_by_others(tmp_path: Path, name: str) -> None:
    write_wide(RECORDING, tmp_path / name)
    read: Any = {"csv": pd.read_csv, "parquet": pd.read_parquet, "xlsx": pd.read_excel}[name.rpartition(".")[2]]
    table = read(tmp_path / name)
    assert list(table.columns) == ["t_s", "left_x", "left_y", "trigger"]
    assert table["left_x"].tolist() == [1, 2, 2, 4]
    assert int(table["left_y"].isna().sum()) == 1


def test_a_workbook_is_known_again_and_runs_nothing(tmp_path: Path) -> None:
    odd = replace(RECORDING, streams=(_stream("=1+1", [0.0], [1], np.int64),), provenance=Provenance(specimen="=2+2"))
    for _ in range(2):
        write_wide(odd, tmp_path / "wide.xlsx")
    book = openpyxl.load_workbook(tmp_path / "wide.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert "f" not in {cell.data_type for cell in cells}
    assert {"'=1+1", "'=2+2"} <= {cell.value for cell in cells}


def test_a_workbook_that_is_too_short_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(export, "MOST_SHEET_ROWS", 4)
    with pytest.raises(FormatError, match=r"(?s)too few rows.*allowed: 3"):
        write_wide(RECORDING, tmp_path / "wide.xlsx")
    assert not (tmp_path / "wide.xlsx").exists()


@pytest.mark.parametrize("name", ["again.csv", "again.xlsx"])
def test_a_capture_keeps_its_columns_and_units(tmp_path: Path, name: str) -> None:
    capture = tmp_path / "alder.csv"
    rows = (f"{k * 1e-4:.4f},{float(k > 50):.1f},{1 - np.exp(-max(0, k - 50) / 20):.5f}\n" for k in range(200))
    capture.write_text("Time (s),coil (A),sensor (V)\n" + "".join(rows))
    pipeline.export(capture, tmp_path / name)
    table = pd.read_csv(tmp_path / name) if name.endswith("csv") else pd.read_excel(tmp_path / name)
    assert list(table.columns) == ["t_s", "coil (A)", "sensor (V)"]
    assert len(table) == 200
    assert table["t_s"].iloc[-1] == pytest.approx(0.0199)


def test_integers_stay_integers_in_text(tmp_path: Path) -> None:
    write_wide(RECORDING, tmp_path / "wide.csv")
    assert (tmp_path / "wide.csv").read_text().splitlines()[1] == "0,1,,0.25"


def test_small_numbers_of_a_capture_are_not_cut_off(tmp_path: Path) -> None:
    (tmp_path / "alder.csv").write_text("Time (s),sensor (A)\n" + "".join(f"{k}e-10,{k}.25e-12\n" for k in range(200)))
    pipeline.export(tmp_path / "alder.csv", tmp_path / "again.csv")
    table = pd.read_csv(tmp_path / "again.csv")
    assert table.iloc[199].to_list() == pytest.approx([199e-10, 199.25e-12], rel=1e-12)


def test_what_cannot_be_written_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(OutputError, match="CSV or Parquet"):
        write_wide(RECORDING, tmp_path / "wide.ods")
    with pytest.raises(OutputError, match="existing folder"):
        write_wide(RECORDING, tmp_path / "none" / "wide.csv")
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(FormatError, match=r"(?s)not installed.*feelcheck\[parquet\]"):
        write_wide(RECORDING, tmp_path / "wide.parquet")


def test_names_that_a_spreadsheet_would_run_or_hide_come_back_as_they_were(tmp_path: Path) -> None:
    names = ["'left_x", "=y", "''z", "-w", "left_v'", "a'b", "'q'", "left_x"]
    k = np.arange(300)
    table = pd.DataFrame({"t_s": k / 250, **{f"n{i}": (k * (37 + i)) % 201 for i in range(len(names))}})
    recording = pipeline.read(table)
    streams = tuple(replace(s, name=name) for s, name in zip(recording.streams, names, strict=True))
    write_wide(replace(recording, streams=streams, sticks=()), tmp_path / "wide.csv")
    head = (tmp_path / "wide.csv").read_text().partition("\n")[0]
    assert head == "t_s,''left_x,'=y,'''z,'-w,left_v',a'b,''q',left_x"
    assert [stream.name for stream in read_recording(tmp_path / "wide.csv").streams] == names


def test_channels_that_begin_with_an_apostrophe_come_back_as_they_were(tmp_path: Path) -> None:
    rows = [f"{k * 1e-4:.4f},{(k // 60) % 2},{1 + (k // 60) % 2}" for k in range(400)]
    (tmp_path / "scope.csv").write_text("\n".join(["Time (s),Coil (A),''Out (V)", *rows]))
    captures = read_captures([tmp_path / "scope.csv"])
    assert "'Out" in [channel.name for channel in captures[0].channels]
    write_wide(captures, tmp_path / "wide.csv")
    again = read_captures([tmp_path / "wide.csv"])
    assert [c.name for c in again[0].channels] == [c.name for c in captures[0].channels]
