"""The drive as it is read: never quicker or slower than the samples, or their averages, can tell."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.bench.drive_reading import read_drive
from feelcheck.bench.edges import find_edges
from feelcheck.bench.levels import prepare
from feelcheck.model import Capture, Channel, Estimate, FloatArray, Provenance, Status

SPAN_S, TAU_S = 0.2, 4.7e-3


def square(t_s: FloatArray, rise_s: float, at: tuple[float, float] = (0.0501, 0.1403)) -> FloatArray:
    """A drive that goes up and down along a straight line of so many seconds (0: at once)."""
    up, down = (np.clip((t_s - edge) / max(rise_s, 1e-12), 0.0, 1.0) for edge in at)
    return np.asarray(up - down)


def driven(n: int, noise: float, drive_noise: float) -> Capture:
    """A switch's edges through one pole."""
    rng = np.random.default_rng(3)
    t = np.linspace(0.0, SPAN_S, n)
    after = [np.where(t > at, 1 - np.exp(-np.maximum(t - at, 0.0) / TAU_S), 0.0) for at in (0.0501, 0.1403)]
    out = after[0] - after[1] + noise * rng.standard_normal(n)
    drive = square(t, 0.0) + drive_noise * rng.standard_normal(n)
    columns = (Channel(name="in", values=drive, unit="V"), Channel(name="out", values=out, unit="V", role="output"))
    return Capture(t_s=t, interval_s=SPAN_S / (n - 1), channels=columns, provenance=Provenance(format="test"))


@pytest.mark.parametrize("n", [2_000, 150_000])
def test_switch_between_two_samples_is_a_limit_and_a_command(n: int) -> None:
    result = measure_response(driven(n, 0.004, 0.004))
    assert result.drive_transition is not None
    assert result.drive_transition.status is Status.AT_MOST
    assert result.drive_transition.bound is not None
    assert result.drive_transition.bound < 2.7 * SPAN_S / n
    assert result.drive_kind == "command"
    assert "drive_asymmetric" not in {caveat.code for caveat in result.caveats}


def test_noisy_switch_is_a_drive_and_its_duration_no_more_than_the_averages_tell() -> None:
    result = measure_response(driven(60_000, 0.01, 0.2))
    assert result.drive_name == "in"
    assert result.drive_transition is not None
    assert result.drive_transition.status is Status.AT_MOST


def read(t_s: FloatArray, values: FloatArray) -> Estimate:
    """The 10-90 % duration of a column."""
    trace = prepare(t_s, values)
    return read_drive(find_edges(trace), trace, "V")[0]


def within(rise_s: float, n: int, noise: float, rounded: bool, draws: int = 24) -> float:
    """Share of the durations read, or limits, that hold the true one within two standard uncertainties."""
    rng = np.random.default_rng(11)
    t = np.linspace(0.0, SPAN_S, n)
    truth = float(np.arccos(-0.8) - np.arccos(0.8)) / np.pi * rise_s if rounded else 0.8 * rise_s
    held = []
    for _ in range(draws):
        drive = square(t, rise_s, (float(rng.uniform(0.04, 0.06)), float(rng.uniform(0.13, 0.15))))
        drive = np.sin(np.pi / 2 * drive) ** 2 if rounded else drive
        found = read(t, drive + noise * rng.standard_normal(n))
        if found.value is None or found.u is None:
            held.append(found.bound is not None and found.bound > truth)
        else:
            held.append(abs(found.value - truth) < 2 * found.u)
    return float(np.mean(held))


@pytest.mark.parametrize(
    ("rise_s", "n", "noise", "rounded"),
    [(10e-3, 2_000, 0.03, False), (20e-3, 20_000, 0.0005, True), (0.3e-3, 3_000, 0.003, False)],
    ids=["the noise", "the averaging", "the interval"],
)
def test_interval_of_a_drive_s_duration_holds_it(rise_s: float, n: int, noise: float, rounded: bool) -> None:
    assert within(rise_s, n, noise, rounded) >= 0.9
