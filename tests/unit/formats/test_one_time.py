"""One column of times, once beside stick axes and once beside voltages: both readers tell the same times."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.formats.scope import read_captures

N = 240
STEP_S = 0.004
K = np.arange(N)
T_S = STEP_S * K
OUT = np.round(900 * np.sin(K / 9.0)).astype(int)
AGAIN = np.r_[T_S[:120], T_S[:120]]
LOST = K + 7 * (K > 90)
EVENING = datetime(2026, 3, 1, 23, 59, 59, 500_000)


class Told(NamedTuple):
    """A column's heading and cells, and the seconds of each stretch that they mean."""

    heading: str
    cells: Sequence[str]
    stretches: Sequence[NDArray[Any]] = (T_S,)
    options: dict[str, Any] = {}  # noqa: RUF012 - never written to


def _cells(values: Any, form: str = ".6f") -> list[str]:
    return [format(value, form) for value in values]


def _dates(form: str) -> list[str]:
    return [(EVENING + timedelta(seconds=float(t))).strftime(form) for t in T_S]


def _at(rows: dict[int, float]) -> list[str]:
    return _cells([rows.get(k, t) for k, t in enumerate(T_S)])


def _without(*rows: int) -> tuple[NDArray[Any], ...]:
    return (np.delete(T_S, rows),)


TIMES = {
    "a 16-bit counter": Told("t_us", _cells((4000 * K + 9000) % 65536, "d")),
    "a signed 16-bit counter": Told("t_us", _cells((4000 * K) % 65536 - 32768, "d")),
    "a 24-bit counter": Told("t_us", _cells((4000 * K + 2**24 - 9000) % 2**24, "d")),
    "a 32-bit counter": Told("micros", _cells((4000 * K + 2**32 - 9000) % 2**32, "d")),
    "a counter with cells missing": Told("t_us", ["" if k in (50, 90) else str(4000 * k % 65536) for k in K],
                                         _without(50, 90)),
    "time that begins anew": Told("time_s", _cells(AGAIN), (T_S[:120], T_S[:120])),
    "time that begins anew late": Told("time_s", _cells(AGAIN + 5.0), (T_S[:120], T_S[:120])),
    "two rows that changed places": Told("time_s", _at({100: T_S[101], 101: T_S[100]}), _without(100)),
    "a stamp that steps back": Told("time_s", _at({100: T_S[98]}), _without(100)),
    "a stamp of nought": Told("time_s", _at({100: 0.0}), _without(100)),
    "a stamp far ahead": Told("time_s", _at({100: 1e6}), _without(100)),
    "a stamp a little ahead": Told("time_s", _at({100: T_S[120]}), _without(100)),
    "a first row from before": Told("time_s", _at({0: 17.0}), (T_S[1:],)),
    "a last row from behind": Told("time_s", _at({N - 1: 0.0}), (T_S[:-1],)),
    "the newest row first": Told("time_ms", _cells(1e3 * T_S[::-1], ".1f")),
    "a gap": Told("time_s", _cells(T_S + 0.7 * (K > 120)), (T_S + 0.7 * (K > 120),)),
    "minutes of an unknown name": Told("Durée (min)", _cells(T_S / 60, ".9f")),
    "two clocks of unknown names": Told("host_ms;device_us", [f"{4 * k};{4000 * k + 77}" for k in K]),
    "a date with the month first": Told("timestamp", _dates("%m/%d/%Y %I:%M:%S.%f %p")),
    "a date with the day first": Told("Datum", _dates("%d.%m.%Y %H:%M:%S.%f")),
    "a heading that elsewhere sets a date": Told("Date", _dates("%Y-%m-%dT%H:%M:%S.%f")),
    "a clock past midnight": Told("time", _dates("%H:%M:%S.%f")),
    "whole seconds and their milliseconds": Told("time;ms", [f"{a[:-7]};{int(a[-6:-3])}"
                                                             for a in _dates("%H:%M:%S.%f")]),
    "a counter beside a rate": Told("# sample rate: 250 Hz\nsample", _cells(K, "d")),
    "a counter with lost rows beside a rate": Told("# sample rate: 250 Hz\nsample", _cells(LOST, "d"),
                                                   (STEP_S * LOST,)),
    "a counter that begins anew beside a rate": Told("# sample rate: 250 Hz\nsample", _cells(K % 120, "d"),
                                                     (T_S[:120], T_S[:120])),
    "a counter of a byte beside a rate": Told("# sample rate: 250 Hz\nsample", _cells((K + 99) % 256, "d")),
    "a named counter": Told("reading", _cells(LOST, "d"), (STEP_S * LOST,),
                            {"time": "reading", "time_unit": "samples"}),
    "a unit in words": Told("stamp", _cells(T_S / 60, ".9f"), (T_S,), {"time": "stamp", "time_unit": "min"}),
}  # fmt: skip


