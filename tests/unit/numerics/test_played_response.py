"""The added response against the same response stepped on a fine grid, and against scipy."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import signal

from feelcheck.model import FloatArray
from feelcheck.numerics.played_response import AddedResponse, PlayedAxis

FINE_S = 1e-5
Poles = tuple[float, ...]


def flick_and_back(t_s: Any) -> FloatArray:
    def covered(u: Any) -> FloatArray:
        u = np.clip(u, 0.0, 1.0)
        return np.asarray(u**3 * (10.0 - 15.0 * u + 6.0 * u * u))

    return np.asarray(
        covered((t_s - 0.02) / 0.1) - 1.6 * covered((t_s - 0.13) / 0.08) + 0.6 * covered((t_s - 0.2) / 0.05)
    )


def stepped(x: FloatArray, rising: Poles, falling: Poles) -> FloatArray:
    """Each pole steps towards its input; the direction is that of the first one's input against its output."""
    first = second = float(x[0])
    out = np.empty_like(x)
    for k, value in enumerate(x.tolist()):
        poles = rising if value > first else falling
        first += (value - first) * (-math.expm1(-FINE_S / poles[0]) if poles else 1.0)
        second = second + (first - second) * -math.expm1(-FINE_S / poles[1]) if len(poles) > 1 else first
        out[k] = second
    return out


def played(added: AddedResponse, t_s: FloatArray, v: FloatArray, interval_s: float) -> FloatArray:
    axis = PlayedAxis(added, interval_s=interval_s, value=float(v[0]))
    out = []
    for t, value in zip(t_s.tolist(), v.tolist(), strict=True):
        axis.take(t, value)
        out.append(axis.at(t))
    return np.array(out)


@pytest.mark.parametrize(
    ("own", "rising", "falling", "interval_s", "worst"),
    [
        ((), (0.009,), (0.014,), 1e-3, 4e-4),
        ((0.003,), (0.009,), (0.014,), 1e-3, 4e-4),
        ((0.003,), (0.003,), (0.014,), 1e-3, 4e-4),
        ((0.003,), (0.009,), (0.014,), 4e-3, 3e-3),
        ((), (0.006, 0.003), (0.010, 0.002), 1e-3, 4e-4),
        ((0.005,), (0.006,), (0.012,), 8e-3, 5e-3),
    ],
)
def test_own_response_and_added_stage_together_are_the_target(
    own: Poles, rising: Poles, falling: Poles, interval_s: float, worst: float
) -> None:
    t_s = np.arange(0.0, 0.3, FINE_S)
    stick = flick_and_back(t_s)
    sensed = stepped(stick, own, own)
    target = stepped(stick, rising, falling)
    at = np.arange(0, t_s.size, round(interval_s / FINE_S))
    own_s = own[0] if own else 0.0
    added = AddedResponse(rising_poles_s=rising, falling_poles_s=falling, own_rising_s=own_s, own_falling_s=own_s)
    error = played(added, t_s[at], sensed[at], interval_s) - target[at]
    assert np.max(np.abs(error)) < worst
    # The area between the two, over their swing, is the error of the mean delay: under 1 % of a report interval.
    assert abs(float(np.sum(error))) < 0.01


def held(numerator: Any, denominator: Any, interval_s: float) -> Any:
    """First-order-hold discretisation: exact for straight pieces between samples."""
    return signal.cont2discrete((numerator, denominator), interval_s, method="foh")


def test_without_directions_it_is_the_offline_filter_sample_by_sample() -> None:
    # Lead and lag on straight pieces between samples: scipy's first-order hold of (1 + a s)/(1 + b s).
    own_s, tau_s, interval_s = 3e-3, 9e-3, 1e-3
    t_s = np.arange(0.0, 0.4, interval_s)
    v = flick_and_back(t_s) + np.random.default_rng(3).normal(0.0, 0.01, t_s.size)
    v[0] = 0.0
    b, a, _ = held([own_s, 1.0], [tau_s, 1.0], interval_s)
    expected = signal.lfilter(np.ravel(b), a, v)
    added = AddedResponse(rising_poles_s=(tau_s,), falling_poles_s=(tau_s,), own_rising_s=own_s, own_falling_s=own_s)
    assert np.allclose(played(added, t_s, v, interval_s), expected, rtol=0, atol=1e-12)


def test_two_poles_are_the_offline_filter_sample_by_sample() -> None:
    interval_s = 1e-3
    t_s = np.arange(0.0, 0.4, interval_s)
    v = flick_and_back(t_s)
    b, a, _ = held([1.0], np.polymul([6e-3, 1.0], [2e-3, 1.0]), interval_s)
    added = AddedResponse(rising_poles_s=(6e-3, 2e-3), falling_poles_s=(6e-3, 2e-3))
    assert np.allclose(played(added, t_s, v, interval_s), signal.lfilter(np.ravel(b), a, v), rtol=0, atol=1e-11)
    equal = AddedResponse(rising_poles_s=(4e-3, 4e-3), falling_poles_s=(4e-3, 4e-3))
    b, a, _ = held([1.0], np.polymul([4e-3, 1.0], [4e-3, 1.0]), interval_s)
    assert np.allclose(played(equal, t_s, v, interval_s), signal.lfilter(np.ravel(b), a, v), rtol=0, atol=1e-9)


