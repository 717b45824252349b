"""The wide table for other tools."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from feelcheck.errors import FormatError, OutputError
from feelcheck.formats.export import to_wide, write_wide
from feelcheck.model import Provenance, Recording, Stream, TimeBase


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


@pytest.mark.parametrize("name", ["wide.csv", "wide.parquet"])
def test_written_and_read_by_others(tmp_path: Path, name: str) -> None:
    write_wide(RECORDING, tmp_path / name)
    read = pd.read_csv if name.endswith("csv") else pd.read_parquet
    table = read(tmp_path / name)
    assert list(table.columns) == ["t_s", "left_x", "left_y", "trigger"]
    assert table["left_x"].tolist() == [1, 2, 2, 4]
    assert int(table["left_y"].isna().sum()) == 1


def test_integers_stay_integers_in_text(tmp_path: Path) -> None:
    write_wide(RECORDING, tmp_path / "wide.csv")
    assert (tmp_path / "wide.csv").read_text().splitlines()[1] == "0.000000000,1,,0.250000000"


def test_what_cannot_be_written_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(OutputError, match="CSV or Parquet"):
        write_wide(RECORDING, tmp_path / "wide.xlsx")
    with pytest.raises(OutputError, match="existing folder"):
        write_wide(RECORDING, tmp_path / "none" / "wide.csv")
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(FormatError, match=r"(?s)not installed.*feelcheck\[parquet\]"):
        write_wide(RECORDING, tmp_path / "wide.parquet")
