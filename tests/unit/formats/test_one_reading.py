"""What a log and a capture have in common is read alike: names, units, stamps, wraps, impossible stamps."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feelcheck.errors import FormatError
from feelcheck.formats._columns import Column
from feelcheck.formats._time_choice import choose_time
from feelcheck.formats._time_line import far_s, lay_out, strays
from feelcheck.formats._words import WORDS, folded
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.formats.scope import read_capture

N = 600
STEP_S = 0.004
OUT = np.round(900 * np.sin(np.arange(N) / 9.0)).astype(int)


def times_read(cells: list[str], name: str, folder: Path, separator: str = ";") -> tuple[np.ndarray, np.ndarray]:
    """The times that the log reader and the capture reader make of one column."""
    path = folder / "birch.csv"
    body = "".join(f"{cell}{separator}{value}\n" for cell, value in zip(cells, OUT, strict=False))
    path.write_text(f"{name}{separator}left\n{body}", encoding="utf-8")
    log, capture = DelimitedReader().read(path, axes="left"), read_capture(path)
    return log.streams[0].time.t_s, capture.t_s


@pytest.mark.parametrize(
    ("name", "factor"),
    [
        ("elapsed_min", 60.0), ("t/min", 60.0), ("Zeit (Sek)", 1.0), ("time [sekunden]", 1.0), ("czas_ms", 1e-3),
        ("timestampUs", 1e-6), ("Temps (µs)", 1e-6), ("tiempo (segundos)", 1.0), ("Время, мс", 1e-3), ("时间(秒)", 1.0),
        ("tid_ms", 1e-3), ("header.stamp.secs", 1.0), ("Messzeit in ms", 1e-3), ("t_h", 3600.0), ("time_ns", 1e-9),
    ],
)  # fmt: skip
def test_both_readers_agree_on_a_name_and_its_unit(name: str, factor: float, tmp_path: Path) -> None:
    cells = [f"{k * STEP_S / factor:.9f}" for k in range(N)]
    for t_s in times_read(cells, name, tmp_path):
        np.testing.assert_allclose(np.diff(t_s), STEP_S, rtol=0.01)


@pytest.mark.parametrize("name", ["Zeitpunkt", "hora", "Uhrzeit", "Date/Time", "clock"])
@pytest.mark.parametrize("half", ["", " AM"])
@pytest.mark.parametrize("day", ["", "29.11.2026 ", "11/29/2026 "])
def test_both_readers_agree_on_clocks(name: str, half: str, day: str, tmp_path: Path) -> None:
    cells = [f"{day}11:59:{50 + k * STEP_S:06.3f}{half}" for k in range(N)]
    for t_s in times_read(cells, name, tmp_path):
        np.testing.assert_allclose(np.diff(t_s), STEP_S, atol=1e-6)


def test_noon_and_midnight_by_halves_of_the_day(tmp_path: Path) -> None:
    instants = 43190.0 + 0.05 * np.arange(N)
    cells = [
        f"{int(t) // 3600 % 12 or 12}:{int(t) // 60 % 60:02d}:{t % 60:05.2f} {'PM' if t >= 43200 else 'AM'}"
        for t in instants
    ]
    for t_s in times_read(cells, "time", tmp_path):
        np.testing.assert_allclose(np.diff(t_s), 0.05, atol=1e-6)


def test_a_log_over_two_midnights_with_dates_keeps_both(tmp_path: Path) -> None:
    days = [27 + (k >= 200) + (k >= 400) for k in range(N)]
    cells = [f"{day}.11.2026 10:00:{(k % 200) * 0.05:06.3f}" for k, day in enumerate(days)]
    t_s = times_read(cells, "time", tmp_path)[0]
    assert t_s[-1] - t_s[0] == pytest.approx(2 * 86400 + 199 * 0.05, abs=1e-3)


@pytest.mark.parametrize(("bits", "signed"), [(16, False), (16, True), (32, False), (32, True), (24, False)])
def test_both_readers_undo_the_wraps_of_a_counter(bits: int, signed: bool, tmp_path: Path) -> None:
    ticks = 2**bits - 700_000 + 4000 * np.arange(N) if bits > 16 else 4000 * np.arange(N)
    shift = 2 ** (bits - 1) if signed else 0
    cells = [str((tick + shift) % 2**bits - shift) for tick in ticks.tolist()]
    for t_s in times_read(cells, "time_us", tmp_path):
        assert t_s.size == N
        np.testing.assert_allclose(np.diff(t_s), STEP_S, rtol=1e-6)


def test_seconds_and_their_fraction_in_two_columns(tmp_path: Path) -> None:
    path = tmp_path / "cedar.csv"
    ns = 1_790_000_000_500_000_000 + 4_000_000 * np.arange(N)
    rows = "".join(f"{t // 10**9},{t % 10**9},{v}\n" for t, v in zip(ns.tolist(), OUT, strict=True))
    path.write_text("stamp.secs,stamp.nsecs,left\n" + rows)
    for t_s in (DelimitedReader().read(path).streams[0].time.t_s, read_capture(path).t_s):
        np.testing.assert_allclose(np.diff(t_s), STEP_S, rtol=1e-6)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    at=st.integers(0, N - 1),
    size=st.integers(1, 3),
    stamp=st.sampled_from([0.0, 1.0, 3e7, -5e6, 1.8e15]),
    origin=st.sampled_from([0.0, 1.7e6]),
)
def test_an_impossible_stamp_is_left_out_and_told(
    tmp_path: Path, at: int, size: int, stamp: float, origin: float
) -> None:
    t = 1e5 + origin + STEP_S * np.arange(N)
    stop = min(at + size, N)
    t[at:stop] = stamp
    path = tmp_path / "alder.csv"
    path.write_text("t_s;left\n" + "".join(f"{a:.6f};{v}\n" for a, v in zip(t, OUT, strict=True)))
    log = DelimitedReader().read(path)
    capture = read_capture(path)
    for t_s, remarks in ((log.streams[0].time.t_s, log.provenance.remarks), (capture.t_s, capture.provenance.remarks)):
        assert t_s.size == N - (stop - at)
        assert t_s[-1] - t_s[0] < N * STEP_S
        assert any("impossible time" in remark for remark in remarks)


def test_a_gap_of_a_day_is_no_impossible_stamp() -> None:
    t = np.r_[np.arange(50) * STEP_S, 86400 + np.arange(50) * STEP_S]
    assert not strays(t).any()


@pytest.mark.parametrize(
    ("step_s", "jump_s", "stray"), [(0.001, 0.45, False), (0.001, 0.7, True), (1.0, 30.0, False), (1.0, 70.0, True)]
)
def test_among_several_clocks_a_stall_is_no_impossible_stamp(step_s: float, jump_s: float, stray: bool) -> None:
    t = np.arange(100, dtype=np.float64) * step_s
    t[50] += jump_s
    assert strays(t, far_s(t)).nonzero()[0].tolist() == ([50] if stray else [])
    assert strays(t).nonzero()[0].tolist() == [50]


@pytest.mark.parametrize(
    ("n_rows", "n_back", "taken"), [(60, 5, True), (60, 7, False), (1000, 24, True), (1000, 60, False)]
)
def test_isolated_steps_back_part_a_log_and_many_are_no_time(n_rows: int, n_back: int, taken: bool) -> None:
    t = np.tile(np.arange(n_rows // (n_back + 1)) * STEP_S, n_back + 1)
    if taken:
        assert len(lay_out(t).gaps) == n_back
    else:
        with pytest.raises(FormatError, match="this many mean it is no time"):
            lay_out(t)


def test_a_text_clock_does_not_take_a_finer_one_for_its_fraction() -> None:
    clock = Column(index=0, name="time", unit="", cells=np.array(["10:00:00.25", "10:00:00.50"] * 40, dtype=object))
    other = Column(index=1, name="pulse", unit="ms", cells=np.tile([5.0, 3.0], 40))
    choice = choose_time([clock, other])
    assert choice is not None
    assert [column.name for column in choice.columns] == ["time"]


def test_the_table_of_words_is_written_as_it_is_looked_up() -> None:
    exact = ("ampere", "tesla", "gauss")
    for row in WORDS:
        assert all(row.kind in exact or word == folded(word) for word in row.words.split()), row


MS = [f"{4 * k}" for k in range(N)]
CLOCK = [f"11:59:{50 + k * STEP_S:06.3f}" for k in range(N)]
TABLES: dict[str, tuple[str, list[str]]] = {
    "units below the names": ("time;left\nms;V\n", MS),
    "units below the names, then a blank line": ("time;left\n(ms);(V)\n\n", MS),
    "units above the names": ("ms;V\ntime;left\n", MS),
    "a units row with its own key": ("Zeit;left\nEinheit;ms;V\n", MS),
    "units listed in the preamble": ("# units: ms, V\ntime;left\n", MS),
    "units told in a sentence": ("# time in ms, left in V\ntime;left\n", MS),
    "units keyed in the preamble": ("# time: ms\n# left: V\ntime;left\n", MS),
    "a horizontal unit": ("Horizontal Units;ms\ntime;left\n", MS),
    "a stated interval beside the times": ("Sample Interval;4 ms\ntime;left\n", MS),
    "a stated rate and a counter": ("Sample Rate: 250 Hz\nn;left\n", [str(k) for k in range(N)]),
    "a stated rate of reports and a counter": ("Report rate: 250 Hz\nn;left\n", [str(k) for k in range(N)]),
    "half a day with full stops": ("time;left\n", [f"{cell} a.m." for cell in CLOCK]),
    "a date of its own column": ("date;time;left\n", [f"29.11.2026;{cell}" for cell in CLOCK]),
    "steps from row to row, all alike": ("dt_ms;left\n", ["4"] * N),
    "steps from row to row without a unit": ("dt;left\n", ["0.004"] * N),
    "whole seconds and microseconds": ("sec;usec;left\n", [f"{k // 250};{4000 * (k % 250)}" for k in range(N)]),
    "milliseconds since 1970": ("stamp;left\n", [str(1_790_000_000_000 + 4 * k) for k in range(N)]),
    "nanoseconds since 1970": ("stamp;left\n", [str(1_790_000_000_000_000_000 + 4_000_000 * k) for k in range(N)]),
    "a counter without a name": ("time_ms;left\n", [f"{k + 1};{ms}" for k, ms in enumerate(MS)]),
    "decimal commas": ("time_s;left\n", [f"{k * STEP_S:.3f}".replace(".", ",") for k in range(N)]),
    "a first row that is broken": ("time_ms;left\n0;no reading\n", MS),
}


@pytest.mark.parametrize("style", TABLES)
def test_both_readers_agree_on_a_table(style: str, tmp_path: Path) -> None:
    heading, cells = TABLES[style]
    path = tmp_path / "elm.csv"
    path.write_text(heading + "".join(f"{cell};{value}\n" for cell, value in zip(cells, OUT, strict=True)))
    log, capture = DelimitedReader().read(path, axes="left"), read_capture(path)
    for t_s in (log.streams[0].time.t_s, capture.t_s):
        np.testing.assert_allclose(np.diff(t_s), STEP_S, atol=1e-6)
    assert log.streams[0].name.split(" ")[0] == capture.channels[-1].name == "left"
    np.testing.assert_array_equal(log.streams[0].codes, OUT)
    np.testing.assert_array_equal(capture.channels[-1].values, OUT)


def test_both_readers_take_a_stated_rate_where_no_column_tells_the_time(tmp_path: Path) -> None:
    path = tmp_path / "elm.csv"
    path.write_text("Sample Rate: 250 Hz\nleft;right\n" + "".join(f"{v};{v // 2}\n" for v in OUT))
    log = DelimitedReader().read(path)
    assert any("no column tells the time: setting 'sample rate' = 250 Hz" in r for r in log.provenance.remarks)
    for t_s in (log.streams[0].time.t_s, read_capture(path).t_s):
        np.testing.assert_allclose(np.diff(t_s), STEP_S, rtol=1e-9)


def test_remarks_in_some_rows_name_no_axes(tmp_path: Path) -> None:
    path = tmp_path / "elm.csv"
    rows = "".join(f"{ms};{v};{'go' if k % 50 == 0 else ''}\n" for k, (ms, v) in enumerate(zip(MS, OUT, strict=True)))
    path.write_text("time_ms;left;event\n" + rows)
    assert [(s.name, s.codes.size) for s in DelimitedReader().read(path).streams] == [("left", N)]
    assert [c.name for c in read_capture(path).channels] == ["left"]


@pytest.mark.parametrize("start", [1_790_000_000, 3_000_000_000])
def test_a_counter_as_large_as_a_date_in_seconds_is_no_date(start: int, tmp_path: Path) -> None:
    path = tmp_path / "elm.csv"
    path.write_text("stamp;left\n" + "".join(f"{start + 4000 * k};{v}\n" for k, v in enumerate(OUT)))
    with pytest.raises(FormatError, match="unit of the time column cannot be told"):
        read_capture(path)
