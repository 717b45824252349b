"""What the readers of logs, captures, readings, studies and sessions refuse, and in which words."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck.errors import FormatError, OutputError
from feelcheck.formats._columns import find_column
from feelcheck.formats._time_line import lay_out
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.formats.export import write_wide
from feelcheck.formats.readings import read_readings
from feelcheck.formats.scope import interval_seconds, read_captures
from feelcheck.formats.session_table import read_bytes
from feelcheck.formats.study import read_study_table, study_array
from feelcheck.model import Provenance, Recording, Stream, TimeBase

READER = DelimitedReader()
ROWS = [f"{0.004 * k:.3f},{int(100 * np.sin(k / 9))},{int(90 * np.cos(k / 7))}" for k in range(80)]
LOG = "t_s,x,y\n" + "\n".join(ROWS) + "\n"


def written(text: str, tmp_path: Path, name: str = "log.csv") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "options", "message"),
    [
        ("t_s,x,y\n0.000,1,2\n", {}, "more than one row"),
        ("t_s,x,y\n" + "".join(f"0.0{k:02d},{k % 7},5\n" for k in range(80)), {"axes": "y"}, "numbers that vary"),
        (LOG, {"axes": "z"}, "(?s)--axes must name a column of the file.*columns: t_s, x, y"),
        (LOG, {"rate_hz": "often"}, "(?s)--rate-hz must be a positive number.*got: often"),
        (LOG, {"full_scale": -127}, "--full-scale must be a positive number"),
        (LOG, {"time_unit": "samples"}, "needs the rate of the samples"),
        (LOG.replace("t_s", "what"), {"time": "nothing"}, "--time must name a column"),
        ("t_s,x\n" + "".join(f"no. {k},{k % 7}\n" for k in range(80)), {"time": "t_s"}, "text that is no time stamp"),
        ("n,x,y\n" + "".join(f"a{k},{k % 7},{k % 5}\n" for k in range(80)), {"time": "n", "time_unit": "samples",
         "rate_hz": 250}, "a counter needs numbers"),
        ("t_s," + ",".join(f"a{k}" for k in range(70)) + "\n" + "\n".join(
            f"{0.004 * k:.3f}," + ",".join(str((k * (j + 3)) % 11) for j in range(70)) for k in range(80)
        ) + "\n", {}, "(?s)A controller has at most .* axes.*Name the axes with --axes"),
    ],
    ids=["one_row", "constant", "no_such_axis", "rate", "scale", "samples", "no_such_time", "stamps", "counter",
         "many_axes"],
)  # fmt: skip
def test_a_log_is_refused_with_what_was_met(
    text: str, options: Mapping[str, Any], message: str, tmp_path: Path
) -> None:
    with pytest.raises(FormatError, match=message) as refused:
        READER.read(written(text, tmp_path), **options)
    assert refused.value.next_step


@pytest.mark.parametrize("t_s", [[], [1.0], [1.0, 1.0, 1.0], [3.0, 2.0, 1.0]])
def test_a_time_that_never_advances_is_no_time(t_s: list[float]) -> None:
    with pytest.raises(FormatError, match=r"time that advances|must run forward"):
        lay_out(np.array(t_s))


def test_a_column_is_found_but_for_case_and_blanks_and_only_if_there_is_one() -> None:
    assert find_column(["t_s", " Left X "], "left x", "--axes") == 1
    assert find_column(["t (ms)", "Coil (A)"], "coil", "--axes") == 1
    with pytest.raises(FormatError, match="--axes must name a column"):
        find_column(["left x", "Left X"], "LEFT X", "--axes")


CAPTURE = "Time (s),Out (V)\n" + "".join(f"{1e-4 * k:.4f},{k % 3}\n" for k in range(50))


@pytest.mark.parametrize(
    ("text", "options", "message"),
    [
        (CAPTURE, {"interval_s": 0.0}, "greater than zero"),
        (CAPTURE, {"interval_s": -1e-6}, "greater than zero"),
        (CAPTURE, {"time_unit": "furlong"}, "(?s)unit of the time column is not known.*allowed: s, ms"),
        (CAPTURE, {"time_unit": "V"}, "unit of the time column is not known"),
        ("Time (s),Out (V)\n0,1\n0.1,2\n", {}, "at least three rows"),
        ("\n".join(",".join(str(k * j) for k in range(300)) for j in range(1, 6)), {}, "one sample a row"),
        (CAPTURE, {"drive": "coil"}, "(?s)--drive must name a column.*columns: Out .V."),
    ],
)
def test_a_capture_is_refused_with_what_was_met(
    text: str, options: Mapping[str, Any], message: str, tmp_path: Path
) -> None:
    with pytest.raises(FormatError, match=message):
        read_captures([written(text, tmp_path)], **options)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("4us", 4e-6), ("250kHz", 4e-6), ("250 kHz", 4e-6), ("0.5 ms", 5e-4), ("1 Hz", 1.0)],
)
def test_an_interval_is_told_as_a_time_or_a_rate(text: str, seconds: float) -> None:
    assert interval_seconds(text) == pytest.approx(seconds)


@pytest.mark.parametrize("text", ["", "4", "0.001", "4q", "fast", "-4us", "0us", "nan", "4 V"])
def test_an_interval_needs_a_number_and_a_unit(text: str) -> None:
    with pytest.raises(FormatError, match="number and a unit of time or rate"):
        interval_seconds(text)


EDGE = '[[edge]]\ndirection = "rising"\nt10 = 1\nt90 = 2\ntime_error = 0.1\n'


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("r.toml", "[[edge", "no valid TOML"),
        ("r.toml", 'time_unit = "ms"\n', r"need tables \[\[edge\]\]"),
        ("r.toml", 'time_unit = "V"\nedge = []\n', "must be a unit of time"),
        ("r.toml", '[[edge]]\ndirection = "sideways"\nt10 = 1\nt90 = 2\n', "rising or falling"),
        ("r.csv", "direction,t10_ms,t90_ms,error_ms\nrising,many,2,0.1\n", "need numbers"),
        ("r.csv", "direction,t10_ms,t90_ms\nrising,1,2\n", "reading error"),
        ("r.csv", "direction,t10_ms,t90_ms,error_ms\nrising,2,1,0.1\n", "must rise"),
        ("r.csv", "direction,t10_ms,error_ms\nrising,2,0.1\n", "at least two of"),
        ("r.csv", "direction,t10_ms,t90_ms,error_ms,drive_rise_ms\nrising,1,2,0.1,-3\n", "greater than zero"),
        ("r.toml", f"drive_rise = 0\n{EDGE}", "greater than zero"),
        ("r.toml", f'drive_rise = "2 ms"\n{EDGE}', "must be a number"),
    ],
)
def test_typed_readings_are_refused_by_the_name_of_their_file(
    name: str, text: str, message: str, tmp_path: Path
) -> None:
    with pytest.raises(FormatError, match=message) as refused:
        read_readings(written(text, tmp_path, name))
    assert refused.value.facts["file"] == name
    assert "Write a table with the header direction," in refused.value.next_step


STUDY = "operator,specimen,repeat,value_ms\n"


@pytest.mark.parametrize("reading", ["", "x", "nan", "inf", "1,5"])
def test_a_reading_of_a_study_is_a_finite_number(reading: str, tmp_path: Path) -> None:
    table = written(f'{STUDY}mo,alder,1,2.5\nmo,alder,2,"{reading}"\n', tmp_path)
    with pytest.raises(FormatError, match=r"(?s)is a number.*row: 3"):
        read_study_table(table)


def test_a_study_table_is_text_with_four_columns(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="four columns"):
        read_study_table(written("who,what\nmo,alder\n", tmp_path))
    (tmp_path / "noise.csv").write_bytes(b"\x00\xff" * 40)
    with pytest.raises(FormatError, match="is a text file"):
        read_study_table(tmp_path / "noise.csv")


def test_every_cell_of_a_study_is_filled_once() -> None:
    rows = [(o, s, r, 1.0) for o in "ab" for s in "xy" for r in "12"]
    assert study_array(rows).shape == (2, 2, 2)
    with pytest.raises(FormatError, match=r"(?s)equally often.*operator: b.*specimen: y.*repeat: 2"):
        study_array(rows[:-1])
    with pytest.raises(FormatError, match="filled once"):
        study_array([*rows, rows[0]])


def test_readings_in_milliseconds_become_seconds_in_any_order(tmp_path: Path) -> None:
    text = "".join(
        f"{o},{s},{r},{v}\n" for v, (o, s, r) in enumerate((o, s, r) for o in "ab" for s in "xy" for r in "12")
    )
    rows, unit = read_study_table(written(f"# a remark\n{STUDY}{text}", tmp_path))
    assert unit == "s"
    np.testing.assert_allclose(study_array(rows).ravel(), 1e-3 * np.arange(8))
    np.testing.assert_allclose(study_array(rows[::-1]), study_array(rows))


def test_a_session_whose_recording_never_began(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="its recording never began"):
        read_bytes(tmp_path / "events.csv")
    (tmp_path / "events.csv").mkdir()
    with pytest.raises(FormatError, match="events file cannot be read"):
        read_bytes(tmp_path / "events.csv")


def test_parquet_without_its_library_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Stream(name="x", time=TimeBase.from_instants([0.0, 1.0]), codes=np.array([1, 2]))
    recording = Recording(streams=(stream,), provenance=Provenance())
    for name in ("pyarrow", "pyarrow.parquet", "fastparquet"):
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(FormatError, match=r"(?s)library that is not installed.*feelcheck\[parquet\]"):
        write_wide(recording, tmp_path / "x.parquet")
    with pytest.raises(OutputError, match="CSV or Parquet or a workbook"):
        write_wide(recording, tmp_path / "x.ods")
