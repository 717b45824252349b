"""What is added to the stick in hand, and what is refused."""

from __future__ import annotations

import re

import numpy as np
import pytest

from feelcheck.errors import NotComparableError
from feelcheck.model import Estimate, LiveStick, TargetAxis, TargetResponse
from feelcheck.numerics.played_response import AddedResponse, PlayedAxis
from feelcheck.rehearsal.adding import slowed, stage_for
from feelcheck.rehearsal.observer import lag_seen


def delay(value_s: float, u_s: float = 1e-4) -> Estimate:
    return Estimate.measured("smoothing_delay", value_s, u=u_s, unit="s")


def target(rising_s: float, falling_s: float, *, u_s: float = 1e-4, **more: float) -> TargetResponse:
    axis = TargetAxis(
        rising=delay(rising_s, u_s), falling=delay(falling_s, u_s),
        rising_poles_s=(rising_s,) if rising_s else (), falling_poles_s=(falling_s,) if falling_s else (), **more,
    )  # fmt: skip
    return TargetResponse(label="birch", origin="hand", x=axis, y=axis)


def stick(rising_s: float, falling_s: float, *, one_pole: bool = True, noise: float = 0.0, **more: float) -> LiveStick:
    return LiveStick(
        response=target(rising_s, falling_s, **more), one_pole=one_pole, report_interval_s=1e-3,
        rest_noise_fraction=noise,
    )  # fmt: skip


def codes(stage: object) -> set[str]:
    return {remark.code for remark in stage.caveats}  # type: ignore[attr-defined]


def test_one_pole_is_undone_so_that_both_together_are_the_target() -> None:
    stage = stage_for(target(0.009, 0.014), stick(0.003, 0.004))
    assert stage.mode == "exact"
    assert stage.x == AddedResponse(
        rising_poles_s=(0.009,), falling_poles_s=(0.014,), own_rising_s=0.003, own_falling_s=0.004
    )
    assert stage.added_rising.value == pytest.approx(0.006)
    assert stage.added_falling.value == pytest.approx(0.010)


def test_what_is_not_one_pole_gets_the_difference_of_mean_delay_and_says_so() -> None:
    stage = stage_for(target(0.009, 0.014), stick(0.003, 0.004, one_pole=False))
    assert stage.mode == "equal_delay"
    assert stage.x.rising_poles_s == pytest.approx((0.006,))
    assert stage.x.falling_poles_s == pytest.approx((0.010,))
    assert stage.x.own_rising_s == 0.0
    assert "equal_mean_delay" in codes(stage)


def test_noise_forbids_to_undo_ways_that_differ_and_it_says_so() -> None:
    quiet = stage_for(target(0.020, 0.020), stick(0.002, 0.010, noise=0.0003))
    noisy = stage_for(target(0.020, 0.020), stick(0.002, 0.010, noise=0.005))
    assert (quiet.mode, noisy.mode) == ("exact", "equal_delay")
    assert "noise_forbids" in codes(noisy)
    alike = stage_for(target(0.020, 0.020), stick(0.010, 0.010, noise=0.005))
    assert alike.mode == "exact"


def test_the_shift_of_the_resting_place_that_noise_makes_is_as_large_as_was_reckoned() -> None:
    # The rule forbids at 0.25 % of throw; with ways 8 ms apart and a report a millisecond that is noise of 0.055 %.
    rng = np.random.default_rng(5)
    noise = 0.0025 / (0.008 * (2 / np.sqrt(np.pi)) / (2 * 1e-3))
    played = PlayedAxis(
        AddedResponse(rising_poles_s=(0.02,), falling_poles_s=(0.02,), own_rising_s=0.002, own_falling_s=0.010),
        interval_s=1e-3,
    )
    seen = []
    for k in range(1, 20_000):
        played.take(k * 1e-3, float(rng.normal(0.0, noise)))
        seen.append(played.at(k * 1e-3))
    assert abs(float(np.mean(seen[500:]))) == pytest.approx(0.0025, rel=0.1)


def test_a_quicker_target_is_refused_with_both_delays() -> None:
    with pytest.raises(NotComparableError, match="Only what is slower than the stick in hand") as caught:
        stage_for(target(0.002, 0.014), stick(0.009, 0.010))
    text = str(caught.value)
    assert re.search(r"code rising: 2 ms", text)
    assert re.search(r"stick in hand: 9 ms", text)


def test_a_target_as_quick_as_the_stick_is_played_as_it_is() -> None:
    same = stage_for(target(0.0030, 0.0031, u_s=4e-4), stick(0.0031, 0.0031, u_s=4e-4))
    assert same.mode == "as_it_is"
    assert same.x == AddedResponse()
    one_way = stage_for(target(0.0030, 0.0140, u_s=4e-4), stick(0.0031, 0.0031, u_s=4e-4))
    assert one_way.mode == "exact"
    assert lag_seen(one_way.x, "falling") == pytest.approx(0.0109, abs=3e-4)
    assert "as_in_hand" in codes(one_way)


def test_a_stick_known_up_to_a_bound_says_that_this_may_come_on_top() -> None:
    bound = TargetAxis(
        rising=Estimate.at_most("smoothing_delay", 5e-4, unit="s"),
        falling=Estimate.at_most("smoothing_delay", 5e-4, unit="s"),
    )
    quick = LiveStick(
        response=TargetResponse(label="elm", origin="hand", x=bound, y=bound), one_pole=True, report_interval_s=1e-3
    )
    assert "own_not_resolved" in codes(stage_for(target(0.009, 0.009), quick))


def test_refresh_steps_and_dead_time_are_added_where_the_target_is_the_coarser() -> None:
    coarse = target(0.009, 0.009, dead_time_s=0.002, refresh_s=0.008, step_fraction=0.01)
    stage = stage_for(coarse, stick(0.003, 0.003, step_fraction=0.001, dead_time_s=0.0005))
    assert (stage.x.refresh_s, stage.x.step, stage.x.dead_time_s) == pytest.approx((0.008, 0.01, 0.0015))
    fine = stage_for(target(0.009, 0.009, step_fraction=0.001), stick(0.003, 0.003, step_fraction=0.01))
    assert fine.x.step == 0.0
    assert "own_step_coarser" in codes(fine)


@pytest.mark.parametrize("own", [stick(0.0, 0.0), stick(0.003, 0.004), stick(0.003, 0.004, one_pole=False)])
@pytest.mark.parametrize("ways", ["both", "falling"])
def test_slowing_adds_exactly_that_delay(own: LiveStick, ways: str) -> None:
    for base in (stage_for(target(0.009, 0.014), own), stage_for(own.response, own)):
        slow = slowed(base, 0.008, ways)  # type: ignore[arg-type]
        assert lag_seen(slow.x, "falling") - lag_seen(base.x, "falling") == pytest.approx(0.008, abs=2e-5)
        added = 0.008 if ways == "both" else 0.004
        assert lag_seen(slow.x, "both") - lag_seen(base.x, "both") == pytest.approx(added, abs=2e-5)
