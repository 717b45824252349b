"""Straight lines behind a measured drive, an average's and a slew limit's: mean delays are those of the areas."""

from __future__ import annotations

import importlib
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from feelcheck.bench import measure_response
from feelcheck.bench.choice import _small_beside
from feelcheck.bench.response_models import ModelSpec
from feelcheck.model import BenchDirection, BenchResult, Capture, Channel, FloatArray, Provenance, Status
from feelcheck.numerics.uncertainty import coverage_interval

LOOKS = importlib.import_module("feelcheck.bench.looks")
FINE = 8
T = np.linspace(-10e-3, 90e-3, 2000 * FINE)
RISE_S, DOWN_S = 0.7e-3, 45e-3
CODE_V = 0.012


def drive() -> FloatArray:
    """A coil at a voltage: exponentials, up at 0 and down again."""

    def way(since: FloatArray) -> FloatArray:
        return np.asarray(-np.expm1(-np.maximum(since, 0.0) / RISE_S))

    return way(T) - way(T - DOWN_S)


def measured(output: FloatArray, noise: float = 3e-3) -> BenchResult:
    """The result of an 8-bit capture of the drive and an output from 0 to 1.3 V."""
    rng = np.random.default_rng(2)
    t, u, y = T[::FINE], drive()[::FINE], 1.3 * output[::FINE]
    channels = (
        Channel(name="coil", values=u + noise * rng.standard_normal(t.size), unit="A", role="drive"),
        Channel(name="out", values=CODE_V * np.round((y + noise * rng.standard_normal(t.size)) / CODE_V), unit="V",
                role="output"),
    )  # fmt: skip
    return measure_response(Capture(t_s=t, interval_s=None, channels=channels, provenance=Provenance()))


def sides(result: BenchResult) -> tuple[BenchDirection, BenchDirection]:
    assert result.rising is not None
    assert result.falling is not None
    return result.rising, result.falling


def covers(side: BenchDirection, quantity: str, truth_s: float) -> bool:
    low, high = coverage_interval(getattr(side, quantity))
    return (low or 0.0) <= truth_s <= (high or np.inf)


def averaged(width_s: float) -> FloatArray:
    u = drive()
    area = np.concatenate([[0.0], np.cumsum(0.5 * (u[1:] + u[:-1]) * np.diff(T))])
    return np.asarray((area - np.interp(T - width_s, T, area, left=0.0)) / width_s)


def slewed(rate_per_s: float) -> FloatArray:
    u, most = drive(), rate_per_s * (T[1] - T[0])
    found = np.zeros(T.size)
    for k in range(1, T.size):
        found[k] = found[k - 1] + min(max(u[k] - found[k - 1], -most), most)
    return found


@pytest.mark.parametrize("width_s", [3e-3, 8e-3])
def test_a_moving_average_is_one_and_delays_by_half_of_it(width_s: float) -> None:
    for side in sides(measured(averaged(width_s))):
        assert side.model == "average"
        assert side.smoothing_delay.value == pytest.approx(width_s / 2, rel=0.01)
        assert covers(side, "smoothing_delay", width_s / 2)
        assert covers(side, "mean_delay", width_s / 2)
        assert side.time_constant.status is Status.NOT_RESOLVED
        assert [caveat.code for caveat in side.time_constant.caveats] == ["moving_average"]
        assert covers(side, "step_transition_10_90", 0.8 * width_s)


def test_a_straight_line_one_way_alone_is_a_weak_output() -> None:
    """Up through a pole, down at a constant current: what is linear averages both ways."""
    u, step = drive(), T[1] - T[0]
    found = np.zeros(T.size)
    for k in range(1, T.size):
        found[k] = found[k - 1] + max((u[k] - found[k - 1]) * step / 1e-3, -50.0 * step)
    rising, falling = sides(measured(found))
    assert covers(rising, "time_constant", 1e-3)
    assert falling.model in ("ramp", "slew")
    assert [caveat.code for caveat in falling.time_constant.caveats] == ["weak_sink"]


