"""Times of a capture that stand in parts, pairs, days or words of a program message, and headings in pieces."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.scope import read_capture

N, STEP_S = 2400, 25e-6
T = STEP_S * np.arange(N)
MICROSECONDS = np.round(1e6 * T).astype(int)
COIL = np.round(np.where(T < 5e-3, -0.5, 0.5), 4)
OUT = np.round(np.where(T < 5e-3, 0.3, 1.3 - np.exp(-np.maximum(T - 5e-3, 0) / 4e-3)), 4)


def written(folder: Path, heading: str, *columns: object, mark: str = ",") -> Path:
    path = folder / "cedar.csv"
    cells = [column if isinstance(column, list) else [f"{v:.7g}" for v in column] for column in columns]  # type: ignore[attr-defined]
    path.write_text(heading + "".join(mark.join(row) + "\n" for row in zip(*cells, strict=True)))
    return path


def check(path: Path, drive: str, output: str) -> None:
    capture = read_capture(path)
    np.testing.assert_allclose(np.diff(capture.t_s), STEP_S, rtol=2e-3)
    assert [capture.channel(name).values.size for name in (drive, output)] == [N, N]
    np.testing.assert_allclose(capture.channel(output).values, OUT, atol=1e-9)
    assert len(capture.channels) == 2


def test_a_clock_with_its_milliseconds_and_microseconds_beside_it_is_one_time(tmp_path: Path) -> None:
    parts = ["2026/11/30 14:05:09"] * N, [str(u // 1000) for u in MICROSECONDS], [str(u % 1000) for u in MICROSECONDS]
    heading = "NO.,Date&Time,ms,us,Coil,Hall\nNO.,Time,ms,us,A,V\n"
    path = written(tmp_path, heading, [str(k) for k in range(N)], *parts, COIL, OUT)
    check(path, "Coil", "Hall")
    assert read_capture(path).channel("Coil").unit == "A"


def test_microseconds_of_a_second_are_not_added_to_its_milliseconds(tmp_path: Path) -> None:
    parts = ["14:05:09"] * N, [str(u // 1000) for u in MICROSECONDS], [str(u) for u in MICROSECONDS]
    with_both = read_capture(written(tmp_path, "Time,ms,us,Coil (A),Hall (V)\n", *parts, COIL, OUT), output="Hall")
    assert with_both.t_s[-1] - with_both.t_s[0] == pytest.approx(T[-1], rel=0.02)


def test_seconds_and_microseconds_of_a_program_are_one_time(tmp_path: Path) -> None:
    total = MICROSECONDS + 970_000
    parts = [str(1_796_047_509 + u // 1_000_000) for u in total], [str(u % 1_000_000) for u in total]
    check(written(tmp_path, "tv_sec,tv_usec,coil_A,hall_V\n", *parts, COIL, OUT), "coil", "hall")


def test_of_pairs_of_columns_the_first_is_the_time(tmp_path: Path) -> None:
    times = [f"{t:.6e}" for t in T - 5e-3]
    check(written(tmp_path, "CH1_X,CH1_Y,CH2_X,CH2_Y\n", times, COIL, times, OUT), "CH1_Y", "CH2_Y")


@pytest.mark.parametrize("name", ["Time", "Uhrzeit"])
def test_the_time_of_a_spreadsheet_without_its_date_is_a_part_of_a_day(name: str, tmp_path: Path) -> None:
    path = written(tmp_path, f"{name},Coil (A),Hall (V)\n", [f"{0.5867 + t / 86400:.13f}" for t in T], COIL, OUT)
    check(path, "Coil", "Hall")
    assert "--time-unit s" in " ".join(read_capture(path).provenance.remarks)


def test_seconds_soon_after_a_trigger_are_no_part_of_a_day(tmp_path: Path) -> None:
    path = written(tmp_path, "Time,Coil (A),Hall (V)\n", [f"{0.5 + t:.7f}" for t in T], COIL, OUT)
    check(path, "Coil", "Hall")
    days = read_capture(path, time_unit="days")
    assert days.t_s[1] - days.t_s[0] == pytest.approx(86_400 * STEP_S)


def test_a_line_of_program_messages_states_the_interval(tmp_path: Path) -> None:
    heading = "WFMPRE:NR_PT 2400;XINCR 2.5E-5;XZERO -5.0E-3;YUNIT V\n"
    capture = read_capture(written(tmp_path, heading, OUT))
    np.testing.assert_allclose(np.diff(capture.t_s), STEP_S, rtol=1e-6)
    assert capture.t_s[0] == pytest.approx(-5e-3)


def test_two_words_with_a_blank_are_no_program_messages(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="needs a time axis"):
        read_capture(written(tmp_path, "operator birch;rate 40000\n", COIL, OUT))


def test_a_heading_with_line_ends_in_its_quotes_keeps_names_and_units(tmp_path: Path) -> None:
    path = written(tmp_path, '"Time\n(s)","Coil\n(A)","Hall\n(V)"\n', T, COIL, OUT)
    check(path, "Coil", "Hall")
    assert read_capture(path).channel("Hall").unit == "V"


def test_a_nameless_counter_behind_a_clock_answers_nothing(tmp_path: Path) -> None:
    clock = [f"14:05:09.{u // 1000:03d} -> {u}" for u in MICROSECONDS]
    check(written(tmp_path, "", clock, COIL, OUT), "column 3", "column 4")


def test_cells_that_a_spreadsheet_keeps_as_text_are_numbers(tmp_path: Path) -> None:
    cells = ([f'="{v:.6f}"' for v in column] for column in (T, COIL))
    check(written(tmp_path, "Time (s),Coil (A),Hall (V)\n", *cells, [f'="{v:.4f}"' for v in OUT]), "Coil", "Hall")


def test_intervals_that_are_nearly_all_alike_are_summed(tmp_path: Path) -> None:
    steps = ["7", *["25"] * (N - 1)]
    check(written(tmp_path, "delta_us,coil_A,hall_V\n", steps, COIL, OUT), "coil", "hall")


@pytest.mark.parametrize("apart_s", [10e-3, -0.2])
def test_a_second_time_from_another_zero_moves_no_channel(apart_s: float, tmp_path: Path) -> None:
    heading = "Sample time (s),Coil (A),Trigger time (s),Hall (V)\n"
    check(written(tmp_path, heading, T, COIL, [f"{t:.7f}" for t in T - apart_s], OUT), "Coil", "Hall")


def test_a_second_time_within_a_sample_is_the_channels_own(tmp_path: Path) -> None:
    late = [f"{t:.7f}" for t in T + 12e-6]
    capture = read_capture(written(tmp_path, "t1 (s),Coil (A),t2 (s),Hall (V)\n", T, COIL, late, OUT))
    assert np.interp(6e-3 + 12e-6, capture.t_s, capture.channel("Hall").values) == pytest.approx(
        np.interp(6e-3, T, OUT), abs=2e-4
    )
