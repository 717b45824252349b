"""What a bench result must not care about: the unit of volts and time, the zero of both, which way is up."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.model import BenchDirection, BenchResult, Capture, Channel, FloatArray, Provenance

RISE_S, FALL_S = 0.004, 0.006
QUANTITIES = ("time_constant", "transition_10_90", "step_transition_10_90", "smoothing_delay", "mean_delay")
T_S: FloatArray = 1e-4 * np.arange(1600, dtype=np.float64)
ON = (T_S % 0.08 >= 0.01) & (T_S % 0.08 < 0.05)


def output_v() -> FloatArray:
    """Two pulses, each edge one pole of its own, 1.4 V over 0.2 V with 2 mV of noise."""
    since = T_S % 0.08
    up, down = 1 - np.exp(-(since - 0.01) / RISE_S), np.exp(-(since - 0.05) / FALL_S)
    wave = np.where(ON, up, np.where(since < 0.01, 0.0, down))
    return np.asarray(0.2 + 1.4 * wave + 0.002 * np.random.default_rng(4).standard_normal(T_S.size))


def measured(t_s: FloatArray, drive: FloatArray, output: FloatArray) -> BenchResult:
    channels = (
        Channel(name="coil", values=drive, unit="A", role="drive"),
        Channel(name="out", values=output, unit="V", role="output"),
    )
    capture = Capture(
        t_s=t_s, interval_s=float(t_s[1] - t_s[0]), channels=channels, provenance=Provenance(format="capture")
    )
    return measure_response(capture)


@cache
def plain() -> BenchResult:
    return measured(T_S, ON.astype(np.float64), output_v())


def alike(found: BenchDirection | None, expected: BenchDirection | None, stretch: float = 1.0) -> None:
    """Hold every time of a direction against another's, to a tenth of its uncertainty."""
    assert found is not None
    assert expected is not None
    assert (found.model, found.n_edges, found.saturated) == (expected.model, expected.n_edges, expected.saturated)
    for name in QUANTITIES:
        own, other = getattr(found, name), getattr(expected, name)
        assert own.status is other.status, name
        if other.value is not None:
            assert own.value == pytest.approx(stretch * other.value, abs=0.1 * stretch * (other.u or 0.0)), name
            assert own.u == pytest.approx(stretch * (other.u or 0.0), rel=0.1), name


def test_what_the_others_are_held_against_is_right() -> None:
    for side, tau_s in ((plain().rising, RISE_S), (plain().falling, FALL_S)):
        assert side is not None
        assert side.time_constant.value == pytest.approx(tau_s, abs=4 * (side.time_constant.u or 0.0))
        assert side.model == "one_pole"


@pytest.mark.parametrize(
    ("gain", "offset"), [(1000.0, 0.0), (0.01, -5.0), pytest.param(1.0, 12.0, marks=pytest.mark.full)]
)
def test_volts_have_no_unit_and_no_zero(gain: float, offset: float) -> None:
    found = measured(T_S, ON.astype(np.float64), offset + gain * output_v())
    alike(found.rising, plain().rising)
    alike(found.falling, plain().falling)
    assert found.swing.value == pytest.approx(gain * (plain().swing.value or 0.0), rel=1e-3)
    assert found.noise.value == pytest.approx(gain * (plain().noise.value or 0.0), rel=0.02)


@pytest.mark.parametrize("stretch", [0.01, 25.0])
def test_time_has_no_unit(stretch: float) -> None:
    found = measured(stretch * T_S, ON.astype(np.float64), output_v())
    alike(found.rising, plain().rising, stretch)
    alike(found.falling, plain().falling, stretch)
    assert found.asymmetry.value == pytest.approx(plain().asymmetry.value, rel=0.01)


def test_time_has_no_zero() -> None:
    found = measured(T_S - 37.5, ON.astype(np.float64), output_v())
    alike(found.rising, plain().rising)
    alike(found.falling, plain().falling)


def test_upside_down_rising_and_falling_change_places() -> None:
    found = measured(T_S, ON.astype(np.float64), -output_v())
    alike(found.rising, plain().falling)
    alike(found.falling, plain().rising)
    assert found.asymmetry.value == pytest.approx(1 / (plain().asymmetry.value or 1.0), rel=0.01)


def test_the_drive_has_no_unit_and_no_sign() -> None:
    for drive in (0.02 * ON - 3.0, -5.0 * ON):
        found = measured(T_S, np.asarray(drive, dtype=np.float64), output_v())
        alike(found.rising, plain().rising)
        alike(found.falling, plain().falling)
