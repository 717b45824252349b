"""Whole logs in many styles: what comes out, what is said, what is refused."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.model import LogReader, Recording

N = 600
K = np.arange(N)
# A stick that rests, then swings to the rim and back: 12-bit codes, every report logged at 250 Hz.
X = np.where(K < 100, 2048, np.round(2048 + 1900 * np.sin((K - 100) * 0.05))).astype(int)
Y = np.where(K < 100, 2050, np.round(2048 - 1500 * np.sin((K - 100) * 0.05))).astype(int)

Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def _write(lines: Sequence[str], *, encoding: str = "utf-8", end: str = "\n", name: str = "alder.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(("".join(line + end for line in lines)).encode(encoding))
        return path

    return _write


def _rows(times: Any, *columns: Any, separator: str = ",") -> list[str]:
    return [separator.join(str(cell) for cell in row) for row in zip(times, *columns, strict=True)]


def _ms() -> list[int]:
    return (K * 4).tolist()


def _check(recording: Recording, *, names: Sequence[str] = ("x", "y"), n: int = N) -> None:
    assert [stream.name for stream in recording.streams] == list(names)
    first = recording.streams[0]
    assert first.time.clock == "log"
    assert all(stream.time is first.time for stream in recording.streams)
    np.testing.assert_allclose(first.time.t_s - first.time.t_s[0], K[:n] * 0.004, atol=1e-6)
    np.testing.assert_array_equal(first.codes, X[:n])


def read(path: Path, **options: Any) -> Recording:
    return DelimitedReader().read(path, **options)


def test_the_reader_is_one() -> None:
    assert isinstance(DelimitedReader(), LogReader)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|", " "])
def test_separators(write: Write, separator: str) -> None:
    recording = read(write([separator.join(("time_ms", "x", "y")), *_rows(_ms(), X, Y, separator=separator)]))
    _check(recording)
    assert recording.provenance.facts["reports"] == "every"
    assert (recording.streams[0].scale.centre, recording.streams[0].scale.reach) == (2048.0, 2047.0)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "latin-1"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_encodings_and_line_ends(write: Write, encoding: str, end: str) -> None:
    header = "time (µs);x;y"
    _check(read(write([header, *_rows((K * 4000).tolist(), X, Y, separator=";")], encoding=encoding, end=end)))


def test_decimal_comma(write: Write) -> None:
    times = [f"{k * 0.004:.4f}".replace(".", ",") for k in K]
    fractions = [f"{(x - 2048) / 2048:.5f}".replace(".", ",") for x in X]
    recording = read(write(["t [s];x", *_rows(times, fractions, separator=";")]))
    assert recording.streams[0].scale.unit == "fraction"
    assert recording.streams[0].scale.reach == 1.0
    np.testing.assert_allclose(recording.streams[0].codes, (X - 2048) / 2048, atol=1e-5)
    np.testing.assert_allclose(recording.streams[0].time.t_s, K * 0.004, atol=1e-9)


@pytest.mark.parametrize(
    ("header", "times"),
    [
        ("t_s", [f"{k * 0.004:.3f}" for k in K]),
        ("t", [f"{k * 0.004:.3f}" for k in K]),
        ("Time/ns", [k * 4_000_000 for k in K]),
        ("timestamp (us)", [k * 4000 for k in K]),
        ("timestamp", [k * 4 for k in K]),
        ("epoch", [f"{1.7e9 + k * 0.004:.3f}" for k in K]),
        ("timestamp", [1_700_000_000_000 + 4 * k for k in K]),
        ("timestamp", [1_700_000_000_000_000_000 + 4_000_000 * k for k in K]),
        (
            "time",
            [f"10:59:{59 + k * 0.004:06.3f}" for k in K[:250]] + [f"11:00:{k * 0.004:06.3f}" for k in K[: N - 250]],
        ),
        ("time", [f"23:59:59.{4 * k:03d}" for k in K[:250]] + [f"00:00:{k * 0.004:06.3f}" for k in K[: N - 250]]),
        ("when", [f"2024-05-01T10:00:{k * 0.004:06.3f}Z" for k in K]),
        ("", [f"2024-05-01 10:00:{k * 0.004:06.3f}" for k in K]),
    ],
)
def test_times(write: Write, header: str, times: list[Any]) -> None:
    _check(read(write([f"{header},x,y", *_rows(times, X, Y)])))


def test_no_header(write: Write) -> None:
    recording = read(write(_rows([f"{k * 0.004:.3f}" for k in K], X, Y)))
    assert len(recording.streams) == 2
    np.testing.assert_array_equal(recording.streams[0].codes, X)


def test_comment_lines_quotes_and_extra_columns(write: Write) -> None:
    lines = ["# bench 3, spring as it came", "# operator: two", '"time_ms","left x","left y","a","phase","fixed","seq"']
    rows = [f'"{4 * k}","{X[k]}","{Y[k]}",{k // 50 % 2},"{"rest" if k < 100 else "flick, left"}",7,{k}' for k in K]
    recording = read(write([*lines, *rows]))
    _check(recording, names=("left x", "left y"))
    assert [(event.name, event.value) for event in recording.buttons[:3]] == [("a", 1), ("a", 0), ("a", 1)]
    assert recording.buttons[0].t_hi_s == pytest.approx(0.2)
    assert any("'fixed' is no axis: constant" in remark for remark in recording.provenance.remarks)


def test_a_torn_last_line_is_dropped(write: Write, tmp_path: Path) -> None:
    path = write(["time_ms,x,y", *_rows(_ms(), X, Y)])
    path.write_bytes(path.read_bytes()[:-3])
    recording = read(path)
    _check(recording, n=N - 1)
    assert any("torn" in remark for remark in recording.provenance.remarks)


def test_a_single_row_with_a_cell_too_many_is_told(write: Write) -> None:
    rows = _rows(_ms(), X, Y)
    rows[300] += ",7"
    assert any("1 row with more than 3 cells left out" in remark for remark in
               read(write(["time_ms,x,y", *rows])).provenance.remarks)  # fmt: skip


def test_a_restart_and_a_step_back_split_the_log(write: Write) -> None:
    times = np.array(_ms())
    times[300:] -= times[300]
    times[500:] -= 40
    recording = read(write(["time_ms,x,y", *_rows(times.tolist(), X, Y)]))
    assert len(recording.gaps) == 2
    t_s = recording.streams[0].time.t_s
    np.testing.assert_allclose(np.diff(t_s)[[298, 299, 300, 499]], [0.004, 1.0, 0.004, 1.0], atol=1e-9)
    assert [remark.split(" at row")[0] for remark in recording.provenance.remarks] == [
        "time restarts",
        "time steps back",
    ]


def test_all_but_one_step_backward_is_refused(write: Write) -> None:
    times = _ms()[::-1]
    times[1], times[2] = times[2], times[1]
    path = write(["time_ms,x,y", *_rows(times, X, Y)])
    with pytest.raises(FormatError, match=r"must run forward[\s\S]*file: alder.csv[\s\S]*steps back: 598"):
        read(path)


def test_rows_with_the_newest_first_are_turned_round(write: Write) -> None:
    recording = read(write(["time_ms,x,y", *_rows(_ms()[::-1], X[::-1], Y[::-1])]))
    _check(recording, n=N)
    assert "the times run downwards; the rows were turned round" in recording.provenance.remarks


def test_equal_times_and_silences(write: Write) -> None:
    times = np.array(_ms())
    times[50] = times[49]
    times[400:] += 2000
    recording = read(write(["time_ms,x,y", *_rows(times.tolist(), X, Y)]))
    assert [(gap.reason, round(gap.end_s - gap.start_s, 3)) for gap in recording.gaps] == [("no rows", 2.004)]
    assert any("1 row shares its time stamp" in remark for remark in recording.provenance.remarks)


def test_a_log_that_speaks_on_change(write: Write) -> None:
    moving = np.concatenate([[0], np.flatnonzero((np.diff(X) != 0) | (np.diff(Y) != 0)) + 1])
    assert moving[1] > 90
    recording = read(write(["time_ms,x,y", *_rows((moving * 4).tolist(), X[moving], Y[moving])]))
    assert recording.streams[0].reports == "on_change"
    assert recording.gaps == ()


def test_axes_that_never_rest_together_speak_on_change(write: Write) -> None:
    rng = np.random.default_rng(5)
    x, y = (np.cumsum(rng.integers(0, 3, 900) - 1) for _ in range(2))
    every = [f"{4 * k},{x[k]},{y[k]}" for k in range(900)]
    moved = [0, *(np.flatnonzero((np.diff(x) != 0) | (np.diff(y) != 0)) + 1)]
    assert len(moved) > 700
    assert read(write(["time_ms,x,y", *every])).streams[0].reports == "every"
    assert read(write(["time_ms,x,y", *(every[k] for k in moved)])).streams[0].reports == "on_change"


@pytest.mark.parametrize("names", [("left_x", "left_y"), (0, 1)])
def test_a_long_log_is_sorted_by_axis(write: Write, names: tuple[Any, Any]) -> None:
    rows = [line for k in K for line in (f"{4 * k},{names[0]},{X[k]}", f"{4 * k},{names[1]},{Y[k]}")]
    recording = read(write(["time_ms,axis,value", *rows]))
    expected = names if isinstance(names[0], str) else ("axis_0", "axis_1")
    assert [stream.name for stream in recording.streams] == list(expected)
    np.testing.assert_array_equal(recording.streams[1].codes, Y)
    assert recording.streams[0].time.t_s.size == N
    assert recording.provenance.facts["layout"] == "one row an event"


def test_a_long_log_with_buttons(write: Write) -> None:
    rows = [f"{4 * k},axis,left_x,{X[k]}" for k in K]
    rows[200:200] = ["800,button,a,1", "800,button,a,0", "800,axis,left_y,5", "800,axis,left_y,9", "800,axis,left_y,11"]
    recording = read(write(["t_ms,kind,name,value", *rows]))
    assert [stream.name for stream in recording.streams] == ["left_x", "left_y"]
    assert [event.value for event in recording.buttons] == [1, 0]


def test_empty_cells_mean_no_report_of_that_axis(write: Write) -> None:
    rows = [f"{4 * k},{X[k]}," if k % 2 else f"{4 * k},,{Y[k]}" for k in K]
    recording = read(write(["time_ms,x,y", *rows]))
    np.testing.assert_array_equal(recording.stream("x").codes, X[1::2])
    np.testing.assert_array_equal(recording.stream("y").codes, Y[::2])
    assert recording.stream("x").reports == "on_change"


def test_a_few_impossible_cells_cost_their_rows(write: Write) -> None:
    rows = _rows(_ms(), X, Y)
    rows[120], rows[300] = "480,nan,5", "1200,7,inf"
    recording = read(write(["time_ms,x,y", *rows]))
    assert recording.streams[0].codes.size == N - 2
    assert recording.streams[0].codes.dtype == np.int64
    assert any("2 rows with an empty or impossible cell left out" in r for r in recording.provenance.remarks)


def test_torn_cells_here_and_there_cost_their_rows_and_the_log_still_has_every_report(write: Write) -> None:
    rows = _rows(_ms(), X, Y)
    for k in (60, 120, 180, 240):
        rows[k] = f"{4 * k},,{Y[k]}"
    recording = read(write(["time_ms,x,y", *rows]))
    assert {stream.reports for stream in recording.streams} == {"every"}
    assert recording.stream("x").time.t_s.size == recording.stream("y").time.t_s.size == N - 4


@pytest.mark.parametrize(("without", "layout"), [(3, "one row an event"), (10, "one column an axis")])
def test_remarks_beside_some_values_are_no_names_of_axes(write: Write, without: int, layout: str) -> None:
    named = [f"{4 * k},{'' if k % 12 < without else 'xy'[k % 2]},{X[k] if k % 2 else Y[k]}" for k in K]
    assert read(write(["time_ms,note,value", *named])).provenance.facts["layout"] == layout


def test_a_changed_column_count_keeps_what_fits_the_header(write: Write) -> None:
    rows = _rows(_ms(), X, Y)
    rows[500:] = [row + ",9" for row in rows[500:]]
    recording = read(write(["time_ms,x,y", *rows]))
    assert recording.streams[0].codes.size >= 500
    np.testing.assert_array_equal(recording.streams[0].codes[:500], X[:500])
    assert recording.provenance.remarks


def test_one_axis_and_triggers(write: Write) -> None:
    trigger = np.clip(K - 400, 0, 255)
    recording = read(write(["time_ms,x,rt", *_rows(_ms(), X, trigger)]))
    assert (recording.stream("rt").scale.centre, recording.stream("rt").scale.reach) == (0.0, 255.0)
    assert [stream.name for stream in read(write(["time_ms,x", *_rows(_ms(), X)])).streams] == ["x"]


def test_overrides(write: Write) -> None:
    path = write(["stamp_ms,n,p,q,r", *_rows(_ms(), K, X, Y, X - Y)])
    by_rate = read(path, rate_hz=250, axes="p, q")
    assert [stream.name for stream in by_rate.streams] == ["p", "q"]
    assert by_rate.streams[0].time.regular_interval_s == 0.004
    assert read(path, time="n", time_unit="ms").streams[0].time.t_s[-1] == pytest.approx(0.599)
    assert read(path, time="n", time_unit="samples", rate_hz=1000).streams[0].time.t_s[-1] == pytest.approx(0.599)
    assert read(path, axes=["p"], full_scale=8191).streams[0].scale.reach == 4095.0
    with pytest.raises(FormatError, match=r"--axes must name a column[\s\S]*columns: stamp_ms, n, p, q, r"):
        read(path, axes="z")


def test_a_step_of_one_is_asked_for(write: Write) -> None:
    path = write(["t,x,y", *_rows(K.tolist(), X, Y)])
    with pytest.raises(FormatError, match=r"cannot be told[\s\S]*possible: ms, samples[\s\S]*--time-unit"):
        read(path)
    assert read(path, time_unit="ms").streams[0].time.t_s[-1] == pytest.approx(0.599)


def test_provenance(write: Write) -> None:
    path = write(["time_ms;x;y", *_rows(_ms(), X, Y, separator=";")])
    provenance = read(path).provenance
    assert len(provenance.sha256) == 64
    assert provenance.format == "delimited"
    facts = provenance.facts
    assert (facts["separator"], facts["time column"], facts["time unit"]) == (";", "time_ms", "ms")
    assert facts["median step (s)"] == "0.004"


@pytest.mark.parametrize(
    ("lines", "match"),
    [
        (["t_s,drive,output", *[f"{k * 1e-3:.4f},{k % 2},{k % 7}" for k in K]], "looks like a scope capture"),
        (["Time (s),CH1 (V)", *[f"{k * 1e-3:.4f},{k % 9}.5" for k in K]], "looks like a scope capture"),
        (["t_s,a", *[f"{k * 1e-6:.7f},{k % 9}.5" for k in K]], "looks like a scope capture"),
        (["time_ms,x,y", *[f"{4 * k},5,5" for k in K]], "at least one axis"),
        (["time_ms", *[f"{4 * k}" for k in K]], r"axis|column"),
        (["time_ms,x", "0,5", "4,6"], "row"),
        (["time_ms,x,y", "0,5,1", "4,,6"], "at least three rows|at least one axis"),
        (["time_ms,x", *["4,5", "4,6", "4,7", "4,9"] * 9], "time that advances"),
        (["t_s,x", *[f"0,{k:03d}0,0,{k % 7}" for k in K]], "separated by commas too"),
        (["Interval,5E-5", "Time (s),Out (V)", *[f"{k * 1e-3},{k % 7}" for k in K]], "looks like a scope capture"),
        (["frame,x", *[f"{k},{X[k]}" for k in K]], "--rate-hz"),
    ],
)
def test_what_is_no_log_is_refused(write: Write, lines: list[str], match: str) -> None:
    with pytest.raises(FormatError, match=match):
        read(write(lines))


def test_thousands_of_columns_are_refused(write: Write) -> None:
    row = ",".join(str(k % 13) for k in range(3000))
    with pytest.raises(FormatError, match="column"):
        read(write([",".join(f"c{k}" for k in range(3000)), row, row, row, row]))


def test_a_row_of_units(write: Write) -> None:
    _check(read(write(["time,x,y", "ms,counts,counts", *_rows(_ms(), X, Y)])))
    with pytest.raises(FormatError, match="scope capture"):
        read(write(["time,x,y", "s,V,V", *_rows(_ms(), X, Y)]))


def test_text_around_and_inside_the_table_is_left_out(write: Write) -> None:
    rows = _rows(_ms(), X, Y)
    rows[300:301] = [rows[300], "time_ms,x,y", ""]
    lines = ["logger 2, specimen alder", "rate: 250 Hz, axes: 2", "", "time_ms,x,y", *rows, "", "600 rows"]
    recording = read(write(lines))
    _check(recording)
    assert recording.provenance.remarks == (
        "the names stand inside the data 1 more time and were left out there",
        "1 row with a single cell left out",
    )


def test_columns_that_change_places_are_refused(write: Write) -> None:
    rows = _rows(_ms(), X, Y)
    with pytest.raises(FormatError, match="change places"):
        read(write(["time_ms,x,y", *rows[:300], "time_ms,y,x", *rows[300:]]))


def test_decimal_comma_between_tabs(write: Write) -> None:
    rows = [f"{k * 4 + 0.25:.2f}\t{X[k]}\t{Y[k]},0".replace(".", ",") for k in K]
    _check(read(write(["t (ms)\tx\ty", *rows])))


def test_whole_seconds_and_microseconds_apart(write: Write) -> None:
    seconds, micros = 1_700_000_000 + K // 250, K % 250 * 4000
    recording = read(write(["sec,usec,x,y", *_rows(seconds, micros, X, Y)]))
    _check(recording)
    assert recording.provenance.facts["time column"] == "sec + usec"


def test_stamps_too_coarse_are_refused(write: Write) -> None:
    with pytest.raises(FormatError, match=r"too coarse[\s\S]*--rate-hz"):
        read(write(["time_s,x,y", *_rows(K // 250, X, Y)]))


def test_events_of_an_input_device(write: Write) -> None:
    rows = [line for k in K for line in (f"{4 * k},EV_ABS,ABS_X,{X[k]}", f"{4 * k},EV_SYN,SYN_REPORT,0")]
    rows[100:100] = ["200,EV_KEY,BTN_SOUTH,1", "200,EV_KEY,BTN_SOUTH,0"]
    recording = read(write(["time_ms,type,code,value", *rows]))
    _check(recording, names=("ABS_X",))
    assert [event.name for event in recording.buttons] == ["BTN_SOUTH", "BTN_SOUTH"]


def test_rows_that_end_early_for_a_stretch(write: Write) -> None:
    rows = [f"{4 * k},{X[k]},{Y[k]}" if k < 300 else f"{4 * k},{X[k]}" for k in K]
    recording = read(write(["time_ms,x,y", *rows]))
    assert recording.stream("x").codes.size == N
    assert recording.stream("y").codes.size == 300
    assert recording.stream("x").reports == "every"


def test_one_column_needs_a_rate(write: Write) -> None:
    path = write(["x", *(str(x) for x in X)])
    with pytest.raises(FormatError, match="rows of numbers in columns"):
        read(path)
    np.testing.assert_array_equal(read(path, rate_hz=250).streams[0].codes, X)


def test_both_ends_of_a_bracket_take_the_upper(write: Write) -> None:
    rows = [f"{4_000_000 * k - 90_000},{4_000_000 * k},axis,x,{X[k]},." for k in K]
    recording = read(write(["t_lo_ns,t_hi_ns,kind,name,value,end", *rows]))
    assert recording.streams[0].time.t_s[1] == pytest.approx(0.004)


def test_a_ruled_table_and_a_first_row_with_a_bad_cell(write: Write) -> None:
    rows = [f"| {4 * k} | {X[k]} | {Y[k]} |" for k in K]
    _check(read(write(["| time_ms | x | y |", "|---|---|---|", *rows])))
    rows = _rows(_ms(), X, Y)
    recording = read(write(["time_ms,x,y", "-4,err,5", *rows]))
    assert recording.streams[0].name == "x"
    np.testing.assert_array_equal(recording.streams[0].codes, X)


def test_what_was_guessed_or_left_out_is_said(write: Write) -> None:
    rows = [f"{4 * k},{X[k]},at {Y[k]}" for k in K]
    remarks = read(write(["clicks,p,q", *rows])).provenance.remarks
    assert remarks == (
        "column 'clicks' was taken as the time: it alone runs forward",
        "the unit of column 'clicks' was told from its steps: ms",
        "column 'q' is no axis: text",
    )


def test_thousands_grouped_by_the_separator_are_refused(write: Write) -> None:
    for rows in (
        [f"{t},{20 * x:,}" for t, x in zip(_ms(), X, strict=True)],
        [f"{t:,},{x}" for t, x in zip(_ms(), X, strict=True)],
    ):
        with pytest.raises(FormatError, match="group thousands"):
            read(write(["time_ms,left_x", *rows]))


def test_a_long_log_whose_values_are_all_empty_is_refused(write: Write) -> None:
    path = write(["time_s,type,name,value", *(f"{0.01 * k:.2f},axis,x," for k in range(60))])
    with pytest.raises(FormatError, match="at least one axis"):
        read(path)


def test_an_empty_group_of_a_long_log_is_left_out(write: Write) -> None:
    rows = [row for k in range(200) for row in (f"{0.01 * k:.2f},axis,x,{k % 50}", f"{0.01 * k:.2f},button,fire,")]
    recording = read(write(["time_s,type,name,value", *rows]))
    assert [stream.name for stream in recording.streams] == ["x"]
    assert recording.buttons == ()


def test_minutes_intervals_and_a_pause_of_an_hour(write: Write) -> None:
    times = [0.01 * k + (3600.0 if k >= 300 else 0.0) for k in range(600)]
    recording = read(write(["elapsed_min,x,y", *_rows([f"{t / 60:.9f}" for t in times], X, Y)]))
    assert recording.streams[0].reports == "every"
    assert [round(gap.end_s - gap.start_s, 1) for gap in recording.gaps] == [3600.0]


def test_rows_torn_inside_their_time_do_not_split_the_log(write: Write) -> None:
    rows = _rows([f"{4e-3 * k:.3f}" for k in range(N)], X, Y)
    for k in (150, 300, 450):
        rows[k] = rows[k].split(",")[0][:3]
    recording = read(write(["time (s),x,y", *rows]))
    assert not recording.gaps
    assert recording.streams[0].codes.size == N - 3
    assert any("3 rows with a single cell" in said for said in recording.provenance.remarks)


def test_a_host_that_wakes_every_few_reports_wrote_no_capture(tmp_path: Path) -> None:
    rows = [f"{0.016 * (k // 16) + 3e-5 * (k % 16):.6f},{k % 7},{k % 5}" for k in range(400)]
    path = tmp_path / "bursts.csv"
    path.write_text("\n".join(["t_s,x,y", *rows]) + "\n", encoding="utf-8")
    assert {stream.name for stream in DelimitedReader().read(path).streams} == {"x", "y"}