def _written(told: Told, names: str, values: Sequence[str], folder: Path) -> Path:
    path = folder / "alder.csv"
    rows = (f"{cell};{value}\n" for cell, value in zip(told.cells, values, strict=True))
    path.write_text(f"{told.heading};{names}\n" + "".join(rows), encoding="utf-8")
    return path


def _of_log(told: Told, folder: Path) -> tuple[list[str], list[NDArray[Any]]]:
    path = _written(told, "left_x", [str(value) for value in OUT], folder)
    rate: dict[str, Any] = {"rate_hz": 1 / STEP_S} if told.options.get("time_unit") == "samples" else {}
    read = DelimitedReader().read(path, **told.options, **rate)
    t_s = read.streams[0].time.t_s
    joints = [gap.end_s for gap in read.gaps if gap.reason == "time steps back"]
    parts = np.split(t_s, np.searchsorted(t_s, joints))  # a row without a time of its own has that of the row before
    return [stream.name for stream in read.streams], [np.unique(part) for part in parts]


def _of_capture(told: Told, folder: Path) -> tuple[list[str], list[NDArray[Any]]]:
    path = _written(told, "Out (V)", [f"{value / 1000:.3f}" for value in OUT], folder)
    interval: dict[str, Any] = {"interval_s": STEP_S} if told.options.get("time_unit") == "samples" else {}
    read = read_captures(path, **told.options, **interval)
    return [channel.name for channel in read[0].channels], [capture.t_s for capture in read]


@pytest.mark.parametrize("style", TIMES)
def test_both_readers_tell_the_same_times(style: str, tmp_path: Path) -> None:
    told = TIMES[style]
    for read, name in ((_of_log, "left_x"), (_of_capture, "Out")):
        names, found = read(told, tmp_path)
        assert names == [name]
        assert [one.size for one in found] == [one.size for one in told.stretches]
        for own, true in zip(found, told.stretches, strict=True):
            np.testing.assert_allclose(own - own[0], true - true[0], rtol=0, atol=2e-6)


@pytest.mark.parametrize(
    ("heading", "cells"),
    [("time_s", _cells(T_S[np.random.default_rng(1).permutation(N)])), ("time_s", ["7.0"] * N), ("", [""] * N)],
    ids=["shuffled", "standing still", "none"],
)
def test_both_readers_refuse_what_is_no_time(heading: str, cells: list[str], tmp_path: Path) -> None:
    for read in (_of_log, _of_capture):
        with pytest.raises(FormatError) as refused:
            read(Told(heading, cells), tmp_path)
        assert refused.value.next_step


def test_a_capture_loses_what_its_time_tells_twice_and_a_log_is_split_there(tmp_path: Path) -> None:
    told = Told("time_s", _cells(np.r_[T_S[:150], T_S[140:230]]))
    assert [one.size for one in _of_log(told, tmp_path)[1]] == [150, 90]
    (t_s,) = _of_capture(told, tmp_path)[1]
    assert t_s.size in (230, 231)
    assert np.all(np.diff(t_s) > 0)


def test_a_short_stretch_before_time_begins_anew_is_not_mixed_into_the_next(tmp_path: Path) -> None:
    told = Told("time_s", _cells(np.r_[T_S[:20], T_S[:220]]))
    assert [one.size for one in _of_log(told, tmp_path)[1]] == [20, 220]
    assert [one.size for one in _of_capture(told, tmp_path)[1]] == [220]


@pytest.mark.parametrize("every", [240, 40, 20])
def test_a_report_whose_stamp_steps_back_is_not_lost(every: int, tmp_path: Path) -> None:
    late = {k: T_S[k - 1] - 0.001 for k in range(20, N - 5, every)}
    path = _written(Told("time_s", _at(late)), "left_x", [str(value) for value in OUT], tmp_path)
    read = DelimitedReader().read(path)
    assert read.streams[0].codes.tolist() == OUT.tolist()
    assert not read.gaps
    assert any(f"{len(late)} row" in remark and "out of order" in remark for remark in read.provenance.remarks)
