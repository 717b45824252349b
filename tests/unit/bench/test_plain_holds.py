"""Holds that are decided before anything smooth is searched: steps that are plain to see, and nothing else."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from edge_windows import edge_window, ramp_of_3_ms
from scipy import signal

from feelcheck.bench.fit import ModelFit, fit_spec
from feelcheck.bench.holds import find_plain_hold
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.windows import EdgeWindow, capped
from feelcheck.model import FloatArray
from feelcheck.numerics.pole_response import Stimulus

INTERVAL_S = 10e-6
T: FloatArray = np.asarray(np.arange(-300, 900) * INTERVAL_S, dtype=np.float64)


def window(y: Any, noise: float = 1e-3) -> EdgeWindow:
    """An edge behind the ramp, with white noise."""
    y = y + noise * np.random.default_rng(3).standard_normal(T.size)
    return edge_window(T, y, Stimulus(t_s=T, u=ramp_of_3_ms(T)), noise, duration_s=2.4e-3, drive_duration_s=2.4e-3)


def pole(y: Any) -> ModelFit:
    """The single pole that is asked first."""
    return fit_spec(ModelSpec(), window(y))


def held(period_s: float, phase: float = 0.4) -> FloatArray:
    """The ramp as a sensor shows it that looks every so often."""
    return ramp_of_3_ms(np.asarray(np.floor(T / period_s + phase) * period_s - phase * period_s, dtype=np.float64))


def test_steps_that_are_plain_to_see_are_found() -> None:
    hold = find_plain_hold([pole(held(2e-3))])
    assert hold is not None
    assert hold.interval_s == pytest.approx(2e-3, rel=0.02)


def behind(y: Any, tau_s: float) -> FloatArray:
    """Values behind a pole, step by step exactly."""
    a = float(np.exp(-INTERVAL_S / tau_s))
    return np.asarray(signal.lfilter([1 - a], [1.0, -a], y), dtype=np.float64)


def test_steps_that_a_pole_rounds_are_found_on_every_edge() -> None:
    tau_s = 0.5e-3
    first, later = (pole(behind(held(1e-3, phase), tau_s)) for phase in (0.4, 0.73))
    hold = find_plain_hold([first, later])
    assert hold is not None
    assert hold.interval_s == pytest.approx(1e-3, rel=0.01)
    assert hold.pole_s == pytest.approx(tau_s, rel=0.03)
    assert find_plain_hold([first, pole(behind(held(0.8e-3), tau_s))]) is None  # one clock holds all edges


@pytest.mark.parametrize(
    "smooth",
    [
        ramp_of_3_ms(T - 0.8e-3),
        0.5 * (ramp_of_3_ms(T - 0.2e-3) + ramp_of_3_ms(T - 1.4e-3)),
        np.clip(ramp_of_3_ms(T), 0.4, 0.6) * 5 - 2,
        np.clip(ramp_of_3_ms(T), 0.48, 0.52) * 25 - 12,
        behind(ramp_of_3_ms(T), 0.9e-3) + 0.3 * behind(ramp_of_3_ms(T), 0.2e-3),
        behind(behind(ramp_of_3_ms(T - 0.4e-3), 0.6e-3), 0.5e-3),
    ],
    ids=["late", "two ways", "cut", "hardly a ramp", "side by side", "two poles late"],
)
def test_a_smooth_edge_that_no_pole_fits_has_no_plain_steps(smooth: Any) -> None:
    assert find_plain_hold([pole(smooth)]) is None


def test_a_held_output_that_arrives_with_its_drive_is_not_cut_at_its_top() -> None:
    steps = held(1e-3)
    jumps = np.flatnonzero(np.diff(steps))
    knots = np.repeat(T[jumps + 1], 2)
    levels = np.concatenate([[0.0], np.repeat(steps[jumps + 1], 2)[:-1]])
    drive = Stimulus(t_s=np.concatenate([[T[0]], knots, [T[-1]]]), u=np.concatenate([[0.0], levels, [1.0]]))
    rounded = np.convolve(steps, np.ones(5) / 5, mode="same")
    rounded[-5:] = 1.0
    arrives, cut = (replace(window(y), stimulus=drive) for y in (rounded, np.minimum(rounded, 0.7) / 0.7))
    assert capped(arrives) is None
    assert capped(cut) is not None
