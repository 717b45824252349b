"""Captures as people bring them: names with colons, units told elsewhere, blocks, columns that are no sensor."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feelcheck.errors import FormatError
from feelcheck.formats._scope_roles import are_alike
from feelcheck.formats.scope import read_capture, read_captures
from feelcheck.model import Capture

N, STEP_S = 400, 50e-6
T = -4e-3 + STEP_S * np.arange(N)
DRIVE = np.where(T < 0, -1.0, 1.0 - 2.0 * np.exp(-np.maximum(T, 0) / 1e-3))
OUT = np.where(T < 0, 0.2, 0.2 + 1.4 * (1.0 - np.exp(-np.maximum(T, 0) / 4.7e-3)))


def rows(*columns: np.ndarray, separator: str = ",") -> str:
    return "".join(separator.join(f"{v:.6g}" for v in row) + "\n" for row in zip(*columns, strict=True))


def read(folder: Path, text: str) -> Capture:
    path = folder / "birch.csv"
    path.write_text(text, encoding="utf-8")
    return read_capture(path)


def shape(capture: Capture) -> list[tuple[str, str, str]]:
    return [(channel.name, channel.unit, channel.role) for channel in capture.channels]


@pytest.mark.parametrize(
    ("head", "names"),
    [
        ('"Time: base (s)","Coil: main (A)","Out: pin 2 (V)"\n', ("Coil: main", "Out: pin 2")),
        ("Time: base (s),Coil: main (A),Out: pin 2 (V)\n", ("Coil: main", "Out: pin 2")),
        ('"Time: s","Coil: main (A)","Out: pin 2 (V)"\n', ("Coil: main", "Out: pin 2")),
        ('"Time","Coil: main","Out: pin 2"\n"s","A","V"\n', ("Coil: main", "Out: pin 2")),
        ("s,A,V\nTime,Coil,Out\n", ("Coil", "Out")),
        ("# units: s, A, V\nTime,Coil,Out\n", ("Coil", "Out")),
        ("# Einheiten: s, A, V\nZeit,Coil,Out\n", ("Coil", "Out")),
        ("# Time in s, Coil in A, Out in V\n# bench 2\nTime,Coil,Out\n", ("Coil", "Out")),
        ("# Coil: A\n# Out: V\n# Time: s\nTime,Coil,Out\n", ("Coil", "Out")),
        ("# columns: time [s], coil [A], out [V]\n", ("coil", "out")),
    ],
)
def test_names_and_units_wherever_they_are_told(head: str, names: tuple[str, str], tmp_path: Path) -> None:
    capture = read(tmp_path, head + rows(T, DRIVE, OUT))
    assert shape(capture) == [(names[0], "A", "drive"), (names[1], "V", "output")]
    assert capture.interval_s == pytest.approx(STEP_S)
    assert not capture.provenance.remarks


def test_units_listed_with_another_separator_than_the_columns(tmp_path: Path) -> None:
    head = "# units: ms, A, V\nTime\tCoil\tOut\n"
    capture = read(tmp_path, head + rows(1e3 * T, DRIVE, OUT, separator="\t"))
    assert shape(capture) == [("Coil", "A", "drive"), ("Out", "V", "output")]
    assert capture.interval_s == pytest.approx(STEP_S)


def test_units_and_names_behind_keys_of_their_own(tmp_path: Path) -> None:
    capture = read(tmp_path, "Units;ms;A;V\nName;Time;Coil;Out\n" + rows(1e3 * T, DRIVE, OUT, separator=";"))
    assert shape(capture) == [("Coil", "A", "drive"), ("Out", "V", "output")]
    assert capture.interval_s == pytest.approx(STEP_S)


def test_a_whole_clock_beside_a_number_with_a_name_of_its_own(tmp_path: Path) -> None:
    text = "time,adc,out\n" + "".join(f"10:{k // 60:02d}:{k % 60:02d},{100 + k},{v:.4f}\n" for k, v in enumerate(OUT))
    capture = read(tmp_path, text)
    assert [channel.name for channel in capture.channels] == ["adc", "out"]
    assert capture.interval_s == pytest.approx(1.0)


def test_a_comma_before_the_fraction_of_a_clock(tmp_path: Path) -> None:
    text = "time,out\n" + "".join(f"10:00:{k // 100:02d},{10 * (k % 100):03d},{v:.4f}\n" for k, v in enumerate(OUT))
    assert read(tmp_path, text).interval_s == pytest.approx(0.01)


@pytest.mark.parametrize("step_s", [0.26e-3, 0.7e-3])
def test_rounded_repeated_times_keep_their_interval(step_s: float, tmp_path: Path) -> None:
    ms = np.floor(1e3 * step_s * np.arange(3000)).astype(int)
    text = "time_ms,out_v\n" + "".join(f"{t},{v:.4f}\n" for t, v in zip(ms, np.resize(OUT, 3000), strict=True))
    assert read(tmp_path, text).interval_s == pytest.approx(step_s, rel=1e-4)


HEAD = "Time (s),Coil (A),Out (V)\n"


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "\n".join(rows(T, DRIVE, OUT) for _ in range(3)),
        "\n".join(HEAD + rows(T, DRIVE, OUT) for _ in range(3)),
        "".join(f"Segment {k}\n{HEAD}{rows(T, DRIVE, OUT)}\n" for k in range(3)),
        HEAD + "".join(rows(T, DRIVE, OUT) for _ in range(3)),
    ],
)
def test_every_block_of_a_file_is_a_capture(text: str, tmp_path: Path) -> None:
    path = tmp_path / "birch.csv"
    path.write_text(text)
    captures = read_captures(path)
    assert len(captures) == 3
    for capture in captures:
        np.testing.assert_allclose(capture.t_s, T, atol=1e-9)
        np.testing.assert_allclose(capture.channel("Out").values, OUT, atol=1e-5)
        assert any("3 blocks were read" in remark for remark in capture.provenance.remarks)
    assert [bool(capture.provenance.sha256) for capture in captures] == [True, False, False]


@pytest.mark.parametrize("first", ["coil", "out"])
@pytest.mark.parametrize("style", ["named columns", "settings above"])
def test_a_table_a_channel_makes_one_capture(style: str, first: str, tmp_path: Path) -> None:
    def table(name: str, unit: str, values: np.ndarray) -> str:
        if style == "named columns":
            return f"Time (s),{name} ({unit})\n" + rows(T, values) + "\n"
        return f"Channel,{name}\nUnit,{unit}\nTime (s),Value\n" + rows(T, values) + "\n"

    parts = [table("Coil current", "A", DRIVE), table("Sensor", "V", OUT)]
    path = tmp_path / "birch.csv"
    path.write_text("".join(parts if first == "coil" else parts[::-1]))
    (capture,) = read_captures(path)
    assert {channel.name: channel.role for channel in capture.channels} == {"Coil current": "drive", "Sensor": "output"}
    np.testing.assert_allclose(capture.channel("Sensor").values, OUT, atol=1e-5)
    assert capture.provenance.path == str(path)
    assert len(capture.provenance.sha256) == 64
    assert "2 tables in one file" in capture.understood["columns"]


def test_a_table_of_something_else_is_no_block(tmp_path: Path) -> None:
    text = HEAD + rows(T, DRIVE, OUT) + "\nTime,Average,Peak\n" + rows(T, DRIVE, OUT)
    path = tmp_path / "birch.csv"
    path.write_text(text)
    assert len(read_captures(path)) == 1


def test_seconds_are_assumed_with_the_alternative(tmp_path: Path) -> None:
    remarks = " ".join(read(tmp_path, "Time,Coil,Out\n" + rows(1e3 * T, DRIVE, OUT)).provenance.remarks)
    assert "seconds were assumed" in remarks
    assert "as ms it is 19.95 ms: --time-unit ms" in remarks
    plain = " ".join(read(tmp_path, "Time,Coil,Out\n" + rows(T, DRIVE, OUT)).provenance.remarks)
    assert "seconds were assumed" in plain
    assert "--time-unit" not in plain


@pytest.mark.parametrize(
    "aside",
    ["Model (V)", "Residual (V)", "fit", "Abweichung (V)", "Modell", "erreur", "Temperatur (°C)", "temperature_c",
     "supply_v", "Sollwert", "setpoint", "consigna", "id", "Segment", "trigger", "Simulation (V)"],
)  # fmt: skip
def test_what_stands_beside_the_sensor_is_no_sensor(aside: str, tmp_path: Path) -> None:
    other = 0.9 * OUT + 0.01 * np.sin(np.arange(N))
    capture = read(tmp_path, f"Time (s),{aside},Coil (A),Out (V)\n" + rows(T, other, DRIVE, OUT))
    assert [channel.role for channel in capture.channels] == ["other", "drive", "output"]
    assert capture.understood["beside"].startswith(capture.channels[0].name)


def test_a_set_of_readings_is_no_set_point(tmp_path: Path) -> None:
    capture = read(tmp_path, "t_s,Coil (A),Set 1 (V)\n" + rows(T, DRIVE, OUT))
    assert [channel.role for channel in capture.channels] == ["drive", "output"]


def test_a_set_point_is_the_drive_where_there_is_no_other(tmp_path: Path) -> None:
    capture = read(tmp_path, "t_s,Sollwert,Istwert\n" + rows(T, np.sign(T), OUT))
    assert [channel.role for channel in capture.channels] == ["drive", "output"]


@pytest.mark.parametrize(
    ("head", "unit"),
    [("temps (s),courant (A),consigne (A),capteur (V)", "A"), ("tiempo_s,corriente_A,consigna_A,salida_V", "A"),
     ("tempo_s,bobina,obiettivo,uscita", ""), ("Time (s),coil current (A),I set (A),out (V)", "A"),
     ("Time (s),I (A),I programmed (A),out (V)", "A")],
)  # fmt: skip
def test_a_current_drives_and_not_what_was_asked_of_it(head: str, unit: str, tmp_path: Path) -> None:
    capture = read(tmp_path, head + "\n" + rows(T, DRIVE, np.sign(T), OUT))
    assert [channel.role for channel in capture.channels] == ["drive", "other", "output"]
    assert capture.channels[0].unit == unit


@pytest.mark.parametrize("word", ["OVLD", "OVERRANGE", "OL"])
def test_a_stretch_over_range_does_not_end_the_table(word: str, tmp_path: Path) -> None:
    lines = rows(T, DRIVE, OUT).splitlines()
    lines[200:225] = [f"{line.rsplit(',', 1)[0]},{word}" for line in lines[200:225]]
    capture = read(tmp_path, "Time (s),Coil (A),Out (V)\n" + "\n".join(lines))
    assert capture.t_s.size == N
    assert np.count_nonzero(np.isnan(capture.channel("Out").values)) == 25


def test_alike_columns_are_all_outputs_and_the_options_are_named(tmp_path: Path) -> None:
    capture = read(tmp_path, "Time (s),CH1 (V),CH2 (V)\n" + rows(T, OUT, 1.8 - 0.7 * OUT))
    assert [channel.role for channel in capture.channels] == ["output", "output"]
    assert any("--drive" in remark for remark in capture.provenance.remarks)
    behind = read(tmp_path, "Time (s),Coil (A),OutA (V),OutB (V)\n" + rows(T, DRIVE, OUT, 0.8 * OUT))
    assert [channel.role for channel in behind.channels] == ["drive", "output", "output"]
    assert any("--output" in remark for remark in behind.provenance.remarks)


def test_unlike_columns_stay_open_and_it_is_said_what_is_done(tmp_path: Path) -> None:
    capture = read(tmp_path, "Time (s),CH1 (V),CH2 (V)\n" + rows(T, OUT, DRIVE))
    assert [channel.role for channel in capture.channels] == ["", ""]
    assert any("moves first and fastest is taken for the drive" in remark for remark in capture.provenance.remarks)
    assert not are_alike(OUT, DRIVE)


def test_noise_does_not_part_alike_columns() -> None:
    rng = np.random.default_rng(3)
    assert are_alike(OUT + 0.02 * rng.standard_normal(N), 2 * OUT + 0.04 * rng.standard_normal(N))


@pytest.mark.parametrize("head", ["Frequency (Hz),Level (dB)\n", "Hz,dBV\n", "f,CH1 (dB)\n", "freq_khz,gain_db\n"])
def test_a_spectrum_has_no_edge(head: str, tmp_path: Path) -> None:
    f = 10.5 * np.arange(1, N + 1)
    with pytest.raises(FormatError, match="spectrum"):
        read(tmp_path, head + rows(f, -20 * np.log10(f)))
