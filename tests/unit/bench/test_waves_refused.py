"""A wave without a rest has no edge to measure; a step that is turned back early still has."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import signal
from typer.testing import CliRunner

from feelcheck.bench import measure_response
from feelcheck.bench.edges import find_edges
from feelcheck.bench.levels import prepare
from feelcheck.bench.waves import is_wave
from feelcheck.cli import app
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import Capture, Channel, FloatArray, Provenance

T = np.linspace(0.0, 1.0, 5000)
SCOPES = [(0.0, 0), (0.003, 8), (0.02, 8)]
"""Noise rms as a share of the swing, and bits across 1.25 times the swing (0: not rounded)."""


def cycles(kind: str, n: float) -> FloatArray:
    """Phase of n cycles (of a sweep: n on average) over the record, in cycles."""
    paces = {"up": n * (0.2 * T + 0.8 * T**2), "down": n * (1.8 * T - 0.8 * T**2), "decade": n * (10**T - 1) / 9}
    return np.asarray(paces.get(kind, n * T))


def wave(kind: str, n: float, phase: float) -> FloatArray:
    x = cycles(kind, n) + phase
    return np.asarray(signal.sawtooth(2 * np.pi * x, 0.5) if kind == "triangle" else np.sin(2 * np.pi * x))


def square_through_pole(n: float, held_taus: float, phase: float) -> FloatArray:
    """A square wave of n periods through one pole, each state held for that many time constants, by the filter."""
    long = np.arange(-int(4 * T.size), T.size) * T[1]
    decay = float(np.exp(-T[1] * 2 * n * held_taus))
    steps = signal.square(2 * np.pi * (n * long + phase))
    return np.asarray(signal.lfilter([1 - decay], [1, -decay], steps)[-T.size :])


def seen(values: FloatArray, noise: float, bits: int, offset: float, rng: np.random.Generator) -> FloatArray:
    swing = float(np.ptp(values))
    noisy = values + noise * swing * rng.standard_normal(values.size)
    step = 1.25 * swing / 2**bits
    return np.asarray(offset + (np.round(noisy / step) * step if bits else noisy))


def judged(values: FloatArray) -> bool:
    trace = prepare(T, values)
    return is_wave(trace, find_edges(trace))


def capture_of(values: FloatArray) -> Capture:
    output = Channel(name="CH1", values=values, unit="V")
    return Capture(t_s=T, interval_s=None, channels=(output,), provenance=Provenance())


@pytest.mark.parametrize(("noise", "bits"), SCOPES)
@pytest.mark.parametrize("n", [1.0, 1.3, 2.5, 20.0])
@pytest.mark.parametrize("kind", ["sine", "triangle"])
def test_a_sine_and_a_triangle_are_waves(kind: str, n: float, noise: float, bits: int) -> None:
    rng = np.random.default_rng([61, int(10 * n), bits])
    for phase in rng.uniform(size=2):
        assert judged(seen(wave(kind, n, float(phase)), noise, bits, float(rng.uniform(-5, 5)), rng))


@pytest.mark.parametrize(("noise", "bits"), SCOPES)
@pytest.mark.parametrize("n", [5.0, 20.0])
@pytest.mark.parametrize("kind", ["up", "down", "decade"])
def test_a_sweep_is_a_wave(kind: str, n: float, noise: float, bits: int) -> None:
    rng = np.random.default_rng([62, int(n), bits])
    assert judged(seen(wave(kind, n, 0.1), noise, bits, 2.0, rng))


@pytest.mark.parametrize(("noise", "bits"), SCOPES)
@pytest.mark.parametrize("held_taus", [1.0, 2.0, 3.0, 8.0])
@pytest.mark.parametrize("n", [1.0, 1.7, 3.0, 20.0])
def test_steps_through_a_pole_are_none_however_early_they_turn_back(
    n: float, held_taus: float, noise: float, bits: int
) -> None:
    rng = np.random.default_rng([63, int(10 * n), bits])
    for phase in rng.uniform(size=2):
        assert not judged(seen(square_through_pole(n, held_taus, float(phase)), noise, bits, 1.0, rng))


@pytest.mark.parametrize("ramp_share", [0.05, 0.2, 0.4])
def test_ramps_between_states_that_are_held_are_no_wave(ramp_share: float) -> None:
    rng = np.random.default_rng(64)
    held = np.clip(wave("triangle", 4.0, 0.2) / ramp_share, -1.0, 1.0)
    assert not judged(seen(held, 0.003, 8, 0.0, rng))


def test_one_short_pulse_between_long_rests_is_no_wave() -> None:
    assert not judged(np.maximum(0.0, 1.0 - np.abs(T - 0.5) / 0.05))


def test_a_lone_wave_is_refused_and_a_turned_back_pole_is_measured() -> None:
    rng = np.random.default_rng(65)
    with pytest.raises(NotEnoughDataError, match="wave that never rests"):
        measure_response(capture_of(seen(wave("sine", 5.0, 0.3), 0.003, 8, 0.0, rng)))
    result = measure_response(capture_of(seen(square_through_pole(3.0, 2.0, 0.1), 0.001, 0, 0.0, rng)))
    assert result.rising is not None
    assert result.rising.time_constant.value == pytest.approx(1 / 12, rel=0.03)


def test_the_command_says_so_once_and_ends_with_2(tmp_path: Path) -> None:
    path = tmp_path / "rowan.csv"
    np.savetxt(path, np.column_stack([T, wave("sine", 5.0, 0.3)]), delimiter=",", header="time_s,CH1_V", comments="")
    ran = CliRunner().invoke(app, ["bench", str(path)])
    assert ran.exit_code == 2
    assert ran.output.count("never rests") == 1


@pytest.mark.parametrize("kind", ["even", "up"])
def test_a_drive_that_is_a_wave_is_refused(kind: str) -> None:
    drive = wave(kind, 9.3, 0.1)
    lagging = signal.lfilter([0.01], [1, -0.99], drive)
    channels = (
        Channel(name="coil", values=drive, unit="A", role="drive"),
        Channel(name="out", values=np.asarray(lagging), unit="V", role="output"),
    )
    with pytest.raises(NotEnoughDataError, match="a wave that never rests"):
        measure_response(Capture(t_s=T, interval_s=None, channels=channels, provenance=Provenance()))


def test_a_column_beside_the_sensor_is_not_measured_in_its_place() -> None:
    rng = np.random.default_rng(4)
    pole = square_through_pole(1.5, 8.0, 0.0) + 0.004 * rng.standard_normal(T.size)
    drive = np.sign(np.sin(2 * np.pi * 1.5 * T)) + 0.004 * rng.standard_normal(T.size)
    warm = Channel(name="warmth", values=np.round(25 + T, 3), unit="", role="other")
    channels = (
        Channel(name="coil", values=drive, unit="A", role="drive"), warm,
        Channel(name="out", values=pole, unit="V"), Channel(name="copy", values=0.8 * pole, unit="V"),
    )  # fmt: skip
    found = measure_response(Capture(t_s=T, interval_s=None, channels=channels, provenance=Provenance()))
    assert found.output_name in ("out", "copy")
