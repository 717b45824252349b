"""Captures whose rows or preambles are of another kind: prefixes in cells, channels in turn, words, old encodings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feelcheck.bench.edges import find_edges
from feelcheck.bench.levels import prepare
from feelcheck.bench.transfer import measure_transfer
from feelcheck.errors import NotEnoughDataError
from feelcheck.formats._settings import told_in_words
from feelcheck.formats._text import read_text
from feelcheck.formats.scope import read_capture, read_captures

N, STEP_S = 400, 25e-6
T = STEP_S * np.arange(N)
COIL = np.where(T < 2e-3, 0.0, 0.5)
OUT = np.round(np.where(T < 2e-3, 0.3, 1.3 - np.exp(-np.maximum(T - 2e-3, 0) / 1e-3)), 4)
COLUMNS = T, COIL, OUT


def rows(*columns: np.ndarray, mark: str = ",", end: str = "\n") -> str:
    return "".join(mark.join(f"{v:.7g}" for v in row) + end for row in zip(*columns, strict=True))


def written(folder: Path, text: str | bytes) -> Path:
    path = folder / "cedar.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def in_turn(t: float, coil: float, out: float) -> tuple[tuple[float, str, float], ...]:
    return (t, "coil", coil), (t, "out", out)


def prefixed(value: float, unit: str) -> str:
    steps = ((1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"))
    size, prefix = next(((size, prefix) for size, prefix in steps if abs(value) >= size), (1.0, ""))
    return f"{value / size:.4f}{prefix}{unit}"


@pytest.mark.parametrize("units", [("", "", ""), ("s", "A", "V")])
def test_a_prefix_of_each_cell_is_worked_in(units: tuple[str, str, str], tmp_path: Path) -> None:
    body = "".join(",".join(map(prefixed, row, units)) + "\n" for row in zip(*COLUMNS, strict=True))
    capture = read_capture(written(tmp_path, "time,coil,out\n" + body))
    assert capture.t_s.size == N
    np.testing.assert_allclose(capture.channel("out").values, OUT, atol=1e-7)
    np.testing.assert_allclose(capture.t_s, T, atol=1e-9)
    assert capture.channel("out").unit == units[2]


def test_a_matrix_of_a_program_is_rows(tmp_path: Path) -> None:
    capture = read_capture(written(tmp_path, "m = [\n" + rows(*COLUMNS, mark=" ", end=";\n") + "];\n"))
    assert [channel.values.size for channel in capture.channels] == [N, N]
    np.testing.assert_allclose(capture.channels[1].values, OUT, atol=1e-9)


@pytest.mark.parametrize("order", [(0, 1, 2), (1, 0, 2), (2, 1, 0)])
def test_rows_of_channels_in_turn_are_set_side_by_side(order: tuple[int, int, int], tmp_path: Path) -> None:
    names = ("channel", "time_ms", "value_V")
    cells = [(name, f"{1e3 * t:.3f}", f"{v:.4f}") for row in zip(*COLUMNS, strict=True) for t, name, v in in_turn(*row)]
    text = "".join(";".join(row[k] for k in order) + "\n" for row in (names, *cells))
    capture = read_capture(written(tmp_path, text))
    assert [(c.name, c.unit) for c in capture.channels] == [("coil", "V"), ("out", "V")]
    np.testing.assert_allclose(capture.channel("out").values, OUT, atol=1e-9)
    assert capture.interval_s == pytest.approx(STEP_S)


def test_states_beside_two_columns_are_no_channels(tmp_path: Path) -> None:
    body = "".join(f"{t:.6f},{v:.4f},{'idle' if t < 5e-3 else 'on'}\n" for t, v in zip(T, OUT, strict=True))
    capture = read_capture(written(tmp_path, "Time (s),Out (V),State\n" + body))
    assert [channel.name for channel in capture.channels] == ["Out"]


def test_tables_of_the_same_channels_are_repeats(tmp_path: Path) -> None:
    one = "Time (s),Coil (A),Out (V)\n" + rows(*COLUMNS)
    blocks = read_captures(written(tmp_path, f"Segment 1\n{one}\nSegment 2\n{one}"))
    assert [[c.name for c in block.channels] for block in blocks] == [["Coil", "Out"]] * 2
    assert blocks[1].provenance.path.endswith("(block 2)")


@pytest.mark.parametrize("name", ["Scan", "", "Messung"])
def test_what_goes_on_by_ones_beside_a_time_counts_rows(name: str, tmp_path: Path) -> None:
    capture = read_capture(written(tmp_path, f"{name},Time (s),Coil (A),Out (V)\n" + rows(np.arange(N), *COLUMNS)))
    assert [channel.name for channel in capture.channels] == ["Coil", "Out"]


def test_a_sweep_by_ones_that_is_named_a_drive_is_no_counter(tmp_path: Path) -> None:
    capture = read_capture(written(tmp_path, "Time (s),DAC,Out (V)\n" + rows(T, np.arange(N), OUT)))
    assert [(c.name, c.role) for c in capture.channels] == [("DAC", "drive"), ("Out", "output")]


def test_a_column_of_remarks_that_no_row_fills_moves_no_name(tmp_path: Path) -> None:
    text = "Y_Unit_Label\tAmps\tVolts\t\nX_Value\tCurrent\tVoltage\tComment\n" + rows(*COLUMNS, mark="\t")
    capture = read_capture(written(tmp_path, text))
    assert [(c.name, c.unit) for c in capture.channels] == [("Current", "A"), ("Voltage", "V")]


@pytest.mark.parametrize(
    "line",
    [
        "# 25 us per sample", "# one sample every 25 microseconds", "Sampled at 40 kHz", "25 µs/sample",
        "# logged at 40000 samples per second", "fs = 40 kS/s", "// 40 kHz sampling", "sample interval: 25 us",
        "Ein Messwert alle 25 us", "# abgetastet mit 40 kHz", "un point toutes les 25 us",
    ],
)  # fmt: skip
def test_an_interval_in_words_is_read(line: str, tmp_path: Path) -> None:
    capture = read_capture(written(tmp_path, f"{line}\ncoil,out\n" + rows(COIL, OUT)))
    assert capture.interval_s == pytest.approx(STEP_S)


@pytest.mark.parametrize("line", ["# all times are microseconds", "(time in microseconds, out in V)"])
def test_a_unit_of_time_in_words_is_read(line: str, tmp_path: Path) -> None:
    capture = read_capture(written(tmp_path, f"{line}\ntime,coil,out\n" + rows(1e6 * T, COIL, OUT)))
    assert capture.interval_s == pytest.approx(STEP_S)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("sampled at 40,000 Hz", "40000"),
        ("1,000,000 samples per second sampled", "1000000"),
        ("one sample every 1.000 ms", "1.000"),
        ("Abtastrate: 40.000 Hz", ""),
    ],
)
def test_thousands_are_told_from_fractions_or_left_open(line: str, told: str) -> None:
    assert [setting.value for setting in told_in_words(line, 1)] == ([told] if told else [])


@pytest.mark.parametrize(
    "line",
    [
        *("recorded 10 s before lunch", "bandwidth 20 MHz", "saved every 10 min", "took 3 s"),
        *("Acquisition bandwidth: 20 MHz", "Sampling scope, trigger 1 kHz", "Sampling filter 20 kHz"),
        "Probe read every 5 s by operator",
    ],
)
def test_other_words_are_no_interval(line: str) -> None:
    assert told_in_words(line, 1) == []


@pytest.mark.parametrize(
    ("encoding", "head", "names"),
    [
        ("shift_jis", "時間(ms),コイル電流(A),センサ出力(V)", ("コイル電流", "センサ出力")),
        ("gbk", "时间(ms),线圈电流(A),输出电压(V)", ("线圈电流", "输出电压")),
        ("euc_kr", "시간(ms),코일 전류(A),출력 전압(V)", ("코일 전류", "출력 전압")),
        ("cp1251", "Время (мс),Ток катушки (А),Выход (В)", ("Ток катушки", "Выход")),
        ("cp1250", "Czas (ms),Prąd cewki (A),Wyjście (V)", ("Prąd cewki", "Wyjście")),
        ("cp1252", "Durée (ms),Intensité bobine (A),Sortie (V)", ("Intensité bobine", "Sortie")),
        ("utf-16", "Время (мс),Ток катушки (А),Выход (В)", ("Ток катушки", "Выход")),
        ("big5", "時間(ms),線圈電流(A),輸出(V)", ("線圈電流", "輸出")),
    ],
)
def test_names_in_older_encodings(encoding: str, head: str, names: tuple[str, str], tmp_path: Path) -> None:
    capture = read_capture(written(tmp_path, (head + "\n" + rows(1e3 * T, COIL, OUT)).encode(encoding)))
    assert [(c.name, c.unit, c.role) for c in capture.channels] == [
        (names[0], "A", "drive"), (names[1], "V", "output"),
    ]  # fmt: skip
    assert capture.interval_s == pytest.approx(STEP_S)
    assert not capture.provenance.remarks


def test_names_that_no_word_tells_are_said_to_be_in_doubt(tmp_path: Path) -> None:
    text = read_text(written(tmp_path, "t,кот,дом\n1,2,3\n".encode("cp1251")))
    assert text.encoding == "cp1252"
    assert "goes by its place, too (--drive '#1')" in text.remarks[0]


def test_accents_in_unknown_words_are_not_in_doubt(tmp_path: Path) -> None:
    assert read_text(written(tmp_path, "t,Prüfstück\n1,2\n".encode("cp1252"))).remarks == ()


def test_a_ramp_without_an_answer_is_no_transfer_curve() -> None:
    t = np.linspace(0.0, 1.0, 400)
    drive, still = prepare(t, t), prepare(t, np.zeros(400))
    with pytest.raises(NotEnoughDataError, match="transfer curve"):
        measure_transfer(drive, still, find_edges(drive), ("A", "V"), "out")


def test_hexadecimal_codes_hold_no_powers_of_ten(tmp_path: Path) -> None:
    codes = np.arange(N) % 300
    body = "".join(f"{t:.6f},0x{a:03X},0x{b:03X}\n" for t, a, b in zip(T, codes, codes[::-1], strict=True))
    capture = read_capture(written(tmp_path, "Time (s),coil,out\n" + body))
    np.testing.assert_array_equal(capture.channel("coil").values, codes)


HEADS = {
    "names, units, descriptions": ("Time\tCoil\tOut\ns\tA\tV\nrelative\tshunt 1 ohm\tpin 2\n", True),
    "keyed rows in quotes": ('"Label"\t"Coil"\t"Out"\n"Unit"\t"A"\t"V"\n"Probe"\t"1x"\t"10x"\n"Data:"\n', True),
    "channels in a comment": ("# channels: Coil_A, Out_V\n# dt: 2.5e-05\n", False),
    "points a division": ("Time/Div\t10ms\nSamples/Div\t400\nCoil (A)\tOut (V)\n", False),
}


@pytest.mark.parametrize("kind", HEADS)
def test_names_wherever_instruments_put_them(kind: str, tmp_path: Path) -> None:
    head, timed = HEADS[kind]
    capture = read_capture(written(tmp_path, head + rows(*(COLUMNS if timed else COLUMNS[1:]), mark="\t")))
    assert [(c.name, c.unit) for c in capture.channels] == [("Coil", "A"), ("Out", "V")]
    assert capture.interval_s == pytest.approx(STEP_S)


def test_a_heading_that_comes_again_and_again_is_no_note(tmp_path: Path) -> None:
    head = "Time (s),Coil (A),Out (V)\n"
    lines = rows(*COLUMNS).splitlines(keepends=True)
    text = "".join(head + "".join(lines[k : k + 80]) for k in range(0, N, 80))
    remarks = read_capture(written(tmp_path, text)).provenance.remarks
    assert not [remark for remark in remarks if "Coil (A)" in remark]


def test_a_heading_tells_the_unit_of_its_column_and_not_of_a_stated_interval(tmp_path: Path) -> None:
    head = f"XINCR: {STEP_S:.6E}\n\nTime in us,Coil in A,Out in V\n"
    capture = read_capture(written(tmp_path, head + rows(1e6 * T, COIL, OUT)))
    assert capture.interval_s == STEP_S
    assert "setting" in capture.understood["interval from"]


@pytest.mark.parametrize("even", [True, False])
def test_a_last_row_without_an_end_is_torn_where_all_others_are_as_long(even: bool, tmp_path: Path) -> None:
    """Of numbers of one width the last was cut inside its last cell; of others it may be the shortest."""
    cells = "{:.6f},{:.4f},{:.4f}" if even else "{:.7g},{:.7g},{:.7g}"
    lines = ["time (s),coil (A),out (V)", *(cells.format(*row) for row in zip(*COLUMNS, strict=True))]
    lines[-1] = lines[-1][:-2] if even else "1,0,1"
    assert even or len({len(line) for line in lines[-30:-1]}) > 1 < min(map(len, lines[-30:-1])) > len(lines[-1])
    capture = read_capture(written(tmp_path, "\n".join(lines)))
    assert capture.t_s.size == N - even