def test_a_pole_is_no_average() -> None:
    pole = np.zeros(T.size)
    u, decay = drive(), np.exp(-(T[1] - T[0]) / 3e-3)
    for k in range(1, T.size):
        pole[k] = u[k - 1] + (pole[k - 1] - u[k - 1]) * decay
    for side in sides(measured(pole)):
        assert side.model == "one_pole"
        assert covers(side, "time_constant", 3e-3)


def test_a_slew_limit_delays_by_its_area_less_the_drives() -> None:
    output = slewed(60.0)
    up = T < DOWN_S
    truth_s = float(np.trapezoid(drive()[up] - output[up], T[up]))
    for side in sides(measured(output)):
        assert side.model in ("ramp", "slew")
        assert side.mean_delay.value == pytest.approx(truth_s, rel=0.02)
        assert covers(side, "mean_delay", truth_s)


def test_what_rounding_leaves_is_no_sag() -> None:
    """A level between two codes and noise of a third of a code: the plateau is rounded, and creeps by half a code."""
    pole = np.zeros(T.size)
    u, decay = drive(), np.exp(-(T[1] - T[0]) / 4.7e-3)
    for k in range(1, T.size):
        pole[k] = u[k - 1] + (pole[k - 1] - u[k - 1]) * decay
    for level in (0.0, 0.25, 0.5, 0.75):
        result = measured((pole * 1.3 + level * CODE_V) / 1.3)
        for side in sides(result):
            assert "ac_coupled" not in {caveat.code for caveat in side.time_constant.caveats}
            assert covers(side, "time_constant", 4.7e-3)


@pytest.mark.parametrize(("sag_v", "told"), [(0.014, False), (0.03, True)])
def test_a_sag_is_told_from_a_code_and_a_half_on(sag_v: float, told: bool) -> None:
    window = SimpleNamespace(swing=1.3, step=CODE_V)
    spec = ModelSpec(coupled=True)
    fit: Any = SimpleNamespace(
        spec=spec, window=window, besides=np.linspace(0.0, sag_v, 50), coupling_s=1.0, poles_s=(4e-3,)
    )
    assert _small_beside(fit) == told


def test_an_average_one_way_alone_is_asked_for_again_without(monkeypatch: pytest.MonkeyPatch) -> None:
    """Up another shape, or an average of another length: both directions are fitted without averages."""
    shapes = {"up": "one_pole", "down": "average"}
    delays = {"up": 1e-3, "down": 2e-3}

    def fitted(way: Any, averages: bool = False) -> Any:
        name = "up" if way[0].rising else "down"
        shape = shapes[name] if averages else "ramp"
        return SimpleNamespace(shape=shape, fits=(SimpleNamespace(smoothing_s=delays[name]),))

    monkeypatch.setattr(LOOKS, "fit_direction", fitted)
    windows: Any = (SimpleNamespace(rising=True), SimpleNamespace(rising=False))
    assert [found.shape for found in LOOKS._both_ways(windows)] == ["ramp", "ramp"]
    shapes["up"] = "average"
    assert [found.shape for found in LOOKS._both_ways(windows)] == ["ramp", "ramp"]
    delays["up"] = 1.95e-3
    assert [found.shape for found in LOOKS._both_ways(windows)] == ["average", "average"]


def test_a_late_start_and_a_dead_time_are_told_apart_by_no_exponential_drive() -> None:
    """Behind an exponential drive a dead time reads like a sensor that begins late: both are in the mean delay's u."""
    u, decay = np.interp(T - 0.4e-3, T, drive()), np.exp(-(T[1] - T[0]) / 0.3e-3)
    pole = np.zeros(T.size)
    for k in range(1, T.size):
        pole[k] = u[k - 1] + (pole[k - 1] - u[k - 1]) * decay
    for side in sides(measured(pole)):
        assert covers(side, "mean_delay", 0.7e-3)
