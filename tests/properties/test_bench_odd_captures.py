"""Odd captures: never an exception or a warning, never an absurd number with the status ok."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feelcheck.bench import measure_response, recognise_board
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchDirection, BenchResult, Capture, Channel, Provenance

SHAPES = (
    "glitch", "three_samples", "pole", "ramp", "endless_ramp", "sine", "sawtooth", "triangle", "pulse", "noise", "walk",
    "edge_at_first", "edge_at_last", "twenty_edges", "logistic", "hum", "drift", "ring", "stairs",
)  # fmt: skip
DRIVES = ("none", "step", "ramp", "inverted", "pulsed", "noise", "sine")


def output(shape: str, x: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A waveform over x from 0 to 1, about 1 high."""
    onset, tau = float(rng.uniform(0.05, 0.6)), float(np.exp(rng.uniform(-6, 0)))
    since = np.maximum(x - onset, 0.0)
    pole = -np.expm1(-since / tau)
    walk = np.cumsum(rng.standard_normal(x.size)) / np.sqrt(x.size)
    waves = {
        "glitch": np.where(np.arange(x.size) == x.size // 3, 1.0, 0.0),
        "three_samples": np.interp(np.arange(x.size) % 40, [0, 3, 20, 23, 40], [0.0, 1.0, 1.0, 0.0, 0.0]),
        "pole": pole,
        "ramp": np.clip(since / tau, 0, 1),
        "endless_ramp": since,
        "sine": np.sin(2 * np.pi * x / tau),
        "sawtooth": (x / max(tau, 0.02)) % 1,
        "triangle": np.abs((x / max(tau, 0.02)) % 1 - 0.5),
        "pulse": np.exp(-(((x - onset) / tau) ** 2) / 2),
        "noise": rng.standard_normal(x.size),
        "walk": walk,
        "edge_at_first": np.exp(-x / tau),
        "edge_at_last": np.where(np.arange(x.size) >= x.size - 2, 1.0, 0.0),
        "twenty_edges": np.where((x * 10) % 1 < 0.5, 1.0, 0.0),
        "logistic": 0.5 * (1 + np.tanh((x - onset) / tau)),
        "hum": pole + 0.05 * np.sin(200 * x),
        "drift": pole + 0.3 * x,
        "ring": 1 - np.exp(-since / tau) * np.cos(6 * since / tau),
        "stairs": np.floor(8 * pole) / 8,
    }
    return np.asarray(waves[shape])


def drive(kind: str, x: np.ndarray, rng: np.random.Generator) -> np.ndarray | None:
    """A drive to go with it, or none."""
    onset, length = float(rng.uniform(0.05, 0.6)), float(np.exp(rng.uniform(-5, -1)))
    waves = {
        "step": np.where(x > onset, 1.0, 0.0),
        "ramp": np.clip((x - onset) / length, 0, 1),
        "inverted": -np.clip((x - onset) / length, 0, 1),
        "pulsed": np.where((200 * x) % 1 < 0.5 + 0.4 * np.sin(6 * x), 1.0, 0.0),
        "noise": rng.standard_normal(x.size),
        "sine": np.sin(2 * np.pi * x / length),
    }
    return waves.get(kind)


def hold(result: BenchResult, span_s: float, reach: float, middle: float) -> None:
    """No number may be further out than anything the capture could show."""
    recognise_board(result)
    for one in (result.rising, result.falling):
        if one is not None:
            hold_direction(one, span_s, reach, middle)


def hold_direction(one: BenchDirection, span_s: float, reach: float, middle: float) -> None:
    """One direction of it."""
    for time in (one.time_constant, one.transition_10_90, one.smoothing_delay, one.mean_delay, *one.poles):
        if time.value is not None and time.u is not None:
            assert time.u < 0.6 * abs(time.value) or time.u < 0.1 * span_s, time
            assert time.value < 3 * span_s, time
    settled = one.settled_fraction
    if settled.value is not None and settled.u is not None:
        assert 0 <= settled.value <= 1
        assert settled.value + 1.96 * settled.u <= 1 + 1e-9
    for name in ("level_before", "level_after"):
        level = one.extra.get(name)
        if level is not None and level.value is not None and level.u is not None:
            assert level.u < reach
            assert abs(level.value - middle) < 5 * reach, level


ODD = given(
    shape=st.sampled_from(SHAPES),
    kind=st.sampled_from(DRIVES),
    n=st.sampled_from([12, 30, 100, 700]),
    seed=st.integers(0, 2**20),
    unit=st.sampled_from([1e-9, 1.0, 1e6]),
    offset=st.sampled_from([0.0, -3.0, 1e5]),
    noise=st.sampled_from([0.0, 0.003, 0.05]),
    bits=st.sampled_from([2, 8, 16]),
    clipped=st.booleans(),
    blanks=st.booleans(),
)


def odd_captures(
    shape: str, kind: str, n: int, seed: int, unit: float, offset: float, noise: float, bits: int, clipped: bool,
    blanks: bool,
) -> None:  # fmt: skip
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, 1.0, n)
    y = output(shape, x, rng) + noise * rng.standard_normal(n)
    y = np.clip(y, 0.1, 0.8) if clipped else y
    y = (np.round(y * 2**bits) / 2**bits + offset) * unit
    if blanks:
        y[n // 4 : n // 4 + n // 10] = np.nan
    pushed = drive(kind, x, rng)
    channels = [Channel(name="output", values=y, unit="V", role="output")]
    if pushed is not None:
        channels.insert(0, Channel(name="drive", values=pushed, unit="A", role="drive"))
    span_s = float(np.exp(rng.uniform(-20, 3)))
    capture = Capture(t_s=x * span_s, interval_s=None, channels=tuple(channels), provenance=Provenance())
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            result = measure_response(capture)
        except NotEnoughDataError:
            return
    hold(result, span_s, float(np.nanmax(y) - np.nanmin(y)), float(np.nanmedian(y)))


@pytest.mark.filterwarnings("error")
@settings(max_examples=6, suppress_health_check=list(HealthCheck))
@ODD
def test_odd_captures(**odd: Any) -> None:
    odd_captures(**odd)


@pytest.mark.full
@pytest.mark.filterwarnings("error")
@settings(max_examples=200, suppress_health_check=list(HealthCheck))
@ODD
def test_many_odd_captures(**odd: Any) -> None:
    odd_captures(**odd)
