"""Instants as spreadsheets count them, in days, and long tables one below the other."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feelcheck.formats.scope import read_captures

N, INTERVAL_S = 4000, 25e-6
T = np.arange(N) * INTERVAL_S
DRIVE = np.clip((T - 0.02) / 1e-3, 0.0, 1.0)
OUT = 1.0 + np.clip((T - 0.021) / 4e-3, 0.0, 1.0)


def table(heading: str, *columns: object, separator: str = ",", decimal: str = ".") -> str:
    """Rows of numbers under a heading; times with all their digits."""
    rows = zip(*columns, strict=True)
    lines = (separator.join((f"{row[0]:.12f}", *(f"{cell:.5f}" for cell in row[1:]))) for row in rows)
    return heading + "\n" + "\n".join(line.replace(".", decimal) for line in lines) + "\n"


@pytest.mark.parametrize(
    ("heading", "day"),
    [
        ("Date,Coil (A),Out (V)", 32_143.25),
        ("Time,Coil (A),Out (V)", 71_999.9),
        ("Datum;Spule (A);Sensor (V)", 45_991.5),
        ("Zeit;Spule (A);Sensor (V)", 45_991.5),
    ],
)
def test_dates_of_a_spreadsheet_are_read_in_days(heading: str, day: float, tmp_path: Path) -> None:
    path = tmp_path / "alder.csv"
    style = {"separator": ";", "decimal": ","} if ";" in heading else {}
    path.write_text(table(heading, day + T / 86_400, DRIVE, OUT, **style))
    (capture,) = read_captures(path)
    assert capture.interval_s == pytest.approx(INTERVAL_S, rel=1e-3)
    assert capture.t_s[-1] - capture.t_s[0] == pytest.approx(T[-1], rel=1e-3)
    assert any("as spreadsheets count them" in remark for remark in capture.provenance.remarks)


@pytest.mark.parametrize(("start", "name"), [(45_991.5, "Time"), (12.5, "Time"), (90_000.5, "Time"), (500.25, "t")])
def test_seconds_since_a_start_stay_seconds(start: float, name: str, tmp_path: Path) -> None:
    path = tmp_path / "birch.csv"
    path.write_text(table(f"{name},Coil (A),Out (V)", start + T, DRIVE, OUT))
    (capture,) = read_captures(path)
    assert capture.interval_s == pytest.approx(INTERVAL_S, rel=1e-3)
    assert not any("spreadsheet" in remark for remark in capture.provenance.remarks)


def test_slow_samples_are_days_by_a_word_for_a_date_alone(tmp_path: Path) -> None:
    path = tmp_path / "cedar.csv"
    slow = 45_991.5 + np.arange(N) * 0.02 / 86_400
    path.write_text(table("date,Coil (A),Out (V)", slow, DRIVE, OUT))
    assert read_captures(path)[0].interval_s == pytest.approx(0.02, rel=1e-3)


def test_long_tables_one_below_the_other_are_channels_of_their_own(tmp_path: Path) -> None:
    path = tmp_path / "elm.csv"
    n = 12_000
    t = np.arange(n) * 1e-6
    coil, out = np.clip((t - 4e-3) / 1e-3, 0, 1), np.clip((t - 4e-3) / 3e-3, 0, 1)
    text = table("Time (s),Coil (A)", t, coil) + "\n" + table("Time (s),Hall (V)", t, out)
    assert len(text) > 500_000
    path.write_text(text)
    (capture,) = read_captures(path)
    assert [(c.name, c.unit, c.role) for c in capture.channels] == [("Coil", "A", "drive"), ("Hall", "V", "output")]
    assert capture.t_s.size == n
