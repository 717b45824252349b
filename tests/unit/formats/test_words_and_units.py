"""Names, units, numbers and stamps as instruments and loggers write them; factors from the SI, the rest by eye."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feelcheck.formats._names import find_unit, is_time_name, read_name, split_name, time_unit_name
from feelcheck.formats._numbers import OVER_RANGE_WORDS, cell_kind, parse_number, parse_quantity, resolution_of
from feelcheck.formats._plain_numbers import strip_inline
from feelcheck.formats._stamps import looks_like_stamps, read_stamps
from feelcheck.formats._time_line import lay_out, unwrapped
from feelcheck.formats._time_units import infer_unit


@pytest.mark.parametrize(
    ("text", "kind", "factor"),
    [
        ("s", "time", 1.0), ("ms", "time", 1e-3), ("µs", "time", 1e-6), ("μs", "time", 1e-6), ("us", "time", 1e-6),
        ("(ns)", "time", 1e-9), ("milliseconds", "time", 1e-3), ("min", "time", 60.0), ("Sek.", "time", 1.0),
        ("kHz", "frequency", 1e3), ("MSa/s", "frequency", 1e6), ("GHz", "frequency", 1e9), ("sps", "frequency", 1.0),
        ("V", "voltage", 1.0), ("mV", "voltage", 1e-3), ("[Volts]", "voltage", 1.0), ("uV", "voltage", 1e-6),
        ("A", "current", 1.0), ("mA", "current", 1e-3), ("T", "field", 1e3), ("mT", "field", 1.0), ("G", "field", 0.1),
        ("kG", "field", 100.0), ("ADC", "counts", 1.0), ("LSB", "counts", 1.0), ("samples", "index", 1.0),
        ("dBm", "level", 1.0), ("%", "other", 1.0),
    ],
)  # fmt: skip
def test_units_are_worth_what_the_si_says(text: str, kind: str, factor: float) -> None:
    unit = find_unit(text)
    assert unit is not None
    assert unit.kind == kind
    assert unit.factor == pytest.approx(factor)


@pytest.mark.parametrize("text", ["", "CH1", "furlong", "left", "x" * 30, "()"])
def test_what_is_no_unit(text: str) -> None:
    assert find_unit(text) is None


@pytest.mark.parametrize(
    ("cell", "name", "unit"),
    [
        ("Time (s)", "Time", "s"), ("CH2[mV]", "CH2", "mV"), ("t/ms", "t", "ms"), ("time_us", "time", "us"),
        ("CH1V", "CH1", "V"), ("Channel A", "Channel A", ""), ("coil a", "coil", "A"), ("volts out", "out", "volts"),
        ("C1 in V", "C1", "V"), ("left_x", "left_x", ""), ('"CH1 (V)"', "CH1", "V"), ("hall mG", "hall", "mG"),
        ("big mG", "big mG", ""), ("V", "", "V"), ("x", "x", ""),
    ],
)  # fmt: skip
def test_a_header_cell_is_a_name_and_a_unit(cell: str, name: str, unit: str) -> None:
    assert split_name(cell) == (name, unit)


@pytest.mark.parametrize(
    ("name", "is_time"),
    [
        ("Time", True),
        ("t", True),
        ("Zeit", True),
        ("x-axis", True),
        ("CH1", False),
        ("out", False),
        ("timer_count", False),
    ],
)
def test_names_of_time_axes(name: str, is_time: bool) -> None:
    assert is_time_name(name) is is_time


@pytest.mark.parametrize(
    ("name", "role", "unit"),
    [
        ("t_s", "time", "s"), ("timeUs", "time", "us"), ("timestamp (ns)", "time", "ns"), ("Time/ms", "time", "ms"),
        ("millis", "time", "ms"), ("dt_ms", "other", "ms"), ("frame", "counter", ""), ("sample no", "counter", ""),
        ("left_x", "", ""), ("right trigger", "trigger", ""), ("battery", "other", ""), ("coil (A)", "", "v"),
        ("loop time", "", ""), ("#", "counter", ""),
    ],
)  # fmt: skip
def test_a_columns_name_tells_its_role(name: str, role: str, unit: str) -> None:
    found = read_name(name)
    told = time_unit_name(found.time_factor) if found.time_factor else "v" if found.is_bracketed else ""
    assert (found.role, told) == (role, unit)


@pytest.mark.parametrize(
    ("cell", "kind"),
    [("-1.5e-3", "n"), ("+ 2", "n"), (".5", "n"), ("OVER", "m"), ("", "b"), ('" "', "b"), ("12:30:01", "t"),
     ("2026-11-20", "t"), ("20/11/2026", "t"), ("1.2.3", "t"), ("CH1", "x"), ("1,5", "x")],
)  # fmt: skip
def test_what_a_cell_is(cell: str, kind: str) -> None:
    assert cell_kind(cell, ".") == kind


def test_no_word_for_over_range_is_a_number() -> None:
    assert {cell_kind(word, ".") for word in OVER_RANGE_WORDS} == {"m"}
    assert all(parse_number(word) is None for word in OVER_RANGE_WORDS)


@settings(max_examples=60)
@given(value=st.floats(-1e12, 1e12), decimals=st.integers(0, 9))
def test_a_written_number_is_read_back_with_either_decimal_mark(value: float, decimals: int) -> None:
    for text in (f"{value:.{decimals}f}", f"{value:.{decimals}e}"):
        assert parse_number(text) == float(text)
        assert parse_number(text.replace(".", ","), ",") == float(text)
        assert cell_kind(text, ".") == "n"


@pytest.mark.parametrize(
    ("cells", "step"),
    [
        (["1.25", "-0.50", "10.00"], 0.01),
        (["1", "20", "300"], 1.0),
        (["1,5", "2,5"], 0.1),
        (["1.25e-3", "9.99e-3"], 1e-5),
        (["0.1", "0.25"], 0.01),
        (["OVER", "x"], 0.0),
        (["0", "0"], 1.0),
    ],
)
def test_how_far_written_numbers_were_rounded(cells: list[str], step: float) -> None:
    assert resolution_of(cells) == pytest.approx(step)


@pytest.mark.parametrize(
    ("text", "value", "symbol"),
    [("4.0us", 4.0, "s"), ("250 kSa/s", 250.0, "Hz"), ("2,5 ms", 2.5, "s"), ("1M", 1e6, None),
     ("500 mV/div", 500.0, None), ("10 ms/div", 10.0, "s"), ("-3", -3.0, None)],
)  # fmt: skip
def test_a_quantity_is_a_number_and_a_unit(text: str, value: float, symbol: str | None) -> None:
    found = parse_quantity(text)
    assert found is not None
    assert found[0] == pytest.approx(value)
    assert (found[1].symbol if found[1] else None) == symbol


@pytest.mark.parametrize(
    ("cells", "seconds"),
    [
        (["00:00:01.5", "00:01:00"], [1.5, 60.0]),
        (["01:30", "02:00.25"], [90.0, 120.25]),
        (["12:00:00:250", "12:00:01:000"], [43200.25, 43201.0]),
        (["2026-11-20T00:00:01Z", "2026-11-21 00:00:00Z"], [1.0, 86400.0]),
        (["2026-11-20T12:00:00+02:00", "2026-11-20T12:00:00.000000001+02:00"], [36000.0, 36000.000000001]),
        (["20.11.2026 23:59:59", "21.11.2026 00:00:01"], [86399.0, 86401.0]),
    ],
)
def test_stamps_become_seconds_across_midnight(cells: list[str], seconds: list[float]) -> None:
    assert looks_like_stamps(np.array(cells))
    np.testing.assert_allclose(read_stamps(np.array(cells)).seconds, seconds, rtol=0, atol=2e-11)


@pytest.mark.parametrize("bits", [8, 16, 24, 32])
def test_a_counter_that_wraps_goes_on(bits: int) -> None:
    straight = 2.0**bits - 20 + 3.0 * np.arange(40)
    found, remark = unwrapped(straight % 2**bits)
    np.testing.assert_array_equal(np.diff(found), 3.0)
    assert f"wraps at {2**bits}" in remark


@pytest.mark.parametrize(
    "ticks", [[0.0, 5.0, 3.0, 9.0], [250.0, 252.0, 254.0, 100.0, 102.0], [-1.0, 5.0, -1.0], [1.5, 250.5, 0.5]]
)
def test_other_steps_back_are_no_wrap(ticks: list[float]) -> None:
    found, remark = unwrapped(np.array(ticks))
    assert (found.tolist(), remark) == (ticks, "")


@settings(max_examples=40)
@given(cut=st.integers(2, 50), back=st.floats(0.01, 100.0), shift=st.floats(-1e4, 1e4))
def test_a_restart_keeps_both_paces_and_leaves_a_second_between(cut: int, back: float, shift: float) -> None:
    t = shift + np.r_[0.01 * np.arange(cut), 0.01 * (cut - 1) - back + 0.02 * np.arange(60)]
    line = lay_out(t)
    steps = np.diff(line.t_s)
    assert np.all(steps >= 0)
    np.testing.assert_allclose(np.delete(steps, cut - 1), np.r_[np.full(cut - 1, 0.01), np.full(59, 0.02)], atol=1e-9)
    assert steps[cut - 1] == pytest.approx(1.0, abs=1e-9)
    assert [gap.reason for gap in line.gaps] == ["time steps back"]
    assert len(line.remarks) == 1


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("t:0;v:1.5\nt:1;v:1.6\nt:2;v:1.7\n", "t;v\n0;1.5\n1;1.6\n2;1.7\n"),
        ("0 ms,1.25 V\n1 ms,1.30 V\n2 ms,1.35 V\n", "ms,V\n0,1.25\n1,1.30\n2,1.35\n"),
        ("t,v\n0,1.5\n1,1.6\n", "t,v\n0,1.5\n1,1.6\n"),
    ],
)
def test_labels_and_units_are_taken_out_of_cells(text: str, plain: str) -> None:
    found, remarks = strip_inline(text)
    assert found == plain
    assert bool(remarks) == (text != plain)


def test_a_stamp_that_is_none_has_no_time() -> None:
    assert math.isnan(read_stamps(np.array(["00:00:01", "soon", "00:00:02"])).seconds[1])


@pytest.mark.parametrize(("per_s", "unit"), [(1.0, "s"), (1e3, "ms"), (1e6, "us"), (1e9, "ns")])
def test_a_date_of_today_is_in_one_unit_only(per_s: float, unit: str) -> None:
    """Rows 0.1 s apart, which two units allow; from 20 November 2023 on the date leaves one."""
    assert infer_unit("t", np.asarray((1.7004e9 + 0.1 * np.arange(64.0)) * per_s, dtype=np.float64)) == unit


@pytest.mark.parametrize(("to_s", "said"), [(0.0, "restarts"), (8.9, "restarts"), (9.2, "steps back")])
def test_time_that_goes_back_by_a_tenth_restarts(to_s: float, said: str) -> None:
    t_s = np.concatenate([np.arange(0.0, 10.0, 0.01), to_s + np.arange(0.0, 5.0, 0.01)])
    assert said in lay_out(t_s).remarks[0]
