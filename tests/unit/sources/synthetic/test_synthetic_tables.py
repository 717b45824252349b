"""Plain tables of simulated logs."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from feelcheck.model import Recording
from feelcheck.sources.synthetic import TableStyle, quick_script, simulate_recording, world_with, write_table

SCRIPT = quick_script(1, np.random.default_rng(1), rest_s=0.7)


def recording(style: str = "table") -> Recording:
    return simulate_recording(
        world_with("plain", np.random.default_rng(1), style=style), SCRIPT, np.random.default_rng(2)
    )


def table(path: Path, separator: str = ",", encoding: str = "utf-8") -> list[list[str]]:
    with path.open(encoding=encoding, newline="") as file:
        return list(csv.reader(file, delimiter=separator))


def test_one_row_a_report_in_seconds_and_counts(tmp_path: Path) -> None:
    log = recording()
    write_table(log, tmp_path / "log.csv")
    head, *rows = table(tmp_path / "log.csv")
    assert head == ["t_s", "left_x", "left_y"]
    assert [int(row[1]) for row in rows] == log.streams[0].codes.tolist()
    assert [float(row[0]) for row in rows] == pytest.approx(log.streams[0].time.t_s, abs=6e-7)


def test_other_units_separators_and_decimal_commas(tmp_path: Path) -> None:
    log = recording()
    style = TableStyle(time_unit="ms", time_digits=3, values="fraction", separator=";", decimal=",", encoding="utf-16")
    write_table(log, tmp_path / "log.csv", style=style)
    head, first, *_ = table(tmp_path / "log.csv", ";", "utf-16")
    assert head[0] == "t_ms"
    assert float(first[0].replace(",", ".")) == pytest.approx(1e3 * log.streams[0].time.t_s[0], abs=6e-4)
    assert float(first[1].replace(",", ".")) == pytest.approx(log.streams[0].fractions[0], abs=6e-7)


def test_event_streams_are_joined_on_their_instants(tmp_path: Path) -> None:
    log = recording("events")
    write_table(log, tmp_path / "log.csv", style=TableStyle(time_unit="us", time_digits=0))
    _, *rows = table(tmp_path / "log.csv")
    times = np.array([int(row[0]) for row in rows])
    stream = log.stream("left_y")
    at = np.searchsorted(times, np.round(1e6 * stream.time.t_s[500]).astype(int))
    assert int(rows[at][2]) == stream.codes[500]
    assert len(rows) < sum(stream.codes.size for stream in log.streams)
