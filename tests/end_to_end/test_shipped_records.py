"""The shipped records say what their own sessions and captures say today; demo_logs/make_demo.py makes them anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from feelcheck import pipeline
from feelcheck.model import Estimate
from feelcheck.profiles import read_profile

TOP = Path(__file__).parents[2]
CAPTURES = {"alder": "csv", "birch": "csv", "cedar": "csv", "elm": "txt"}
STATES = {"alder": "as_found", "birch": "as_found", "cedar": "c3_lifted", "elm": "as_found"}


def in_step(kept: Estimate, now: Estimate) -> bool:
    """Return whether a value moved by less than a fifth of its uncertainty, a bound by less than 5 %."""
    if kept.value is not None and now.value is not None:
        return abs(kept.value - now.value) <= 0.2 * max(kept.u or 0.0, now.u or 0.0) + 1e-9
    return kept.status is now.status and kept.bound == pytest.approx(now.bound, rel=0.05)


@pytest.mark.parametrize("name", CAPTURES)
def test_a_record_keeps_what_its_capture_says(name: str) -> None:
    (kept,) = read_profile(TOP / "profiles" / f"{name}.toml").bench
    now = pipeline.bench([TOP / "demo_logs" / f"{name}_field_step.{CAPTURES[name]}"])
    for direction in ("rising", "falling"):
        assert in_step(kept.directions[direction]["time_constant"], getattr(now, direction).time_constant)


@pytest.mark.parametrize("name", ["birch", "cedar"])
def test_a_record_keeps_what_its_session_says(name: str) -> None:
    kept = next(hand for hand in read_profile(TOP / "profiles" / f"{name}.toml").hand if hand.condition.mounting == 1)
    now = pipeline.analyze(TOP / "demo_logs" / f"{name}_{STATES[name]}")
    for axis in ("left_x", "left_y"):
        for direction in ("rising", "falling"):
            fresh = getattr(now.axes[axis], direction).smoothing_delay
            assert in_step(kept.axes[axis][direction]["smoothing_delay"], fresh)
