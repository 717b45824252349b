"""Kernels on fast motion against motions whose smoothing, holding and resampling are known."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from feelcheck.hand.fast_motion import Motion, fast_stretches, motion_on_reports, two_sided_speed
from feelcheck.hand.holds import _strongest, find_holds
from feelcheck.hand.interpolated import has_regular_knots, is_interpolated
from feelcheck.hand.refresh import longest_average, smoothing_limit
from feelcheck.model import FloatArray

T = 0.001
CODES = hnp.arrays(np.float64, st.integers(3, 60), elements=st.floats(-1000.0, 1000.0))


def motion(codes: FloatArray) -> Motion:
    return Motion(codes=codes, seen=np.ones(codes.size, dtype=bool), interval_s=T)


@settings(max_examples=40)
@given(codes=CODES, reach=st.integers(1, 5), gain=st.floats(0.1, 10.0), offset=st.floats(-100.0, 100.0))
def test_speed_has_no_sign_no_origin_and_no_direction_of_time(
    codes: FloatArray, reach: int, gain: float, offset: float
) -> None:
    speed = two_sided_speed(codes, reach)
    np.testing.assert_allclose(two_sided_speed(codes[::-1], reach)[::-1], speed, atol=1e-9)
    np.testing.assert_allclose(two_sided_speed(-codes, reach), speed, atol=1e-9)
    np.testing.assert_allclose(two_sided_speed(gain * codes, reach), gain * speed, rtol=1e-9, atol=1e-12)
    assert np.all(speed >= 0)
    assert np.all(speed[:reach] == 0)


def test_speed_is_the_slope_of_a_line_and_nothing_where_it_turns() -> None:
    there_and_back = np.r_[np.arange(0.0, 30.0, 3.0), np.arange(27.0, 0.0, -3.0)]
    speed = two_sided_speed(there_and_back, 2)
    assert speed[4] == 3.0
    assert speed[9] == 0.0


@pytest.mark.parametrize(
    ("fast", "expected"),
    [
        ("", []),
        ("....", []),
        ("####", []),
        ("#####", [(0, 5)]),
        (".#####.####.######", [(1, 6), (12, 18)]),
    ],
)
def test_fast_stretches_are_five_reports_or_more(fast: str, expected: list[tuple[int, int]]) -> None:
    speed = np.array([2.0 if mark == "#" else 0.5 for mark in fast])
    assert fast_stretches(speed, 2.0) == expected


def test_lost_reports_repeat_the_last_code_and_long_silences_cut() -> None:
    slots = np.array([*range(30), *range(32, 60), *range(200, 240)], dtype=np.float64)
    codes = np.arange(slots.size, dtype=np.float64)
    instants = T * slots
    first, second = motion_on_reports(instants, codes, T, silent=False)
    assert (first.codes.size, second.codes.size) == (60, 40)
    assert first.codes[[29, 30, 31, 32]].tolist() == [29.0, 29.0, 29.0, 30.0]
    assert np.flatnonzero(~first.seen).tolist() == [30, 31]
    silent, _ = motion_on_reports(instants, codes, T, silent=True)
    assert silent.seen.all()


def test_a_motion_of_a_few_reports_is_none() -> None:
    assert motion_on_reports(T * np.arange(20.0), np.zeros(20), T, silent=False) == []


def stops(after: Callable[[FloatArray], FloatArray], n: int = 5) -> list[Motion]:
    """Ramps of these speeds, steps per report, that a hard stop ends at report 100, seen through a filter."""
    t = np.arange(300.0)
    return [motion((18.0 + 2 * k) * after(t)) for k in range(n)]


def through_pole(tau: float) -> Callable[[FloatArray], FloatArray]:
    """Ramp until 100 behind one pole: t - tau, then the rest decays."""
    return lambda t: np.where(
        t < 100, t - tau * (1 - np.exp(-t / tau)), 100 - tau * np.exp(-np.maximum(t - 100, 0.0) / tau)
    )


def through_average(n: int) -> Callable[[FloatArray], FloatArray]:
    return lambda t: np.mean([np.clip(t - k, 0.0, 100.0) for k in range(n)], axis=0)


@pytest.mark.parametrize("tau", [3.0, 5.0, 8.0])
def test_a_hard_stop_bounds_the_pole_from_above_and_closely(tau: float) -> None:
    found = smoothing_limit(stops(through_pole(tau)), 5.0)
    assert tau * 0.99 <= found <= 1.25 * tau


def test_a_soft_stop_bounds_it_loosely_and_no_stop_not_at_all() -> None:
    wave = [motion(400 * np.sin(np.arange(600.0) / 40 + k)) for k in range(4)]
    assert smoothing_limit(wave, 5.0) > 10.0
    assert smoothing_limit([], 5.0) == math.inf
    assert smoothing_limit(stops(through_pole(3.0))[:2], 5.0) == math.inf


@pytest.mark.parametrize("n", [3, 6, 10, 20, 28])
def test_an_average_lets_the_speed_fall_evenly_over_its_length(n: int) -> None:
    assert longest_average(stops(through_average(n)), 5.0) == pytest.approx(n, rel=0.02)


def test_an_average_is_as_long_on_the_way_down() -> None:
    down = [motion(-one.codes) for one in stops(through_average(10))]
    assert longest_average(down, 5.0) == pytest.approx(10, rel=0.02)


@pytest.mark.parametrize("n", [6, 10, 20])
def test_an_average_behind_a_stick_that_gains_speed_is_found_within_a_fifth(n: int) -> None:
    t = np.arange(300.0)
    path = np.mean([0.01 * np.clip(t - k, 0.0, 100.0) ** 2 for k in range(n)], axis=0)
    found = longest_average([motion(speed * path) for speed in (18.0, 20.0, 22.0, 24.0, 26.0)], 5.0)
    assert found == pytest.approx(n, rel=0.2)


def test_a_pole_leaves_no_room_for_an_average_and_few_stops_tell_nothing() -> None:
    assert longest_average(stops(through_pole(8.0)), 5.0) == 1.0
    assert longest_average(stops(through_average(10))[:3], 5.0) is None


def sweeps(held: float) -> list[Motion]:
    """Ten fast sweeps whose value is renewed every `held` reports only."""
    reports = np.arange(120.0)
    return [motion((6.0 + 0.3 * k) * held * np.floor((reports + 0.37 * k) / held)) for k in range(10)]


@pytest.mark.parametrize("held", [1.25, 2.5, 4.0])
def test_a_source_that_is_renewed_more_rarely_shows_its_interval(held: float) -> None:
    found = find_holds(sweeps(held), 2.0)
    assert found.held_fraction == pytest.approx(1 - 1 / held, abs=0.03)
    assert found.interval_s == pytest.approx(held * T, rel=0.02)
    assert found.u_s is not None
    assert abs((found.interval_s or 0.0) - held * T) < 3 * found.u_s
    assert found.false_alarm < 1e-6


def test_a_source_that_is_always_new_holds_nothing() -> None:
    found = find_holds(sweeps(1.0), 2.0)
    assert found.held_fraction == pytest.approx(0.0, abs=0.01)
    assert found.interval_s is None
    assert find_holds([], 2.0).n_reports == 0


def test_a_rhythm_is_seen_by_chance_at_most_three_times_as_often_as_said() -> None:
    """New values at random in six stretches of sixty reports, the highest of some dozen frequencies taken."""
    rng = np.random.default_rng(1)
    said = np.array([_strongest([rng.random(60) < 0.4 for _ in range(6)], 0.4)[1] for _ in range(200)])
    assert 0.05 < np.mean(said < 0.1) < 0.3
    assert np.mean(said < 0.02) < 0.08


@pytest.mark.parametrize("share", [0.1, 0.4])
def test_reports_held_at_random_have_no_interval(share: float) -> None:
    rng = np.random.default_rng(5)
    codes = []
    for k in range(10):
        new = rng.random(120) > share
        codes.append((6.0 + 0.3 * k) * np.maximum.accumulate(np.where(new, np.arange(120.0), 0.0)))
    found = find_holds([motion(code) for code in codes], 2.0)
    assert found.held_fraction == pytest.approx(share, abs=0.06)
    assert found.interval_s is None


def resampled(ratio: float) -> list[Motion]:
    """Waves known at every `ratio`-th report and drawn as straight lines between."""
    reports = np.arange(900.0)
    motions = []
    for k in range(3):
        knots = np.arange(0.0, 920.0, ratio)
        motions.append(motion(np.interp(reports, knots, 2000 * np.sin(knots / (30.0 + k)))))
    return motions


def test_straight_pieces_between_knots_are_seen_as_interpolated() -> None:
    assert is_interpolated(resampled(4.5), 5.0, 0.001)
    assert has_regular_knots(resampled(4.0)[0], 5.0)


def test_smooth_motion_is_not_interpolated() -> None:
    smooth = resampled(1.0)
    assert not is_interpolated(smooth, 5.0, 0.001)
    assert not has_regular_knots(smooth[0], 5.0)
    assert not has_regular_knots(resampled(2.6)[0], 5.0)
