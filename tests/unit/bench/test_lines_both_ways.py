"""What decides between candidates of both directions, and between a sag and rounding: stand-ins for fits."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from feelcheck.bench import choice, looks, measure_response
from feelcheck.model import Capture, Channel, FloatArray, Provenance, Status
from feelcheck.numerics.uncertainty import coverage_interval


def test_an_average_one_way_alone_is_none_either_way(monkeypatch: pytest.MonkeyPatch) -> None:
    def fitted(way: list[Any], averages: bool = False) -> SimpleNamespace:
        return SimpleNamespace(shape="average" if averages and way[0].rising else "ramp", fits=())

    monkeypatch.setattr(looks, "fit_direction", fitted)
    both: Any = [SimpleNamespace(rising=True), SimpleNamespace(rising=False)]
    assert [found.shape for found in looks._both_ways(both) if found] == ["ramp", "ramp"]


@pytest.mark.parametrize(("steps", "is_sag"), [(0.8, False), (1.4, False), (1.6, True), (2.8, True)])
def test_a_sag_is_more_than_a_step_and_a_half(steps: float, is_sag: bool) -> None:
    step = 0.01
    fit: Any = SimpleNamespace(
        spec=SimpleNamespace(shape="one_pole", coupled=True, hum_hz=0.0, drift=False),
        besides=np.array([0.0, steps * step]),
        window=SimpleNamespace(swing=1.0, step=step),
        coupling_s=1.0,
        poles_s=(1e-3,),
    )
    assert choice._small_beside(fit) == is_sag


@pytest.mark.parametrize(
    ("pole_s", "width_s", "is_seen"), [(2e-3, 1e-3, True), (2e-3, 0.3e-3, False), (1e-4, 2e-3, True)]
)
def test_pole_and_average_each_have_a_tenth_of_the_others_delay(pole_s: float, width_s: float, is_seen: bool) -> None:
    times = SimpleNamespace(theta=np.log([pole_s, width_s]), at_bound=np.zeros(2, dtype=bool))
    fit: Any = SimpleNamespace(fit=times, window=SimpleNamespace(interval_s=20e-6))
    assert choice._both_seen(fit) == is_seen


def averaged(pole_s: float, width_s: float, rng: np.random.Generator) -> Capture:
    """A field that takes a millisecond each way, through one pole, sampled; the last samples averaged."""
    step = 20e-6
    t: FloatArray = np.asarray(step * np.arange(5000), dtype=np.float64)
    drive = np.clip((t - 0.02) / 1e-3, 0, 1) - np.clip((t - 0.06) / 1e-3, 0, 1)
    decay, level, pole = np.exp(-step / pole_s), 0.0, np.empty(t.size)
    for k, value in enumerate(drive):
        level = value + (level - value) * decay
        pole[k] = level
    n = round(width_s / step)
    total = np.cumsum(np.concatenate([np.zeros(n), pole]))
    answer = (total[n:] - total[:-n]) / n
    channels = (
        Channel(name="field", values=drive + 0.002 * rng.standard_normal(t.size), unit="mT", role="drive"),
        Channel(name="out", values=answer + 0.003 * rng.standard_normal(t.size), unit="V", role="output"),
    )
    return Capture(t_s=t, interval_s=step, channels=channels, provenance=Provenance())


@pytest.mark.parametrize(("pole_s", "width_s"), [(1e-3, 2e-3), (3e-3, 1e-3), (0.5e-3, 0.6e-3)])
def test_a_pole_and_an_average_are_told_apart(pole_s: float, width_s: float) -> None:
    result = measure_response(averaged(pole_s, width_s, np.random.default_rng(7)))
    for side in (result.rising, result.falling):
        assert side is not None
        assert side.model == "pole_and_average"
        assert side.time_constant.value == pytest.approx(pole_s, rel=0.03)
        low, high = coverage_interval(side.smoothing_delay)
        # the samples' own spacing is half of it more or less, at both ends of the average
        assert low is not None
        assert high is not None
        assert low - 20e-6 < pole_s + width_s / 2 < high + 20e-6


def test_an_output_that_jumps_is_no_edge_that_runs_into_a_flat_top() -> None:
    rng = np.random.default_rng(3)
    t: FloatArray = np.asarray(20e-6 * np.arange(5000), dtype=np.float64)
    drive = np.clip((t - 0.02) / 1.5e-3, 0, 1) - np.clip((t - 0.06) / 1.5e-3, 0, 1)
    answer = np.where((t > 0.0235) & (t < 0.0635), 1.0, 0.0)  # a comparator behind a slow filter
    channels = (
        Channel(name="coil", values=drive + 0.002 * rng.standard_normal(t.size), unit="A", role="drive"),
        Channel(name="out", values=answer + 0.003 * rng.standard_normal(t.size), unit="V", role="output"),
    )
    result = measure_response(Capture(t_s=t, interval_s=20e-6, channels=channels, provenance=Provenance()))
    for side in (result.rising, result.falling):
        assert side is not None
        assert side.time_constant.status is Status.AT_MOST
        assert (side.time_constant.bound or 1.0) < 100e-6
