"""Cursor readings typed in by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.readings import is_readings, read_readings

TOML = """
time_unit = "ms"
value_unit = "mV"
time_error = 0.1
value_error = 20
specimen = "cedar"
note = "read from a photo of the screen"
scope = { averaging = "none", supply = "1.8 V" }

[[edge]]
direction = "rising"
drive = 0.0
t10 = 0.5
t50 = 3.3
t90 = 10.8

[[edge]]
direction = "falling"
time_error = 0.5
points = [[50, 1600], [60, 1100], [70, 800]]
"""


def write(folder: Path, text: str, name: str = "cedar.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_toml(tmp_path: Path) -> None:
    path = write(tmp_path, TOML)
    assert is_readings(path)
    got = read_readings(path)
    rising, falling = got.edges
    assert rising.transition_10_90_s == pytest.approx(10.3e-3)
    assert [rising.drive_s, rising.t50_s] == pytest.approx([0.0, 3.3e-3])
    assert [rising.time_error_s, rising.value_error_v] == pytest.approx([1e-4, 0.02])
    assert falling.time_error_s == pytest.approx(5e-4)
    assert list(falling.points[1]) == pytest.approx([0.06, 1.1])
    assert falling.transition_10_90_s is None
    assert got.provenance.specimen == "cedar"
    assert got.provenance.facts["supply"] == "1.8 V"
    assert got.provenance.remarks == ("read from a photo of the screen",)


@pytest.mark.parametrize(
    "text",
    [
        "direction,t10_ms,t50_ms,t90_ms,error_ms\nrising,0.5,3.3,10.8,0.1\nfalling,,51.0,54.2,0.2\n",
        "direction;t10 (ms);t50 (ms);t90 (ms);error (ms)\nrising;0,5;3,3;10,8;0,1\nfalling;;51,0;54,2;0,2\n",
    ],
)
def test_rows(tmp_path: Path, text: str) -> None:
    path = write(tmp_path, text, "cedar.csv")
    assert is_readings(path)
    rising, falling = read_readings(path).edges
    assert rising.transition_10_90_s == pytest.approx(10.3e-3)
    assert falling.t10_s is None
    assert falling.time_error_s == pytest.approx(2e-4)


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ('direction = "rising"', 'direction = "up"', "needs a direction"),
        ("t10 = 0.5", "t20 = 0.5", "known keys"),
        ("t10 = 0.5", "t10 = 5", "must rise"),
        ("t10 = 0.5", 't10 = "0.5"', "must be numbers"),
        ("time_error = 0.1\n", "", "reading error"),
        ("[[50, 1600], [60, 1100], [70, 800]]", "[[50, 1600], [60, 1100]]", "at least two"),
        ("[[50, 1600], [60, 1100], [70, 800]]", "[[50, 1600], [60]]", "must be numbers"),
        ('time_unit = "ms"', 'time_unit = "mV"', "unit of time"),
        ('specimen = "cedar"', 'tree = "cedar"', "known keys"),
        ("[[edge]]", "[[edge]", "no valid TOML"),
    ],
)
def test_refusals(tmp_path: Path, old: str, new: str, match: str) -> None:
    with pytest.raises(FormatError, match=match):
        read_readings(write(tmp_path, TOML.replace(old, new)))


def test_row_without_a_unit_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="unit in the column's name"):
        read_readings(write(tmp_path, "direction,t10,t90,error_ms\nrising,0.5,10.8,0.1\n", "cedar.csv"))


def test_captures_are_no_readings(tmp_path: Path) -> None:
    assert not is_readings(write(tmp_path, "Time (s),Out (V)\n0,1\n", "alder.csv"))
    assert not is_readings(tmp_path / "none.csv")


def test_a_table_without_any_row_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="a row of names"):
        read_readings(write(tmp_path, "# nothing but a comment\n\n", "cedar.csv"))
