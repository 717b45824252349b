"""What names, stamps, steps and ranges of columns are taken for."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest

from feelcheck.errors import FormatError
from feelcheck.formats._columns import find_column
from feelcheck.formats._delimited_axes import as_codes, assign_roles, button_states
from feelcheck.formats._delimited_options import LogOptions, parse_options
from feelcheck.formats._delimited_scale import deduce_scales, stated_scale
from feelcheck.formats._delimited_time import read_time
from feelcheck.formats._names import find_unit, read_name, time_unit_name
from feelcheck.formats._stamps import looks_like_stamps, read_stamps
from feelcheck.formats._time_line import lay_out, unwrapped
from feelcheck.formats._time_units import infer_unit


@pytest.mark.parametrize(
    ("name", "role", "unit"),
    [
        ("t_s", "time", "s"),
        ("time_ms", "time", "ms"),
        ("timestamp (us)", "time", "us"),
        ("t [s]", "time", "s"),
        ("Time/ns", "time", "ns"),
        ("timestamp_us", "time", "us"),
        ("timeMs", "time", "ms"),
        ("timems", "time", "ms"),
        ("Time (µs)", "time", "us"),
        ("elapsed seconds", "time", "s"),
        ("millis", "time", "ms"),
        ("[ms]", "time", "ms"),
        ("hosttime in ms", "time", "ms"),
        ("Zeit / s", "time", "s"),
        ("Timestamp", "time", ""),
        ("t", "time", ""),
        ("loop_time_us", "other", "us"),
        ("dt", "other", ""),
        ("frame", "counter", ""),
        ("report no", "counter", ""),
        ("battery", "other", ""),
        ("left trigger", "trigger", ""),
        ("left_x", "", ""),
        ("x", "abscissa", ""),
        ("xs", "", ""),
        ("CH1 (V)", "", "v"),
    ],
)
def test_a_name_tells_role_and_unit(name: str, role: str, unit: str) -> None:
    read = read_name(name)
    told = time_unit_name(read.time_factor) if read.time_factor else "v" if read.unit and read.is_bracketed else ""
    assert (read.role, told) == (role, unit)


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        (["2024-05-01T10:00:00.000", "2024-05-01T10:00:00.004"], 0.004),
        (["2024-05-01 10:00:00,000+02:00", "2024-05-01 10:00:00,004+02:00"], 0.004),
        (["2024-05-01T23:59:59.999Z", "2024-05-02T00:00:00.003Z"], 0.004),
        (["2024-05-01T10:00:00.000000123", "2024-05-01T10:00:00.000001123"], 1e-6),
        (["23:59:59.999", "00:00:00.003"], 0.004),
        (["10:00:00,5", "10:00:01"], 0.5),
        (["59:59.998", "60:00.002"], 0.004),
        (["10:00:00:996", "10:00:01:000"], 0.004),
        (["20240501T100000.996", "20240501T100001.000"], 0.004),
        (["01.05.2024 10:00:00.000", "01.05.2024 10:00:00.004"], 0.004),
        (["5/1/2024 9:59:59.999", "5/1/2024 10:00:00.003"], 0.004),
    ],
)
def test_text_stamps_become_seconds(cells: list[str], expected: float) -> None:
    column = np.array(cells, dtype=object)
    assert looks_like_stamps(column)
    # Seconds of a day in a double: one part in 2**53 of 86400 s is 1e-11 s.
    assert float(np.diff(read_stamps(column).seconds)[0]) == pytest.approx(expected, abs=1e-9)


def test_a_cell_that_is_no_stamp_has_no_time() -> None:
    stamps = read_stamps(np.array(["10:00:00.0", "oops", "10:00:00.2"], dtype=object))
    seconds, style = stamps.seconds, stamps.style
    assert np.isnan(seconds[1])
    assert seconds[2] - seconds[0] == pytest.approx(0.2, abs=1e-9)
    assert style == "time of day"


@pytest.mark.parametrize("cells", [["left", "right"], ["", ""], ["1.2.3", "4:5"], []])
def test_other_text_is_no_stamp(cells: list[str]) -> None:
    assert not looks_like_stamps(np.array(cells, dtype=object))


@pytest.mark.parametrize(
    ("ticks", "unit"),
    [
        (np.arange(9) * 0.001, "s"),
        (5.0 + np.arange(9) * 0.008, "s"),
        (np.arange(9) * 0.125, "ms"),
        (np.arange(9) * 4.0, "ms"),
        (np.arange(9) * 1000.0, "us"),
        (np.arange(9) * 1e6, "ns"),
        (1.7e9 + np.arange(9) * 0.001, "s"),
        (1.7e12 + np.arange(9) * 1.0, "ms"),
        (1.7e15 + np.arange(9) * 1000.0, "us"),
        (1.7e18 + np.arange(9) * 1e6, "ns"),
        (1e12 + np.arange(9) * 1e6, "ns"),
    ],
)
def test_the_unit_is_told_where_one_alone_is_possible(ticks: Any, unit: str) -> None:
    assert infer_unit("t", ticks) == unit


@pytest.mark.parametrize("step", [1.0, 0.1, 100.0, 1e5, 1e9])
def test_an_ambiguous_or_impossible_unit_is_asked_for(step: float) -> None:
    with pytest.raises(FormatError, match=r"unit of time column 't' cannot be told[\s\S]*--time-unit"):
        infer_unit("t", np.arange(9.0) * step)


@pytest.mark.parametrize("since", [date(1601, 1, 1), date(1, 1, 1)])
def test_ticks_of_100_ns_are_told_by_their_date(since: date) -> None:
    """A file time counts from 1601, a calendar's ticks from the year 1 (public documentation of both, from memory)."""
    start = ((date(2026, 5, 1) - since).days * 86400 + 36000.0) * 1e7
    assert infer_unit("t", start + np.arange(9.0) * 1e4) == "100 ns"


