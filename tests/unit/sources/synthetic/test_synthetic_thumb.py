"""The thumb: plans, paths, tremor."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.model import Action, Script, Step
from feelcheck.sources.synthetic.gimbal import STEP_S
from feelcheck.sources.synthetic.thumb import Move, Thumb, minimum_jerk, plan_moves, tremor


def script(*steps: Step) -> Script:
    return Script(name="test", title="test", steps=steps)


def flick(direction_deg: float | None = 45.0, *, stick: str = "left", duration_s: float = 1.0) -> Step:
    return Step(action=Action.FLICK, duration_s=duration_s, stick=stick, direction_deg=direction_deg)


def plan(*steps: Step, thumb: Thumb | None = None, seed: int = 1) -> list[Move]:
    return plan_moves(thumb or Thumb(), script(*steps), "left", np.random.default_rng(seed))


@pytest.mark.reference
def test_minimum_jerk_peaks_at_1_875_amplitudes_a_duration() -> None:
    # Flash & Hogan, J. Neurosci. 5 (1985) 1688-1703: 30 u^2 (1-u)^2 at u = 1/2 is 1.875.
    duration_s = 0.12
    t_s = np.arange(0.0, duration_s, STEP_S)
    speed = np.gradient(minimum_jerk(t_s / duration_s), STEP_S)
    assert speed.max() * duration_s == pytest.approx(1.875, rel=1e-5)
    assert t_s[speed.argmax()] == pytest.approx(0.5 * duration_s, abs=STEP_S)


@pytest.mark.reference
def test_minimum_jerk_peak_acceleration() -> None:
    # The same polynomial's second derivative has its extreme 10/sqrt(3) A/T^2 at u = (3 - sqrt(3))/6.
    u = np.linspace(0.0, 1.0, 20_001)
    acceleration = np.gradient(np.gradient(minimum_jerk(u), u), u)
    assert acceleration[10:-10].max() == pytest.approx(10.0 / np.sqrt(3.0), rel=1e-4)


def test_minimum_jerk_stays_put_outside_its_time() -> None:
    assert minimum_jerk(np.array([-1.0, 2.0])).tolist() == [0.0, 1.0]


def test_a_flick_starts_after_a_human_reaction() -> None:
    starts = [plan(flick(), seed=seed)[0].start_s for seed in range(200)]
    assert min(starts) >= 0.12
    assert np.mean(starts) == pytest.approx(0.25, abs=0.015)  # 5 standard errors of 0.04/sqrt(200)


def test_done_directions_spread_about_the_asked_one() -> None:
    done = np.degrees([plan(flick(45.0), seed=seed)[0].direction_rad for seed in range(400)])
    assert np.mean(done) == pytest.approx(45.0, abs=1.0)  # 4 standard errors of 5/sqrt(400)
    assert np.std(done) == pytest.approx(5.0, rel=0.15)


def test_quick_and_slow_flicks_keep_their_limits() -> None:
    quick = [plan(flick(), seed=seed)[0].duration_s for seed in range(100)]
    slow_step = Step(action=Action.FLICK, duration_s=2.0, direction_deg=0.0, pace="slow")
    slow = [plan(slow_step, seed=seed)[0].duration_s for seed in range(100)]
    assert 0.06 <= min(quick) < 0.08
    assert 0.2 < max(quick) <= 0.25
    assert min(slow) >= 0.6
    assert max(slow) <= 1.1


def test_a_hold_asks_for_nothing_and_a_rest_lets_go() -> None:
    hold = Step(action=Action.HOLD, duration_s=1.0)
    rest = Step(action=Action.REST, duration_s=1.0)
    moves = plan(flick(), hold, rest)
    assert [move.kind for move in moves] == ["flick", "release"]
    assert moves[1].start_s > 2.0


def test_the_other_sticks_requests_are_left_alone() -> None:
    assert plan(flick(stick="right")) == []
    assert len(plan(flick(stick="both"))) == 1


def test_a_flick_without_a_direction_goes_anywhere() -> None:
    done = [plan(flick(None), seed=seed)[0].direction_rad for seed in range(30)]
    assert np.ptp(done) > 3.0


def test_tremor_has_its_rms_and_its_band() -> None:
    t_s = np.arange(0.0, 20.0, 0.001)
    shaken = tremor(Thumb(tremor_fs=0.01), t_s, np.random.default_rng(3))
    power = np.abs(np.fft.rfft(shaken[0])) ** 2
    frequency_hz = np.fft.rfftfreq(t_s.size, 0.001)
    inside = (frequency_hz > 7.5) & (frequency_hz < 12.5)
    assert shaken.std(axis=1) == pytest.approx([0.01, 0.01], rel=0.1)
    assert power[inside].sum() > 0.99 * power.sum()


def test_no_tremor_when_told_so() -> None:
    assert not tremor(Thumb(tremor_fs=0.0), np.arange(5.0), np.random.default_rng(1)).any()
