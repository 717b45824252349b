"""Cursor readings in words: what is understood, what is refused and with which advice."""

from __future__ import annotations

from pathlib import Path

import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.reading_lines import are_reading_lines, parse_readings, time_in_words
from feelcheck.formats.readings import is_readings, read_readings


@pytest.mark.parametrize(
    "line",
    [
        "rise 10-90 = 9.1 ms, error = 0.1 ms",
        "Rise time: 9.1 ms ± 0.1 ms",
        "rising 10 % to 90 % = 9100us; reading error = 100 us",
        "rise 10..90% = 0.0091 s +- 0.1 ms",
        "tr = 9,1 ms +/- 0,1 ms",
        "rise transition = 9.1ms\nuncertainty = 0.1ms",
    ],
)
def test_one_rise_time_said_in_many_ways(line: str) -> None:
    (edge,) = parse_readings(line).edges
    assert edge.direction == "rising"
    assert edge.transition_10_90_s == pytest.approx(9.1e-3)
    assert edge.time_error_s == pytest.approx(1e-4)


def test_instants_of_two_edges_with_one_error_and_the_drive() -> None:
    found = parse_readings(
        ["rising t10 = 0.5 ms, t50 = 3.7 ms, t90 = 10.8 ms, drive = 0.2 ms", "falling 10 % = 1 ms, 90 % = 14 ms",
         "error = 0.1 ms", "coil rise = 2.5 ms"]
    )  # fmt: skip
    up, down = found.edges
    assert (up.t10_s, up.t50_s, up.t90_s, up.drive_s) == pytest.approx((5e-4, 3.7e-3, 10.8e-3, 2e-4))
    assert (down.direction, down.t10_s, down.t50_s, down.t90_s) == ("falling", 1e-3, None, 14e-3)
    assert {edge.time_error_s for edge in found.edges} == {1e-4}
    assert found.drive_transition_s == pytest.approx(2.5e-3)


def test_the_same_instant_again_is_another_edge_and_errors_may_differ() -> None:
    text = "rise 10-90 = 9 ms ± 0.1 ms\nrise 10-90 = 9.2 ms ± 0.2 ms\nfalling:\n10-90 = 12 ms"
    edges = parse_readings(text + "\nerror = 0.3 ms").edges
    assert [edge.direction for edge in edges] == ["rising", "rising", "falling"]
    assert [edge.time_error_s for edge in edges] == pytest.approx([1e-4, 2e-4, 3e-4])


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("rise 10-90 = 9.1 ms", "how far a cursor can be off"),
        ("rise 10-90 = 9.1 ms, error = 0 ms", "how far a cursor can be off"),
        ("rise 10-90 = 9.1, error = 0.1 ms", "needs a unit of time"),
        ("10-90 = 9.1 ms, error = 0.1 ms", "names its edge"),
        ("rise 10-90 = -9.1 ms, error = 0.1 ms", "longer than no time"),
        ("rise 10-90 = 9.1 ms, error = 0.1 ms, drive rise = -2 ms", "longer than no time"),
        ("rise hue = 9.1 ms, error = 0.1 ms", "names its edge"),
        ("rise t90 = 1 ms, t10 = 2 ms, error = 0.1 ms", "must rise"),
        ("rise t90 = 1 ms, error = 0.1 ms", "needs two of t10, t50, t90"),
        ("error = 0.1 ms", "at least one edge"),
        ("quick as can be", "an equals sign"),
        ("rise 10-90 = 1e300 s, error = 0.1 ms", "that a scope can show"),
    ],
)
def test_what_is_missing_is_said_with_an_example(line: str, message: str) -> None:
    with pytest.raises(FormatError, match=rf"(?s)({message}).*Write it like") as caught:
        parse_readings(line)
    assert len(str(caught.value)) < 600


def test_a_file_of_such_lines_is_readings_and_a_capture_is_not(tmp_path: Path) -> None:
    lines = tmp_path / "birch.txt"
    lines.write_text("# birch, as found\nrise 10-90 = 9.1 ms\nfall 10-90 = 12 ms\nerror = 0.1 ms\n")
    assert is_readings(lines)
    found = read_readings(lines)
    assert [edge.transition_10_90_s for edge in found.edges] == pytest.approx([9.1e-3, 12e-3])
    assert len(found.provenance.sha256) == 64
    capture = tmp_path / "capture.csv"
    capture.write_text("Time scale = 1 ms\nTime (s),Volt (V)\n0,1\n1,2\n2,3\n")
    assert not is_readings(capture)
    assert not are_reading_lines("t_s,left_x\n0.0,1\n")


def test_a_table_and_a_toml_file_may_tell_the_drive_too(tmp_path: Path) -> None:
    table = tmp_path / "a.csv"
    table.write_text("direction,t10_ms,t90_ms,error_ms,drive_rise_ms\nrising,0.5,9.6,0.1,2.0\n")
    assert read_readings(table).drive_transition_s == pytest.approx(2e-3)
    toml = tmp_path / "a.toml"
    toml.write_text('time_error = 0.1\ndrive_rise = 2.0\n[[edge]]\ndirection = "rising"\nt10 = 0.5\nt90 = 9.6\n')
    assert read_readings(toml).drive_transition_s == pytest.approx(2e-3)


def test_a_wrong_header_is_answered_with_the_right_one(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("direction,ten,ninety\nrising,1,2\n")
    with pytest.raises(FormatError, match="direction,t10_ms,t50_ms,t90_ms,error_ms and a row"):
        read_readings(path)


def test_a_time_has_a_unit() -> None:
    assert time_in_words("2.5ms") == pytest.approx(2.5e-3)
    for text in ("2.5", "ms", "0 ms", "-1 ms", "9" * 400 + "ms"):
        with pytest.raises(FormatError):
            time_in_words(text)


def test_no_pattern_is_run_over_the_rows_of_a_table(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pattern takes time by the square of a line's length: 4,000 columns took 45 s of processor time."""
    from feelcheck.formats import reading_lines

    class Never:
        def search(self, line: str) -> None:
            pytest.fail(f"a line of {len(line)} characters was searched")

        finditer = search

    monkeypatch.setattr(reading_lines, "_STATEMENT", Never())
    wide = ",".join(f"axis_{k}" for k in range(4000)) + "\n" + ",".join("1" * 4000)
    assert not are_reading_lines(wide)
    assert not are_reading_lines("rise = " + "9" * 5000 + " ms")
    assert not are_reading_lines("t_s,left_x\n" + "0.1,5\n" * 150)
    assert not are_reading_lines("rise 10-90 = 9.1 ms\n" * 300)
    for text in ("rise = " + "9" * 5000 + " ms", "rise 10-90 = 9.1 ms\n" * 300):
        with pytest.raises(FormatError, match="a few short lines"):
            parse_readings(text)


def test_an_edge_may_stand_alone_above_its_readings() -> None:
    assert are_reading_lines("falling:\n10-90 = 12 ms\nerror = 0.1 ms")
    assert are_reading_lines("falling\n10-90 = 12 ms\nerror = 0.1 ms")