def test_an_instant_later_than_dates_can_be_is_asked_for() -> None:
    with pytest.raises(FormatError, match="--time-unit"):
        infer_unit("t", 5.1e17 + np.arange(9.0) * 1e4)


def _table(**columns: Any) -> dict[str, Any]:
    return {name: np.asarray(cells) for name, cells in columns.items()}


def test_a_time_without_name_is_the_column_that_runs_forward() -> None:
    time = read_time(_table(a=np.arange(9) * 0.004, b=[3, 1, 4, 1, 5, 9, 2, 6, 5]), LogOptions())
    assert time.facts["time column"] == "a"
    assert time.line.t_s[-1] == pytest.approx(0.032)


def test_no_time_is_asked_for_by_both_options() -> None:
    with pytest.raises(
        FormatError, match=r"needs a time column[\s\S]*counter: frame[\s\S]*--time COLUMN[\s\S]*--rate-hz"
    ):
        read_time(_table(frame=np.arange(9), x=[3, 1, 4, 1, 5, 9, 2, 6, 5]), LogOptions())


def test_a_stated_rate_counts_frames_and_keeps_lost_ones() -> None:
    columns = _table(frame=[0, 1, 3, 4], x=[3, 1, 4, 1])
    time = read_time(columns, LogOptions(rate_hz=250.0))
    assert time.line.t_s.tolist() == [0.0, 0.004, 0.012, 0.016]
    assert time.regular_interval_s is None
    rows = read_time(_table(x=[3, 1, 4, 1]), LogOptions(rate_hz=250.0))
    assert rows.regular_interval_s == 0.004


def test_samples_without_a_rate_are_refused() -> None:
    with pytest.raises(FormatError, match=r"needs the rate[\s\S]*--rate-hz"):
        read_time(_table(frame=[0, 1, 2], x=[3, 1, 4]), LogOptions(time_unit=find_unit("samples")))


