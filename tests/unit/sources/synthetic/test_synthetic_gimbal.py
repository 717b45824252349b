"""The gimbal: what happens at the rim and after letting go."""

from __future__ import annotations

import math

import numpy as np
import pytest

from feelcheck.sources.synthetic.gimbal import STEP_S, Gimbal, after_contact, backlash, free_return, rim_radius

PLAIN = Gimbal(bounce_fs=0.0)
SINCE_S = np.arange(0.0, 1.0, STEP_S)


def test_a_round_rim_is_round() -> None:
    assert rim_radius(PLAIN, np.linspace(0.0, 6.0, 7)).tolist() == [1.0] * 7


def test_a_notched_rim_is_full_in_the_notch_and_shallower_between() -> None:
    gimbal = Gimbal(n_notches=8, notch_depth_fs=0.05)
    assert rim_radius(gimbal, np.radians([0.0, 45.0, 22.5])) == pytest.approx([1.0, 1.0, 0.95])


def test_a_plain_stick_stands_still_after_contact() -> None:
    radius, angle = after_contact(PLAIN, SINCE_S, 0.7, 20.0, np.random.default_rng(1))
    assert np.ptp(radius) == 0.0
    assert np.ptp(angle) == 0.0


def test_the_first_rebound_has_its_height_and_duration() -> None:
    gimbal = Gimbal(bounce_fs=0.02, bounce_s=0.008, restitution=0.5)
    radius, _ = after_contact(gimbal, SINCE_S, 0.0, 20.0, np.random.default_rng(1))
    assert 1.0 - radius.min() == pytest.approx(0.02, rel=1e-3)
    assert SINCE_S[radius.argmin()] == pytest.approx(0.004, abs=STEP_S)
    second = radius[(SINCE_S > 0.0081) & (SINCE_S < 0.0119)]
    assert 1.0 - second.min() == pytest.approx(0.02 * 0.5**2, rel=1e-2)


def test_a_slower_contact_bounces_with_the_same_acceleration() -> None:
    gimbal = Gimbal(bounce_fs=0.02)
    fast, _ = after_contact(gimbal, SINCE_S, 0.0, 20.0, np.random.default_rng(1))
    slow, _ = after_contact(gimbal, SINCE_S, 0.0, 10.0, np.random.default_rng(1))
    assert 1.0 - slow.min() == pytest.approx(0.005, rel=1e-3)
    assert np.diff(fast[:50], 2) == pytest.approx(np.diff(slow[:50], 2), rel=1e-6)


def test_the_slide_takes_its_time_and_comes_to_rest() -> None:
    gimbal = Gimbal(bounce_fs=0.0, slide_deg=2.0, slide_s=0.02)
    slid = []
    for seed in range(200):
        _, angle = after_contact(gimbal, SINCE_S, 0.7, 20.0, np.random.default_rng(seed))
        slid.append(math.degrees(angle[-1] - angle[0]))
        assert np.ptp(angle[SINCE_S > 0.0201]) == 0.0
    assert np.std(slid) == pytest.approx(2.0, rel=0.2)  # 4 standard errors of 1/sqrt(400)
    assert abs(np.mean(slid)) < 0.6


@pytest.mark.parametrize("from_notch_deg", [-10.0, 0.5, 15.0])
def test_a_notch_draws_the_stick_in_and_never_past_itself(from_notch_deg: float) -> None:
    gimbal = Gimbal(bounce_fs=0.0, n_notches=8, slide_deg=30.0)
    for seed in range(20):
        _, angle = after_contact(
            gimbal, SINCE_S, math.radians(45.0 + from_notch_deg), 20.0, np.random.default_rng(seed)
        )
        left_deg = math.degrees(angle[-1]) - 45.0
        assert abs(left_deg) <= abs(from_notch_deg)
        assert left_deg * from_notch_deg >= -1e-9


def test_the_rim_gives_within_the_rise_of_the_force() -> None:
    gimbal = Gimbal(bounce_fs=0.0, compliance_fs=0.02, force_rise_s=(0.03, 0.03))
    radius, _ = after_contact(gimbal, SINCE_S, 0.0, 20.0, np.random.default_rng(1))
    give = radius - 1.0
    assert 0.6 * 0.02 <= give[-1] <= 0.02
    assert np.interp(0.015, SINCE_S, give) == pytest.approx(0.5 * give[-1], rel=1e-6)
    assert np.ptp(give[SINCE_S > 0.0301]) == 0.0


def test_creep_is_slow_and_small() -> None:
    gimbal = Gimbal(bounce_fs=0.0, creep_fs=0.01, creep_s=0.3)
    radius, _ = after_contact(gimbal, SINCE_S, 0.0, 20.0, np.random.default_rng(1))
    give = radius - 1.0
    ends = np.interp([0.3, 0.6], SINCE_S, give)
    assert ends[1] / ends[0] == pytest.approx(1.0 + math.exp(-1.0), rel=1e-6)
    assert give[-1] <= 0.01


@pytest.mark.reference
@pytest.mark.parametrize(("ring_hz", "damping"), [(30.0, 0.1), (45.0, 0.25), (60.0, 0.7)])
def test_the_free_return_rings_at_its_damped_frequency(ring_hz: float, damping: float) -> None:
    # Textbook second order: zero crossings half a damped period apart, successive extremes in the ratio
    # exp(-pi zeta / sqrt(1 - zeta^2)) (logarithmic decrement).
    path = free_return(Gimbal(natural_hz=ring_hz, damping=damping), 1.0, 20_000)
    root = math.sqrt(1.0 - damping**2)
    crossings = np.flatnonzero(np.diff(np.sign(path[: round(4.0 / ring_hz / STEP_S)])))
    if damping < 0.5:
        half_period_s = np.mean(np.diff(crossings[:4])) * STEP_S
        assert 0.5 / half_period_s == pytest.approx(ring_hz * root, rel=0.01)
    assert -path.min() == pytest.approx(math.exp(-math.pi * damping / root), rel=1e-3)


def test_friction_takes_four_of_itself_from_the_amplitude_each_period() -> None:
    # Textbook Coulomb damping: the amplitude falls by 4 friction displacements a period, linearly.
    friction = 0.02
    path = free_return(Gimbal(natural_hz=40.0, damping=1e-6, friction_fs=friction), 1.0, 20_000)
    peaks = [k for k in range(1, path.size - 1) if path[k - 1] < path[k] >= path[k + 1] and path[k] > 0.1]
    assert np.diff(path[peaks]) == pytest.approx(-4.0 * friction, rel=0.01)


def test_friction_leaves_the_stick_off_centre_within_its_reach() -> None:
    gimbal = Gimbal(friction_fs=0.01)
    ends = [free_return(gimbal, start, 20_000)[-1] for start in (-1.0, -0.7, 0.5, 0.71, 1.0)]
    assert max(map(abs, ends)) <= 0.01
    assert len(set(ends)) > 1


def test_without_friction_it_returns_to_the_centre() -> None:
    assert free_return(Gimbal(), 0.8, 20_000)[-1] == 0.0


def test_backlash_follows_half_the_play_behind() -> None:
    motion = np.concatenate([np.linspace(0.0, 1.0, 101), np.linspace(1.0, 0.0, 101)])
    followed = backlash(motion, 0.1)
    assert followed[100] == pytest.approx(0.95)
    assert followed[-1] == pytest.approx(0.05)
    assert followed[101:110] == pytest.approx(0.95)


def test_backlash_without_play_is_the_motion() -> None:
    motion = np.sin(np.arange(50.0))
    assert backlash(motion, 0.0) == pytest.approx(motion)
