"""Logs of the plainest making: one axis moves, codes stand still at the rim, reports come slowly."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

import feelcheck
from feelcheck.model import FloatArray

TAU_S = 0.009
TAU_MS = 9.0


def behind_pole(interval_s: float, fine_s: float = 2.5e-4) -> tuple[FloatArray, FloatArray]:
    """Flicks to and fro along one axis behind a pole, at even reports: instants and fractions of the travel."""
    rng = np.random.default_rng(5)
    t_s = np.arange(0.0, 15.0, fine_s)
    thumb = np.zeros(t_s.size)
    for k, start_s in enumerate(1.0 + np.cumsum(1.1 + 0.2 * rng.random(10))):
        out, back = (t_s - start_s) / 0.045, (t_s - start_s - 0.5) / 0.06
        way = np.clip(out, 0.0, 1.0) ** 2 * np.clip(1.0 - back, 0.0, 1.0) ** 1.5
        thumb += (-1.0) ** k * way
    kept, seen = np.exp(-fine_s / TAU_S), np.zeros(t_s.size)
    for k in range(1, t_s.size):
        seen[k] = kept * seen[k - 1] + (1.0 - kept) * thumb[k]
    every = round(interval_s / fine_s)
    return t_s[::every], seen[::every]


def delays(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return what was said of the smoothing delay, code rising and falling."""
    return [way["smoothing_delay"] for way in ways(frame)]


def ways(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return what was said of an axis, code rising and falling."""
    axis = feelcheck.analyze(frame, axes=["a", "b"]).to_dict()["axes"]["a"]
    return [axis["rising"], axis["falling"]]


def holds(one: dict[str, Any], off: float, width: float) -> bool:
    """Tell whether a value is that near to the truth, its interval that narrow, and the truth inside; shares of it."""
    near = one["status"] == "ok" and abs(one["value"] / TAU_MS - 1.0) < off
    return bool(near and one["low"] < TAU_MS < one["high"] and one["high"] - one["low"] < width * TAU_MS)


@pytest.mark.parametrize(
    ("centre", "reach", "beside"), [(0, 28000, 0), (1500, 400, 1000)], ids=["about its centre", "at an end"]
)
def test_the_noise_of_an_axis_that_did_not_move_is_no_travel(centre: int, reach: int, beside: int) -> None:
    t_s, seen = behind_pole(0.001)
    rng = np.random.default_rng(1)
    x = np.rint(centre + reach * seen + rng.normal(0.0, 1.0, t_s.size)).astype(int)
    for one in delays(pd.DataFrame({"time_s": t_s, "a": x, "b": beside + rng.integers(0, 11, t_s.size)})):
        assert holds(one, off=0.03, width=0.9), one


def test_codes_that_stand_still_at_the_rim_are_not_clipped() -> None:
    t_s, seen = behind_pole(0.002)
    rng = np.random.default_rng(1)
    frame = pd.DataFrame({"time_s": t_s, "a": (512 + 500 * seen).astype(int), "b": 512 + rng.integers(-2, 3, t_s.size)})
    for one in delays(frame):
        assert holds(one, off=0.05, width=0.5), one
    frame["a"] = np.clip(512 + (560 * seen).astype(int), 12, 1012)
    assert all(one["status"] != "ok" for one in delays(frame))


def test_a_stop_within_few_reports_is_told_or_limited_truly() -> None:
    t_s, seen = behind_pole(0.008)
    for way in ways(pd.DataFrame({"time_s": t_s, "a": np.round(100 * seen, 2), "b": 0.0})):
        one, pole = way["smoothing_delay"], way["time_constant"]
        assert holds(one, off=0.1, width=1.5) or (one["status"] == "at_most" and TAU_MS < one["high"] < 2 * TAU_MS), one
        assert TAU_MS < pole["high"] <= 1.001 * one["high"], pole
    t_s, seen = behind_pole(0.020)
    for one in delays(pd.DataFrame({"time_s": t_s, "a": np.round(90 * seen, 1), "b": 0.0})):
        assert one["high"] is None or one["high"] > TAU_MS, one