def test_a_restart_splits_the_log_and_keeps_each_pace() -> None:
    line = lay_out(np.array([0.0, 0.1, 0.2, 0.0, 0.1]))
    np.testing.assert_allclose(line.t_s, [0.0, 0.1, 0.2, 1.2, 1.3], atol=1e-12)
    assert [(gap.start_s, gap.end_s) for gap in line.gaps] == [pytest.approx((0.2, 1.2))]
    assert "time restarts at row 4" in line.remarks[0]


def test_a_mostly_backward_time_is_refused() -> None:
    with pytest.raises(FormatError, match="must run forward"):
        lay_out(np.arange(100.0)[::-1] * 0.001)
    saw = np.tile(np.arange(10) * 0.001, 50)
    with pytest.raises(FormatError, match=r"steps back: 49"):
        lay_out(saw)


def test_a_time_that_stands_still_is_refused() -> None:
    with pytest.raises(FormatError, match="time that advances"):
        lay_out(np.full(5, 3.0))


def test_a_wrapping_counter_is_undone() -> None:
    ticks = np.arange(0, 200_000, 4, dtype=float)
    straight, remark = unwrapped(ticks % 65536)
    np.testing.assert_array_equal(straight, ticks)
    assert "wraps at 65536; 3 wraps" in remark
    restart = np.concatenate([np.arange(60.0), np.arange(60.0)])
    assert unwrapped(restart)[1] == ""


def _swing(low: float, high: float, rest: float, whole: bool = True) -> Any:
    values = np.concatenate([np.full(60, rest), np.linspace(rest, low, 25), np.linspace(rest, high, 25), [low, high]])
    return np.round(values).astype(np.int64) if whole else values


@pytest.mark.parametrize(
    ("low", "high", "rest", "whole", "centre", "reach"),
    [
        (-1.0, 1.0, 0.0, False, 0.0, 1.0),
        (-0.7, 0.72, 0.01, False, 0.0, 1.0),
        (0.05, 0.9, 0.5, False, 0.5, 0.5),
        (-32768, 32767, 120, True, 0.0, 32767.0),
        (-23000, 23100, -400, True, 0.0, 32767.0),
        (-127, 127, 0, True, 0.0, 127.0),
        (-100, 100, 0, True, 0.0, 100.0),
        (12, 240, 127, True, 128.0, 127.0),
        (12.25, 240.5, 127.5, False, 128.0, 127.0),
        (80, 950, 512, True, 512.0, 511.0),
        (300, 3800, 2050, True, 2048.0, 2047.0),
        (9000, 58000, 32700, True, 32768.0, 32767.0),
        (1000, 2000, 1500, True, 1500.0, 500.0),
    ],
)
def test_nominal_scales_are_told(
    low: float, high: float, rest: float, whole: bool, centre: float, reach: float
) -> None:
    found = deduce_scales({"x": _swing(low, high, rest, whole)}, frozenset())["x"]
    assert found.certain
    assert (found.scale.centre, found.scale.reach) == (centre, reach)


@pytest.mark.parametrize(
    ("low", "high", "rest", "whole", "centre", "reach"),
    [(0.3, 2.9, 1.6, False, 1.6, 1.3), (-8.0, 7.0, 0.1, False, 0.0, 8.0), (-400, 700, 30, True, 0.0, 700.0)],
)
def test_an_unknown_scale_is_taken_from_the_data_and_says_so(
    low: float, high: float, rest: float, whole: bool, centre: float, reach: float
) -> None:
    found = deduce_scales({"x": _swing(low, high, rest, whole)}, frozenset())["x"]
    assert not found.certain
    assert found.scale.centre == centre
    assert found.scale.reach == pytest.approx(reach)


def test_an_axis_that_hardly_moved_takes_the_other_ones_scale() -> None:
    found = deduce_scales({"y": _swing(125, 140, 128), "x": _swing(3, 250, 128)}, frozenset())
    assert found["y"].scale == found["x"].scale
    assert found["y"].certain


