"""Streams of robots, vehicles, monitors and databases: layouts in which a stick's reports stand, by class.

The layouts are common practice, no source, unless a line says otherwise; the data are invented.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.hand.clock import recover_clock
from feelcheck.model import Recording

Rows = NDArray[np.int64]
N = 300
T_S = 0.01 * np.arange(N)
X = np.rint(400 * np.sin(9 * T_S)).astype(int).tolist()
Y = np.rint(400 * np.cos(7 * T_S)).astype(int).tolist()


def read(folder: Path, *lines: str, **options: str) -> Recording:
    path = folder / "rowan.csv"
    path.write_text("\n".join(lines) + "\n")
    return DelimitedReader().read(path, **options)


def interval_ms(recording: Recording) -> float:
    value = recover_clock(recording).interval.value
    assert value is not None
    return 1e3 * value


def names(recording: Recording) -> list[str]:
    return [stream.name for stream in recording.streams]


@pytest.mark.parametrize(
    "row",
    [
        'ts={t:.3f} level=info x={x} y={y} text="going on"',
        "{ms}: x={x} y={y}",
        "stick,pad=rowan x={x},y={y} {ns}",
        "[{t:.3f}] moved to x: {x}, y: {y} ok",
    ],
)
def test_numbers_that_each_row_names_are_columns(tmp_path: Path, row: str) -> None:
    rows = [
        row.format(t=t, ms=int(1e3 * t + 0.5), ns=1_790_000_000_000_000_000 + int(1e9 * t), x=x, y=y)
        for t, x, y in zip(T_S, X, Y, strict=True)
    ]
    recording = read(tmp_path, "Ready.", *rows[:100], "warning: hot", *rows[100:])
    assert names(recording) == ["x", "y"]
    assert recording.streams[0].codes.tolist() == X
    assert interval_ms(recording) == pytest.approx(10, rel=1e-3)


@pytest.mark.parametrize("row", ["10:00:{t:06.3f} -> {x},{y}", "({t:.3f}, {x}, {y})", "[{t:.3f}; {x}; {y}],"])
def test_a_monitors_clock_and_rows_in_brackets_are_plain_rows(tmp_path: Path, row: str) -> None:
    recording = read(tmp_path, *(row.format(t=t, x=x, y=y) for t, x, y in zip(T_S, X, Y, strict=True)))
    assert [stream.codes.tolist() for stream in recording.streams] == [X, Y]
    assert interval_ms(recording) == pytest.approx(10, rel=1e-3)


def test_two_groups_of_three_digits_are_thousands(tmp_path: Path) -> None:
    rows = (f"{int(1e6 * t + 0.5):,}\t{x}\t{y}" for t, x, y in zip(T_S, X, Y, strict=True))
    assert interval_ms(read(tmp_path, "time_us\tx\ty", *rows)) == pytest.approx(10, rel=1e-3)


def _two_devices() -> list[str]:
    rows = zip(T_S, X, Y, strict=True)
    return [line for t, x, y in rows for line in (f"{t:.4f},birch,{x},{y}", f"{t + 0.003:.4f},cedar,{y},{-x}")]


def test_rows_of_several_devices_are_read_one_device_at_a_time(tmp_path: Path) -> None:
    first = read(tmp_path, "t_s,device,x,y", *_two_devices())
    assert names(first) == ["birch.x", "birch.y"]
    assert first.streams[0].codes.tolist() == X
    assert interval_ms(first) == pytest.approx(10, rel=1e-3)
    assert any("'birch' was read, not cedar" in remark for remark in first.provenance.remarks)
    other = read(tmp_path, "t_s,device,x,y", *_two_devices(), axes="cedar.y")
    assert other.streams[0].codes.tolist() == [-x for x in X]


def test_events_of_several_devices_are_read_one_device_at_a_time(tmp_path: Path) -> None:
    rows = zip(T_S, X, Y, strict=True)
    lines = [f"{t:.3f},{k},{axis},{v}" for t, x, y in rows for k in (4, 7) for axis, v in (("lx", x + k), ("ly", y))]
    recording = read(tmp_path, "t_s,pad,axis,value", *lines, axes="7.lx")
    assert recording.streams[0].codes.tolist() == [x + 7 for x in X]


@pytest.mark.parametrize("label", [np.arange(N) // 60 % 3, np.arange(N) % 12])
def test_a_column_that_hardly_changes_or_holds_many_words_tells_no_devices(tmp_path: Path, label: Rows) -> None:
    lines = [f"{t:.3f},pad{k},{x},{y}" for t, k, x, y in zip(T_S, label, X, Y, strict=True)]
    assert names(read(tmp_path, "t_s,device,x,y", *lines)) == ["x", "y"]


def test_kinds_of_events_in_the_kernels_numbers(tmp_path: Path) -> None:
    # linux/input-event-codes.h: 0 ends a report, 1 is a key, 3 an absolute axis; codes count anew in each kind
    rows = zip(T_S, X, Y, strict=True)
    lines = [f"{t:.3f},{e}" for t, x, y in rows for e in (f"3,0,{x}", f"3,1,{y}", f"1,0,{int(x > 0)}", "0,0,0")]
    recording = read(tmp_path, "t_s,type,code,value", *lines)
    assert names(recording) == ["code_0", "code_1"]
    assert recording.streams[0].codes.tolist() == X
    assert interval_ms(recording) == pytest.approx(10, rel=1e-3)
    assert {event.name for event in recording.buttons} == {"code_0"}


@pytest.mark.parametrize("silent", [False, True])
def test_axes_of_different_rates_have_every_report(tmp_path: Path, silent: bool) -> None:
    rest = (T_S > 1) & (T_S < 2) & silent
    rows = zip(T_S, X, Y, np.arange(N), rest, strict=True)
    lines = [f"{t:.3f},{'' if still else x},{y if k % 2 == 0 else ''}" for t, x, y, k, still in rows]
    recording = read(tmp_path, "t_s,x,y", *lines)
    assert recording.streams[0].reports == ("on_change" if silent else "every")


def test_rows_without_numbers_are_no_silence(tmp_path: Path) -> None:
    rows = zip(T_S, X, Y, np.arange(N), strict=True)
    lines = [f"{t:.3f},nan,nan" if 100 < k < 150 else f"{t:.3f},{x},{y}" for t, x, y, k in rows]
    assert interval_ms(read(tmp_path, "t_s,x,y", *lines)) == pytest.approx(10, rel=1e-3)


def test_a_long_table_of_whole_reports_has_every_report(tmp_path: Path) -> None:
    rows = zip(T_S, X, Y, strict=True)
    lines = [line for t, x, y in rows for line in (f"{t:.3f},x,{x + t:.3f}", f"{t:.3f},y,{y + t:.3f}")]
    assert interval_ms(read(tmp_path, "t_s,field,value", *lines)) == pytest.approx(10, rel=1e-3)


def test_a_pace_is_neither_time_nor_axis(tmp_path: Path) -> None:
    rows = zip(T_S, X, Y, strict=True)
    lines = [f"{1_790_000_000_000 + 1e3 * t:.0f};{x};{50 + t:.3f};{y % 7}" for t, x, y in rows]
    recording = read(tmp_path, "unix_ms;lenkung;tempo_kmh;speed_mps", *lines)
    assert names(recording) == ["lenkung"]


def test_volts_beside_axes_are_no_axis_and_no_capture(tmp_path: Path) -> None:
    rows = zip(T_S, X, Y, strict=True)
    lines = [f"{t:.3f},{-60 + x % 3},{5 + 1e-4 * y:.3f},{x},{y},{-x}" for t, x, y in rows]
    assert names(read(tmp_path, "t_s,link(dB),pack(V),rudder,elevator,aileron", *lines)) == [
        "rudder", "elevator", "aileron",
    ]  # fmt: skip
    with pytest.raises(FormatError, match="scope capture"):
        read(tmp_path, "t_s,a(V),b(V),c", *(f"{t:.3f},{x},{y},{x}" for t, x, y in zip(T_S, X, Y, strict=True)))


def test_ticks_of_an_unknown_clock_are_asked_for(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="cannot be told"):
        read(tmp_path, "ticks,x,y", *(f"{1e4 * t:.0f},{x},{y}" for t, x, y in zip(T_S, X, Y, strict=True)))


def test_days_of_a_calendar_under_a_plain_name(tmp_path: Path) -> None:
    rows = zip(T_S, X, Y, strict=True)
    recording = read(tmp_path, "Time,x,y", *(f"{46145.4 + 5 * t / 86400:.11f},{x},{y}" for t, x, y in rows))
    assert interval_ms(recording) == pytest.approx(50, rel=1e-3)
