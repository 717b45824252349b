"""A quick second pole and a dead time: the one with the evidence, or both in the uncertainty."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from edge_windows import edge_window

from feelcheck.bench import choice, measure_response
from feelcheck.bench.fit import ModelFit, fit_spec
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import BenchDirection, Capture, Channel, FloatArray, Provenance
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus
from feelcheck.numerics.uncertainty import coverage_interval

INTERVAL_S, SLOW_S = 20e-6, 2.6e-3


def rising(second_s: float, dead_s: float, noise: float) -> BenchDirection:
    """One edge behind a ramp of 1.5 ms, through two poles and a dead time."""
    t: FloatArray = np.asarray(np.arange(-500, 3000) * INTERVAL_S, dtype=np.float64)
    drive = np.clip(t / 1.5e-3, 0.0, 1.0)
    y = np.clip((t - dead_s) / 1.5e-3, 0.0, 1.0)
    for tau_s in (SLOW_S, second_s):
        y = DrivenInstants(Stimulus(t_s=t, u=y), t).pole(tau_s, twice=False).once[0] if tau_s else y
    y = y + noise * np.random.default_rng(5).standard_normal(t.size)
    columns = Channel(name="coil", unit="A", values=drive), Channel(name="out", unit="V", values=y)
    told = Provenance(path="alder.csv", format="capture")
    capture = Capture(t_s=t - t[0], interval_s=INTERVAL_S, channels=columns, provenance=told)
    seen = measure_response(capture, drive="coil").rising
    assert seen is not None
    return seen


def test_a_second_pole_that_the_samples_tell_is_no_dead_time() -> None:
    seen = rising(0.17e-3, 0.0, 2e-3)
    assert seen.model == "two_pole"
    assert seen.dead_time.value is None
    assert seen.smoothing_delay.value == pytest.approx(SLOW_S + 0.17e-3, rel=0.005)


def test_a_dead_time_that_the_samples_tell_is_no_second_pole() -> None:
    seen = rising(0.0, 0.17e-3, 2e-3)
    assert seen.model == "one_pole"
    assert seen.dead_time.value == pytest.approx(0.17e-3, abs=0.01e-3)
    low, high = coverage_interval(seen.smoothing_delay)
    assert low is not None
    assert high is not None
    assert low < SLOW_S < high
    assert high - low < 0.15e-3


def test_where_neither_is_told_the_smoothing_may_hold_both() -> None:
    seen = rising(0.045e-3, 0.0, 2e-3)
    low, high = coverage_interval(seen.smoothing_delay)
    assert low is not None
    assert high is not None
    assert low < SLOW_S + 0.045e-3 < high
    assert seen.dead_time.value is None


def window(y: FloatArray, t: FloatArray, drive: Stimulus, noise: float) -> EdgeWindow:
    """An edge behind a drive, or behind a step that nobody captured."""
    driven = drive.t_s.size > 2
    times = {"duration_s": 2.2 * SLOW_S, "drive_duration_s": 1.2e-3 * driven, "interval_s": INTERVAL_S}
    return edge_window(t, y, drive, noise, driven=driven, drive_swing=1.0 * driven, **times)


def test_behind_an_onset_that_nobody_captured_a_second_pole_of_a_hundredth_is_none() -> None:
    t: FloatArray = np.asarray(np.arange(-200, 1200) * INTERVAL_S, dtype=np.float64)
    y = DrivenInstants(Stimulus.step(), t).pole(SLOW_S, twice=False).once[0]
    y = DrivenInstants(Stimulus(t_s=t, u=y), t).pole(0.012 * SLOW_S, twice=False).once[0]
    y = y + 1e-6 * np.random.default_rng(1).standard_normal(t.size)
    fit = fit_spec(ModelSpec(shape="two_pole", dead=True), window(y, t, Stimulus.step(), 1e-6))
    assert fit.poles_s[1] == pytest.approx(0.012 * SLOW_S, rel=0.3)
    assert not choice._sound(fit)


def test_correlated_residuals_too_small_for_any_effect_ask_for_nothing_richer(monkeypatch: pytest.MonkeyPatch) -> None:
    shapes: list[str] = []

    def told(spec: ModelSpec, *rest: Any) -> ModelFit:
        shapes.append(spec.shape)
        return fit_spec(spec, *rest)

    monkeypatch.setattr(choice, "fit_spec", told)
    t: FloatArray = np.asarray(np.arange(-200, 1200) * INTERVAL_S, dtype=np.float64)
    drive = Stimulus(t_s=t, u=np.clip(t / 1.5e-3, 0.0, 1.0))
    noise = np.convolve(np.random.default_rng(1).standard_normal(t.size + 20), np.ones(21) / 21, mode="valid")
    for size, asked in ((2e-4, False), (2e-2, True)):
        y = DrivenInstants(drive, t).pole(SLOW_S, twice=False).once[0] + size * noise
        shapes.clear()
        found = choice.choose_model([window(y, t, drive, 1e-6)])
        assert found.best[0].correlation > 2
        assert ("two_pole" in shapes) is asked
