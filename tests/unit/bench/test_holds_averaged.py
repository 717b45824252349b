"""Holds behind averaged samples: steps as wide as a sample, flats as averages, and no search beyond the noise."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from edge_windows import edge_window, ramp_of_3_ms

from feelcheck.bench import holds
from feelcheck.bench.holds import Hold, held_window, hold_of_steps, tick_in
from feelcheck.bench.levels import block_average
from feelcheck.bench.stairs import held_stimulus
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import Estimate, FloatArray
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus

FINE_S, SIZE, HOLD_S = 2e-6, 20, 0.93e-3
FINE: FloatArray = np.asarray(np.arange(-5000, 25000) * FINE_S, dtype=np.float64)
T: FloatArray = block_average(FINE, SIZE)
NOISE = 1e-3


def window(tau_s: float = 0.0) -> EdgeWindow:
    """An edge of a sensor that holds, averaged to 1,500 samples, with a pole behind it."""
    ticks = np.asarray(np.floor((FINE - 0.31e-3) / HOLD_S) * HOLD_S + 0.31e-3, dtype=np.float64)
    steps = Stimulus(t_s=FINE, u=ramp_of_3_ms(ticks))
    y = DrivenInstants(steps, FINE).pole(tau_s, twice=False).once[0] if tau_s else steps.u
    y = y + NOISE * np.sqrt(SIZE) * np.random.default_rng(7).standard_normal(FINE.size)
    drive = Stimulus(t_s=T, u=ramp_of_3_ms(T))
    times = {"duration_s": 2.4e-3, "drive_duration_s": 2.4e-3, "interval_s": FINE_S * SIZE}
    return edge_window(T, block_average(y, SIZE), drive, NOISE, raw=(0, FINE.size), **times)


def test_steps_take_the_time_of_a_sample_that_is_an_average() -> None:
    edge = window()
    hold = Hold(interval_s=HOLD_S, u_s=1e-6, conversion_s=0.0, pole_s=0.0, found=True)
    held = held_window(edge, tick_in(edge, hold), HOLD_S)
    assert held.held
    left = edge.y - held.instants.itself()[0][0]
    assert float(np.sqrt(np.mean(left**2))) < 2 * NOISE


@pytest.mark.parametrize("share", [0.0, 0.3, 2.0])
def test_averages_of_the_flats_tell_the_same_as_all_samples(share: float) -> None:
    edge = window(share * HOLD_S)
    near = (float(np.log(1.04 * HOLD_S)), 0.31e-3 / HOLD_S, 0.1, share)
    sight = holds._sight(edge)
    assert sight.y.size < edge.y.size / 3
    assert sight.left(near) == pytest.approx(holds._whole(edge).left(near), rel=0.01)


def test_a_start_that_leads_nowhere_gives_way_to_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    wrong, right = (holds._Try(rss=1.0, at=(float(np.log(p)), 0.3, 0.0, 0.0)) for p in (0.5 * HOLD_S, 0.97 * HOLD_S))
    tried: list[float] = []
    refined = holds._refined

    def counted(look: holds._Sight, start: holds._Try, max_evaluations: int) -> holds._Try:
        tried.append(start.at[0])
        return refined(look, start, max_evaluations)

    monkeypatch.setattr(holds, "_refined", counted)
    monkeypatch.setattr(holds, "_starts", lambda *_: [wrong, right, wrong])
    best = holds._best(window(), 1.0, bare=True)
    assert best is not None
    assert float(np.exp(best.at[0])) == pytest.approx(HOLD_S, rel=2e-3)
    assert tried[:2] == [wrong.at[0], right.at[0]]
    assert len(tried) == 3, "what leaves far more than the best one so far is not refined"
    assert abs(tried[2] - np.log(HOLD_S)) < 0.02, "the best one is refined to its end"


def test_a_step_as_wide_as_a_sample_is_what_an_average_makes_of_it() -> None:
    step = Stimulus(t_s=np.array([0.0, 1.0]), u=np.array([0.0, 1.0]))
    narrow, wide = (held_stimulus(step, 0.0, 0.25, averaged_s=width) for width in (0.0, 0.1))
    at: FloatArray = np.linspace(0.06, 0.9, 40)
    averaged = DrivenInstants(narrow, at + 0.05).average(0.1)[0]
    assert DrivenInstants(wide, at).itself()[0][0] == pytest.approx(averaged, abs=1e-12)


def test_a_grid_of_holds_is_left_where_a_part_of_it_is_hopeless(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    grid = holds._grid

    def counted(sight: holds._Sight, periods: FloatArray, bare: bool) -> Any:
        asked.append(periods.size)
        return grid(sight, periods, bare)

    monkeypatch.setattr(holds, "_grid", counted)
    sight = holds._sight(window())
    assert holds._starts(sight, 1e-9, bare=True) == []
    assert len(asked) == 1
    assert asked[0] < 20
    assert holds._starts(sight, 0.12, bare=True), "0.61 is left by the shortest hold"


@pytest.mark.parametrize("late", [0.0, 0.4])
def test_behind_steps_a_pole_is_no_conversion_time(late: float) -> None:
    ticks = np.asarray(np.floor((FINE - 0.31e-3) / HOLD_S) * HOLD_S + 0.31e-3, dtype=np.float64)
    steps = Stimulus(t_s=FINE, u=ramp_of_3_ms(np.asarray(ticks - late * HOLD_S, dtype=np.float64)))
    y = DrivenInstants(steps, FINE).pole(0.3 * HOLD_S, twice=False).once[0]
    y = y + NOISE * np.sqrt(SIZE) * np.random.default_rng(7).standard_normal(FINE.size)
    edge = replace(window(), y=block_average(y, SIZE))
    interval = Estimate.measured("update_interval", HOLD_S, u=1e-6, unit="s")
    hold = hold_of_steps([edge], [0.31e-3 + 0.2 * HOLD_S], interval)  # the pole moves what is half-way
    assert hold.conversion_s == pytest.approx(late * HOLD_S, abs=0.02 * HOLD_S)
    assert hold.pole_s == pytest.approx(0.3 * HOLD_S, rel=0.1)


def test_a_hold_is_refined_near_its_start_only() -> None:
    asked: list[float] = []
    edge = window(0.3 * HOLD_S)

    class Watched(holds._Sight):
        def left(self, at: tuple[float, float, float, float]) -> float:
            asked.append(at[0])
            return float(at[0])  # the shorter the better

    sight = holds._sight(edge)
    watched = Watched(window=edge, t_s=sight.t_s, y=sight.y, n=sight.n, within=sight.within)
    start = holds._Try(rss=1.0, at=(float(np.log(HOLD_S)), 0.3, 0.1, 0.3))
    found = holds._refined(watched, start, 140)
    assert min(asked) > np.log(HOLD_S) - 0.31
    assert found.at[0] < np.log(HOLD_S) - 0.2