def test_a_trigger_rests_at_an_end() -> None:
    found = deduce_scales(
        {"left_trigger": _swing(0, 255, 0), "z": _swing(0, 1.0, 0.0, False)}, frozenset({"left_trigger"})
    )
    assert (found["left_trigger"].scale.centre, found["left_trigger"].scale.reach) == (0.0, 255.0)
    assert (found["z"].scale.centre, found["z"].scale.reach) == (0.0, 1.0)


def test_values_beyond_full_scale_are_counted() -> None:
    codes = _swing(300, 3800, 2050)
    codes[50] = 70_000
    found = deduce_scales({"x": codes}, frozenset())["x"]
    assert (found.scale.reach, found.n_beyond) == (2047.0, 1)


def test_a_stated_full_scale_is_kept() -> None:
    assert stated_scale(_swing(-400, 700, 0), 1200.0, False).scale.reach == 1200.0
    assert stated_scale(_swing(300, 700, 500), 1023.0, False).scale.centre == 512.0
    assert stated_scale(_swing(0.3, 2.9, 1.6, False), 3.3, False).scale.reach == 1.65


def test_whole_numbers_become_counts() -> None:
    assert as_codes(np.array([1.0, 2.0, -3.0])).dtype == np.int64
    assert as_codes(np.array([1.0, 2.5, -3.0])).dtype == np.float64


@pytest.mark.parametrize("cells", [[0, 1, 1], ["False", "True", "True"], ["up", "down", "down"]])
def test_buttons_are_two_states(cells: list[Any]) -> None:
    states = button_states(np.array(cells, dtype=object if isinstance(cells[0], str) else None))
    assert states is not None
    assert states.tolist() == [0, 1, 1]


def test_columns_that_are_no_axis_say_why() -> None:
    n = np.arange(40)
    columns = _table(
        x=np.round(900 * np.sin(n)).astype(int),
        hat=n % 3 - 1,
        fixed=np.full(40, 7),
        broken=np.full(40, np.nan),
        total=n * 3 + 5,
        a=n // 7 % 2,
        phase=np.array(["rest", "flick"] * 20, dtype=object),
    )
    roles = assign_roles(columns, frozenset(), LogOptions())
    assert roles.axes == ("x",)
    assert roles.buttons == ("a",)
    assert roles.ignored == {
        "hat": "only -1, 0 and 1, as of a four-way pad",
        "fixed": "constant",
        "broken": "empty, or no numbers that a stick could send",
        "total": "it only counts up",
        "phase": "text",
    }


def test_no_axis_lists_the_columns() -> None:
    with pytest.raises(FormatError, match=r"at least one axis[\s\S]*column 'x': constant[\s\S]*--axes"):
        assign_roles(_table(x=[5, 5, 5]), frozenset(), LogOptions())


def test_too_many_axes_are_asked_for() -> None:
    columns = {f"c{k}": np.random.default_rng(k).normal(size=30) for k in range(40)}
    with pytest.raises(FormatError, match=r"at most 32 axes[\s\S]*--axes A,B"):
        assign_roles(columns, frozenset(), LogOptions())
    assert assign_roles(columns, frozenset(), LogOptions(axes=("c3", "C4"))).axes == ("c3", "c4")


@pytest.mark.parametrize(
    ("options", "match"),
    [
        ({"colour": 1}, "known options"),
        ({"time_unit": "furlong"}, "unit of the time column is not known"),
        ({"rate_hz": -1}, "--rate-hz must be a positive number"),
        ({"full_scale": "wide"}, "--full-scale must be a positive number"),
    ],
)
def test_impossible_options_are_refused(options: dict[str, Any], match: str) -> None:
    with pytest.raises(FormatError, match=match):
        parse_options(options)


def test_a_missing_column_lists_those_there_are() -> None:
    with pytest.raises(FormatError, match=r"--time must name a column[\s\S]*columns: a, b"):
        find_column(["a", "b"], "c", "--time")
