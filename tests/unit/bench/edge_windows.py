"""Edges of unit swing, as the bench's fits take them, for tests that look at a part of the bench alone."""

from __future__ import annotations

from typing import Any

import numpy as np

from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import FloatArray
from feelcheck.numerics.pole_response import Stimulus

__all__ = ["edge_window", "ramp_of_3_ms"]


def edge_window(t_s: FloatArray, y: FloatArray, stimulus: Stimulus | None, noise: float, **changes: Any) -> EdgeWindow:
    """Return an edge that was seen whole, behind a drive of 2 ms that was captured; `changes` are fields of it."""
    whole: dict[str, Any] = {
        "origin_s": 0.0,
        "driven": True,
        "settled_start": True,
        "swing": 1.0,
        "duration_s": 2e-3,
        "drive_duration_s": 2e-3,
        "drive_swing": 1.0,
        "interval_s": float(t_s[1] - t_s[0]),
        "raw": (0, t_s.size),
    }
    return EdgeWindow(t_s=t_s, y=y, stimulus=stimulus, noise=noise, **whole | changes)


def ramp_of_3_ms(t_s: FloatArray) -> FloatArray:
    """Return a drive that takes 3 ms from 0 to 1, shape (n,)."""
    return np.asarray(np.clip(t_s / 3e-3, 0.0, 1.0), dtype=np.float64)
