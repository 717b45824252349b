"""What a capture says it understood: roles, units, time, joined files, settings, refusals."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feelcheck.errors import FormatError
from feelcheck.formats._names import find_unit, is_time_name, split_name
from feelcheck.formats._numbers import cell_kind, parse_quantity, resolution_of
from feelcheck.formats._plain_numbers import strip_inline
from feelcheck.formats._scope_roles import roles_by_name
from feelcheck.formats._stamps import read_stamps
from feelcheck.formats._table import parse_table
from feelcheck.formats._text import read_text
from feelcheck.formats.scope import read_capture, read_captures

ROWS = "".join(f"{k * 1e-3:.3f},{-1.0 if k < 20 else 1.0},{0.2 if k < 25 else 1.6}\n" for k in range(60))


def write(folder: Path, text: str, name: str = "alder.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "kind", "factor"),
    [
        ("ms", "time", 1e-3),
        ("(µs)", "time", 1e-6),
        ("Second", "time", 1.0),
        ("MS/s", "frequency", 1e6),
        ("mHz", "frequency", 1e6),
        ("VOLT", "voltage", 1.0),
        ("mV", "voltage", 1e-3),
        ("mA", "current", 1e-3),
        ("G", "field", 0.1),
        ("T", "field", 1e3),
        ("ADC", "counts", 1.0),
        ("Sequence", "index", 1.0),
        ("dBV", "level", 1.0),
        ("millis", "time", 1e-3),
    ],
)
def test_units(text: str, kind: str, factor: float) -> None:
    unit = find_unit(text)
    assert unit is not None
    assert unit.kind == kind
    assert unit.factor == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize("text", ["CH1", "a", "t", "", "x", "Channel A", "hello world"])
def test_no_units(text: str) -> None:
    assert find_unit(text) is None


@pytest.mark.parametrize(
    ("cell", "name", "unit"),
    [
        ("Channel A", "Channel A", ""),
        ("coil_a", "coil", "A"),
        ("CH1V", "CH1", "V"),
        ("Time (ms)", "Time", "ms"),
        ("x_s", "x", "s"),
        ("Axis_a", "Axis_a", ""),
    ],
)
def test_names_and_units(cell: str, name: str, unit: str) -> None:
    assert split_name(cell) == (name, unit)


def test_time_names() -> None:
    assert all(map(is_time_name, ("Time", "t", "X_Value", "timestamp", "Zeit", "elapsed time", "x-axis")))
    assert not any(map(is_time_name, ("CH1", "left_x", "Voltage", "coil", "output")))


def test_quantities() -> None:
    for text, value in (("4.0us", 4e-6), ("50 µs", 50e-6), ("20 kSa/s", 20e3), ("0,5 ms", 5e-4), ("5ms/div", 5e-3)):
        got = parse_quantity(text)
        assert got is not None
        assert got[1] is not None
        assert got[0] * got[1].factor == pytest.approx(value)
    assert parse_quantity("8 bit") == (8.0, None, "bit")
    assert parse_quantity("CH1") is None


@pytest.mark.parametrize(
    ("cells", "step"),
    [
        (["0.001", "0.002"], 1e-3),
        (["1.25e-3", "9.99e-3"], 1e-5),
        (["5", "10"], 1.0),
        (["x"], 0.0),
        (["2e999"], 0.0),
        (["0"], 1.0),
    ],
)
def test_resolution(cells: list[str], step: float) -> None:
    assert resolution_of(cells) == pytest.approx(step)


def test_cell_kinds_with_decimal_comma() -> None:
    assert [cell_kind(cell, ",") for cell in ("0,5", "0.5", "1", "∞", "12:00:01,5")] == ["n", "x", "n", "m", "t"]


def test_clock_times_over_midnight_and_by_halves() -> None:
    stamps = read_stamps(np.array(["11:59:59.9 PM", "12:00:00.1 AM"]))
    assert np.diff(stamps.seconds) == pytest.approx([0.2])
    assert stamps.resolution_s == pytest.approx(0.1)
    assert np.isnan(read_stamps(np.array(["yesterday", "today"])).seconds).all()


def test_roles() -> None:
    assert roles_by_name([("Coil", "A"), ("Out", "V")]) == ["drive", "output"]
    assert roles_by_name([("CH1", "V"), ("CH2", "V")]) == ["", ""]
    assert roles_by_name([("Field reference", "mT"), ("CH2", "V")]) == ["drive", "output"]
    assert roles_by_name([("sensor", "V"), ("CH2", "V")]) == ["output", "drive"]
    assert roles_by_name([("CH1", "V")]) == ["output"]
    assert roles_by_name([("coil", ""), ("sensor out", ""), ("supply", "V")]) == ["drive", "output", "other"]


def test_the_users_word_wins(tmp_path: Path) -> None:
    path = write(tmp_path, "Time (s),Coil (V),Sensor (V)\n" + ROWS)
    capture = read_capture(path, drive="Sensor", output="coil")
    assert [(c.name, c.role) for c in capture.channels] == [("Coil", "output"), ("Sensor", "drive")]
    assert capture.understood["drive"] == "Sensor (from the user's word)"
    assert read_capture(path, output="#2").channel("Sensor").role == "output"
    with pytest.raises(FormatError, match="--drive must name a column"):
        read_capture(path, drive="gate")
    with pytest.raises(FormatError, match="--time must name a column"):
        read_capture(path, time="when")


@pytest.mark.parametrize(
    ("drive", "output", "places"),
    [
        ("coil_A", "out_V", (0, 2)),
        ("out_mV", "Out", (1, 3)),
        ("#1", "out 2", (0, 2)),
        ("Coil", "out", (0, 1)),
    ],
)
def test_columns_are_named_as_they_stand_in_the_heading(
    drive: str, output: str, places: tuple[int, int], tmp_path: Path
) -> None:
    rows = "".join(f"0.{k},{k % 2},{k % 3},{k % 5},{k % 7}\n" for k in range(9))
    path = write(tmp_path, "time_s,coil_A,out_mV,out_V,Out\n" + rows)
    channels = read_capture(path, drive=drive, output=output, time="time_s").channels
    assert [c.written for c in channels] == ["coil_A", "out_mV", "out_V", "Out"]
    assert (channels[places[0]].role, channels[places[1]].role) == ("drive", "output")


def test_settings_and_notes_are_kept(tmp_path: Path) -> None:
    head = (
        "Average,16\nBandwidth Limit,20 MHz\nProbe Attenuation,10X\nCoupling,DC\nSupply,1.8 V\n"
        "Acquisition Mode,High res\nSpecimen,alder\nSimulated,yes\nNote,capacitor lifted\n\nTime (s),Coil (A),Out (V)\n"
    )
    path = write(tmp_path, head + ROWS.replace("\n", ",bench knocked\n", 1))
    provenance = read_capture(path).provenance
    assert dict(provenance.facts) == {
        "averaging": "16",
        "bandwidth_limit": "20 MHz",
        "probe_attenuation": "10X",
        "coupling": "DC",
        "supply": "1.8 V",
        "acquisition_mode": "High res",
    }
    assert (provenance.specimen, provenance.simulated, provenance.format) == ("alder", True, "capture")
    assert "note: capacitor lifted" in provenance.remarks
    assert "line 12: bench knocked" in provenance.remarks
    assert len(provenance.sha256) == 64


def test_two_files_on_different_times_are_repeats(tmp_path: Path) -> None:
    first = write(tmp_path, "Time (s),Coil (A),Out (V)\n" + ROWS, "birch_1.csv")
    later = "".join(f"{k * 2e-3:.3f},{k % 7},{k % 5}\n" for k in range(60))
    second = write(tmp_path, "Time (s),Coil (A),Out (V)\n" + later, "birch_2.csv")
    assert len(read_captures([first, second])) == 2
    with pytest.raises(FormatError, match="one channel each on one time axis"):
        read_capture([first, second])


def test_two_files_with_the_same_channels_are_repeats_even_on_one_time_axis(tmp_path: Path) -> None:
    paths = [write(tmp_path, "Time (s),Coil (A),Out (V)\n" + ROWS, f"birch_{k}.csv") for k in (1, 2)]
    assert [len(capture.channels) for capture in read_captures(paths)] == [2, 2]


def test_no_file_at_all() -> None:
    with pytest.raises(FormatError, match="at least one file"):
        read_captures([])


def test_jittered_times_are_kept(tmp_path: Path) -> None:
    t = np.cumsum(np.random.default_rng(1).uniform(0.5e-3, 1.5e-3, 200))
    rows = "".join(f"{a:.7f},{k % 9}.5\n" for k, a in enumerate(t))
    capture = read_capture(write(tmp_path, "Time (s),Out (V)\n" + rows))
    assert capture.interval_s is None
    np.testing.assert_allclose(capture.t_s, t, atol=1e-7)


def test_a_stated_interval_that_contradicts_the_times_is_left_alone(tmp_path: Path) -> None:
    rows = "".join(f"{k * 1e-3:.4f},{k % 9}.5\n" for k in range(100))
    capture = read_capture(write(tmp_path, "Sample rate,1 MHz\nTime (s),Out (V)\n" + rows))
    assert capture.interval_s == pytest.approx(1e-3)
    assert "(last - first)/(n - 1)" in capture.understood["interval from"]


def test_repeated_times_are_spread(tmp_path: Path) -> None:
    rows = "".join(f"{k // 3 + 9 * (k > 150):d},{k % 9}.5\n" for k in range(300))
    capture = read_capture(write(tmp_path, "time_ms,out_v\n" + rows))
    assert np.all(np.diff(capture.t_s) > 0)
    assert any("spread evenly" in remark for remark in capture.provenance.remarks)


def test_an_isolated_step_back_is_left_out(tmp_path: Path) -> None:
    lines = ROWS.splitlines(keepends=True)
    lines[30] = lines[30].replace("0.030", "0.027")
    capture = read_capture(write(tmp_path, "Time (s),Coil (A),Out (V)\n" + "".join(lines)))
    assert capture.t_s.size == 59
    assert any("1 row with an impossible time" in remark for remark in capture.provenance.remarks)


def test_seconds_are_assumed_aloud(tmp_path: Path) -> None:
    capture = read_capture(write(tmp_path, "Time,Coil,Out\n" + ROWS))
    assert "assumed" in capture.understood["time unit"]
    assert any("seconds were assumed" in remark for remark in capture.provenance.remarks)


def test_millions_of_rows_are_read_like_few(tmp_path: Path) -> None:
    n = 40_000
    text = "Time (s),Out (V)\n" + "".join(f"{k * 1e-4:.4f},{k % 97 / 10:.4f}\n" for k in range(n)) + "\nMean,1.0\n"
    path = write(tmp_path, text)
    assert path.stat().st_size > 400_000
    capture = read_capture(path)
    assert capture.t_s.size == n
    np.testing.assert_allclose(capture.channels[0].values, np.arange(n) % 97 / 10, atol=1e-9)


def test_a_fault_in_the_middle_of_a_big_file_costs_one_cell(tmp_path: Path) -> None:
    lines = [f"{k * 1e-4:.4f},{k % 97 / 10:.4f}" for k in range(40_000)]
    lines[20_000] = lines[20_000].split(",")[0] + ",broken"
    path = write(tmp_path, "Time (s),Out (V)\n" + "\n".join(lines) + "\n")
    table = parse_table(read_text(path, between="thinned"))
    assert table.n_rows == 40_000
    assert int(np.isnan(table.columns[1].values).sum()) == 1


def test_inline_text_is_only_taken_out_where_every_cell_has_it() -> None:
    text = "a,b\n1,2 V or so\n3,4\n"
    assert strip_inline(text) == (text, ())
    assert strip_inline("1 ms;2 V\n" * 3)[1] == ("units were taken out of the cells",)


SLOW_ROWS = "".join(f"{k * 1e-4:.4f},{0.2 + 0.01 * k:.3f}\n" for k in range(60))


def test_other_tables_in_the_file_are_told_of(tmp_path: Path) -> None:
    first = "Time (s),Ref (V)\n" + "".join(f"{k * 1e-3:.3f},1.000\n" for k in range(8))
    path = write(tmp_path, first + "\nTime (s),Out (V)\n" + SLOW_ROWS + "\nMeasurement,Value\nRise,0.5\n")
    capture = read_capture(path)
    assert capture.t_s.size == 60
    assert "8 rows of numbers above the data left out: the longest block was read" in capture.provenance.remarks
    assert "2 lines after the data left out" in capture.provenance.remarks


def test_a_stated_interval_that_the_times_contradict_is_told_of(tmp_path: Path) -> None:
    capture = read_capture(write(tmp_path, "Sample Interval,4e-05\nTime (s),Out (V)\n" + SLOW_ROWS))
    assert capture.interval_s == pytest.approx(1e-4)
    assert any("0.0001 s apart, although 4e-05 s is stated" in remark for remark in capture.provenance.remarks)


def test_settings_in_one_line_of_json(tmp_path: Path) -> None:
    values = "".join(f"{0.2 + 0.01 * k:.3f}\n" for k in range(60))
    capture = read_capture(
        write(tmp_path, '# {"sampling": {"sample_rate_hz": 20000}, "averages": 16}\nOut (V)\n' + values)
    )
    assert capture.interval_s == pytest.approx(5e-5)
    assert capture.provenance.facts["averaging"] == "16"


def test_a_comment_line_is_no_sample_where_there_is_no_time_column(tmp_path: Path) -> None:
    values = [f"{0.2 + 0.01 * k:.3f}" for k in range(60)]
    values[20:20] = ["# coil on here"]
    capture = read_capture(write(tmp_path, "Sample Interval,5e-05\nOut (V)\n" + "\n".join(values) + "\n"))
    assert capture.t_s.size == 60
    assert np.isfinite(capture.channels[0].values).all()


@pytest.mark.parametrize("scale", [1.0, 40.0])
def test_thousands_grouped_by_the_separator_are_refused(tmp_path: Path, scale: float) -> None:
    rows = "".join(f"{k * 1e-4:.4f},{scale * (200 + 20 * k):,.1f}\n" for k in range(60))
    with pytest.raises(FormatError, match="group thousands"):
        read_capture(write(tmp_path, "Time (s),Out (mV)\n" + rows))


def test_a_third_column_of_three_digits_is_no_group_of_thousands(tmp_path: Path) -> None:
    rows = "".join(f"{k * 1e-4:.4f},{1 + k % 7},{300 + k}\n" for k in range(60))
    capture = read_capture(write(tmp_path, "Time (s),A0,A1\n" + rows))
    assert capture.channels[1].values[:2].tolist() == [300.0, 301.0]
