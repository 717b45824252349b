"""The true motion: contacts, holds, releases, rests."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from feelcheck.sources.synthetic.gimbal import STEP_S, Gimbal
from feelcheck.sources.synthetic.motion import StickMotion, stick_motion
from feelcheck.sources.synthetic.thumb import Move, Thumb

STEADY = Thumb(tremor_fs=0.0)
PLAIN = Gimbal(bounce_fs=0.0)
FLICK = Move(kind="flick", start_s=0.2, duration_s=0.1, direction_rad=math.radians(30.0), aim_fs=1.5)
RELEASE = Move(kind="release", start_s=1.0)


def moved(*moves: Move, gimbal: Gimbal = PLAIN, thumb: Thumb = STEADY, duration_s: float = 2.0) -> StickMotion:
    return stick_motion(thumb, gimbal, list(moves), duration_s, np.random.default_rng(1))


def at(motion: StickMotion, t_s: float) -> list[float]:
    return [float(value) for value in motion.xy[:, round(t_s / STEP_S)]]


def test_a_flick_meets_the_rim_when_minimum_jerk_says_so() -> None:
    motion = moved(FLICK)
    u = np.linspace(0.0, 1.0, 100_001)
    path = 1.5 * (10 * u**3 - 15 * u**4 + 6 * u**5)
    k = int(np.argmax(path >= 1.0))
    (contact,) = motion.contacts
    assert contact.t_s == pytest.approx(0.2 + 0.1 * u[k], abs=STEP_S)
    assert contact.speed == pytest.approx(float(np.gradient(path, u)[k]) / 0.1, rel=0.01)
    assert contact.direction_deg == pytest.approx(30.0)


def test_before_contact_it_moves_and_after_it_stands() -> None:
    motion = moved(FLICK)
    (contact,) = motion.contacts
    assert at(motion, 0.19) == [0.0, 0.0]
    assert math.hypot(*at(motion, contact.t_s - 0.002)) < 0.97
    assert at(motion, contact.t_s + 0.001) == pytest.approx([math.cos(math.radians(30)), math.sin(math.radians(30))])
    assert at(motion, 1.99) == at(motion, contact.t_s + 0.001)


def test_a_flick_that_is_aimed_short_never_touches() -> None:
    motion = moved(replace(FLICK, aim_fs=0.8))
    assert motion.contacts == ()
    assert math.hypot(*at(motion, 1.9)) == pytest.approx(0.8)


def test_a_flick_across_leaves_one_side_and_meets_the_other() -> None:
    across = replace(FLICK, start_s=1.0, direction_rad=math.radians(210.0))
    motion = moved(FLICK, across)
    assert [round(contact.direction_deg) for contact in motion.contacts] == [30, 210]
    assert motion.release_s == ()


def test_a_release_is_told_once_and_rests_are_between() -> None:
    motion = moved(FLICK, RELEASE, replace(RELEASE, start_s=1.6))
    assert motion.release_s == (1.0,)
    first, after, still = motion.rests
    assert first == (0.0, 0.2)
    assert 1.05 < after[0] < 1.6
    assert after[1] == pytest.approx(1.6)
    assert still[0] == pytest.approx(1.6)


def test_rests_are_still() -> None:
    motion = moved(FLICK, RELEASE, gimbal=Gimbal(friction_fs=0.01))
    for start_s, end_s in motion.rests:
        stretch = motion.xy[:, round(start_s / STEP_S) : round(end_s / STEP_S)]
        assert np.ptp(stretch, axis=1).max() < 3e-6


def test_the_return_overshoots_on_both_axes_alike() -> None:
    motion = moved(FLICK, RELEASE, gimbal=Gimbal(damping=0.2))
    after = motion.xy[:, round(1.0 / STEP_S) :]
    share = math.exp(-math.pi * 0.2 / math.sqrt(1.0 - 0.2**2))  # textbook overshoot of a second order
    assert -after.min(axis=1) == pytest.approx(share * after[:, 0], rel=1e-3)


def test_motion_never_jumps_where_parts_meet() -> None:
    roll = Move(kind="roll", start_s=1.4, duration_s=1.0, direction_rad=2.0)
    lively = Gimbal(n_notches=8, slide_deg=3.0, compliance_fs=0.02, creep_fs=0.01, bounce_fs=0.02)
    motion = moved(FLICK, RELEASE, roll, replace(RELEASE, start_s=3.2), gimbal=lively, thumb=Thumb(), duration_s=4.0)
    fastest = 2.0 * math.pi * lively.natural_hz * STEP_S
    assert np.abs(np.diff(motion.xy, axis=1)).max() < fastest


def test_tremor_shows_in_a_hold_and_not_in_a_rest() -> None:
    motion = moved(replace(FLICK, aim_fs=0.8), RELEASE, thumb=Thumb(tremor_fs=0.005))
    held = motion.xy[:, round(0.5 / STEP_S) : round(0.95 / STEP_S)]
    rested = motion.xy[:, round(1.8 / STEP_S) :]
    assert held.std() > 0.002
    assert np.ptp(rested) < 1e-6


def test_the_rim_takes_most_of_the_tremor() -> None:
    motion = moved(FLICK, thumb=Thumb(tremor_fs=0.005))
    held = motion.xy[:, round(0.5 / STEP_S) :]
    assert np.ptp(np.hypot(*held)) < 1e-9
    assert 0.0002 < np.ptp(np.arctan2(held[1], held[0])) < 0.01


def test_no_moves_are_one_long_rest() -> None:
    motion = moved()
    assert motion.rests == ((0.0, 2.0),)
    assert not motion.xy.any()
