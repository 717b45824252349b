"""The own peak speed from flicks whose course is known.

Source of the numbers: peak speed of a minimum-jerk motion 1.875 A / T (T. Flash, N. Hogan, J. Neurosci. 5:1688-1703,
1985); what a pole keeps of it is computed with scipy.signal.lsim.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from scipy import signal

from feelcheck.hand import prepare
from feelcheck.hand.flick_speed import METRIC
from feelcheck.model import (
    AxisScale,
    Estimate,
    Finding,
    Provenance,
    Recording,
    Status,
    StickAxes,
    Stream,
    TimeBase,
)

T_S, REACH = 0.1, 0.7


@cache
def logged(tau_s: float, interval_s: float, *, n_flicks: int = 6, noise: float = 0.0) -> Recording:
    """Diagonal minimum-jerk flicks to 0.7 and fast returns, behind a pole, read every interval as 16-bit codes."""
    fine_s = 1e-4
    t_s = np.arange(0.0, n_flicks * 1.2 + 1.0, fine_s)
    stick = np.zeros(t_s.size)
    for k in range(n_flicks):
        u = np.clip((t_s - 0.5 - 1.2 * k) / T_S, 0, 1)
        stick += REACH * (u**3 * (10 - 15 * u + 6 * u**2)) * (t_s < 1.1 + 1.2 * k)
    if tau_s:
        _, stick, _ = signal.lsim(([1.0], [tau_s, 1.0]), stick, t_s)
    every = round(interval_s / fine_s)
    rng = np.random.default_rng(3)
    time = TimeBase.from_instants(t_s[::every])
    streams = tuple(
        Stream(
            name=name, time=time, scale=AxisScale(),
            codes=np.rint(32767 * (sign * stick[::every] + noise * rng.standard_normal(time.t_hi_s.size))).astype(int),
        )
        for name, sign in (("left_x", 1), ("left_y", -1))
    )  # fmt: skip
    return Recording(
        streams=streams, provenance=Provenance(), sticks=(StickAxes(stick="left", x="left_x", y="left_y"),)
    )


@cache
def measured(tau_s: float, interval_s: float, **more: float) -> tuple[Finding, ...]:
    return METRIC.measure(prepare(logged(tau_s, interval_s, **more))).findings


def speed(tau_s: float, interval_s: float, axis: str = "left_x", **more: float) -> Estimate:
    return next(f.estimate for f in measured(tau_s, interval_s, **more) if f.axis == axis)


@pytest.mark.parametrize("axis", ["left_x", "left_y"])
@pytest.mark.parametrize(("tau_s", "kept"), [(0.0, 1.0), (0.005, 0.981), (0.010, 0.934), (0.020, 0.818)])
def test_the_peak_speed_of_the_output_is_found(tau_s: float, kept: float, axis: str) -> None:
    # The radius of these flicks is 0.99, which a stick that never was at full throw on one axis takes for its rim.
    found = speed(tau_s, 0.001, axis)
    assert found.unit == "throws/s"
    assert found.n == 6
    assert found.value == pytest.approx(kept * 1.875 * REACH / (REACH * 2**0.5) / T_S, rel=0.02)


def test_noise_hardly_raises_it() -> None:
    quiet, noisy = speed(0.005, 0.001), speed(0.005, 0.001, noise=0.002)
    assert noisy.value is not None
    assert quiet.value is not None
    assert noisy.value / quiet.value == pytest.approx(1.0, abs=0.06)


def test_wide_intervals_widen_it_and_then_leave_a_lower_bound() -> None:
    near, far = speed(0.005, 0.001), speed(0.005, 0.008)
    assert near.u is not None
    assert far.u is not None
    assert far.u > near.u
    video = speed(0.005, 0.016)
    assert video.status is Status.AT_LEAST
    assert video.bound is not None
    assert near.value is not None
    assert video.bound < near.value


def test_two_flicks_are_too_few() -> None:
    found = speed(0.005, 0.001, n_flicks=2)
    assert found.status is Status.NOT_RESOLVED
    assert "three quick flicks" in found.caveats[0].advice


def test_faster_flicks_are_faster() -> None:
    slopes = [speed(tau_s, 0.001).value or 0.0 for tau_s in (0.0, 0.01, 0.03)]
    assert all(first > second for first, second in pairwise(slopes))