@pytest.mark.parametrize("refresh_s", [0.0, 0.0037])
def test_silent_reports_and_late_looks_change_nothing(refresh_s: float) -> None:
    added = AddedResponse(
        rising_poles_s=(0.008,), falling_poles_s=(0.013,), own_rising_s=0.002, own_falling_s=0.003,
        dead_time_s=0.0021, refresh_s=refresh_s, step=1e-3,
    )  # fmt: skip
    t_s = np.arange(1, 400) * 1e-3
    v = np.round(flick_and_back(t_s), 2)
    looked_at, spoken = PlayedAxis(added, interval_s=1e-3), PlayedAxis(added, interval_s=1e-3)
    changed = np.flatnonzero(np.diff(v, prepend=0.0))
    often = []
    for k, (t, value) in enumerate(zip(t_s.tolist(), v.tolist(), strict=True)):
        if k in changed:
            looked_at.take(t, value)
        often.append(looked_at.at(t))
    for k in changed.tolist():  # all reports first, as after a stall, then one look
        spoken.take(float(t_s[k]), float(v[k]))
    assert spoken.at(float(t_s[-1])) == often[-1]
    every = PlayedAxis(added, interval_s=1e-3)
    said = []
    for t, value in zip(t_s.tolist(), v.tolist(), strict=True):
        every.take(t, value)
        said.append(every.at(t))
    assert np.allclose(said, often, rtol=0, atol=1e-12)


def test_refresh_holds_and_dead_time_shifts_and_steps_lie_on_the_lattice() -> None:
    axis = PlayedAxis(AddedResponse(dead_time_s=0.005, refresh_s=0.004, step=0.25), interval_s=1e-3)
    for k in range(1, 40):
        axis.take(k * 1e-3, k / 40)
    # At 30 ms the last refresh was at 28 ms; what was there then was the stick of 23 ms: 23/40, on quarters 0.5.
    assert axis.at(0.030) == 0.5
    assert axis.at(0.0319) == 0.5
    assert axis.at(0.0361) == 0.75


def test_reports_with_the_same_stamp_are_taken_in_order() -> None:
    one = PlayedAxis(AddedResponse(rising_poles_s=(0.01,), falling_poles_s=(0.01,)), interval_s=1e-3)
    for value in (0.2, 0.5, 0.9):
        one.take(0.004, value)
    # After silence the first came up within one interval: a pole of 10 ms then stands at 0.2 (1 - 10 (1 - exp(-0.1))).
    assert one.at(0.004) == pytest.approx(0.00967, abs=2e-4)
    assert one.at(0.2) == pytest.approx(0.9, abs=1e-6)


@pytest.mark.parametrize(
    "wrong",
    [{"rising_poles_s": (0.0,)}, {"falling_poles_s": (1e-3, 1e-3, 1e-3)}, {"dead_time_s": -1.0}, {"step": math.nan}],
)
def test_an_impossible_response_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="poles"):
        AddedResponse(**wrong)  # type: ignore[arg-type]


# Table of one pole on a minimum-jerk flick: peak trailing in % of the amplitude by tau over the flick's duration
# (derived; Flash & Hogan 1985 for the flick).
@pytest.mark.parametrize(("ratio", "percent"), [(0.01, 1.87), (0.05, 9.20), (0.1, 17.5), (0.2, 30.7), (0.5, 53.2)])
def test_trailing_of_a_minimum_jerk_flick_is_that_of_the_table(ratio: float, percent: float) -> None:
    duration_s, interval_s = 0.1, 2.5e-4
    t_s = np.arange(0.0, 0.2, interval_s)
    u = np.clip(t_s / duration_s, 0.0, 1.0)
    x = u**3 * (10.0 - 15.0 * u + 6.0 * u * u)
    tau_s = ratio * duration_s
    y = played(AddedResponse(rising_poles_s=(tau_s,), falling_poles_s=(tau_s,)), t_s, x, interval_s)
    assert 100 * float(np.max(x - y)) == pytest.approx(percent, rel=0.005)


# Rate control at 200 deg/s, full throw held for 200 ms: the view turns by 40 deg, and by 200 deg/s times the difference
# of the two ways more or less (exact kinematics).
@pytest.mark.parametrize(
    ("rise_s", "fall_s", "angle_deg"), [(0.008, 0.008, 40.0), (0.005, 0.008, 40.6), (0.008, 0.005, 39.4)]
)
def test_an_out_and_back_flick_turns_the_view_as_the_identity_says(
    rise_s: float, fall_s: float, angle_deg: float
) -> None:
    interval_s = 1e-4
    axis = PlayedAxis(AddedResponse(rising_poles_s=(rise_s,), falling_poles_s=(fall_s,)), interval_s=interval_s)
    turned = 0.0
    for k in range(1, 4000):
        axis.take(k * interval_s, 1.0 if 0.05 < k * interval_s <= 0.25 else 0.0)
        turned += 200.0 * axis.at((k + 0.0) * interval_s) * interval_s
    assert turned == pytest.approx(angle_deg, abs=0.01)
