"""The second world's tied sticks: what a clearance allows, and what is true of the recording."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.testing.in_hand.mechanics import STEP_S
from feelcheck.testing.in_hand.tied import Link, TiedWorld, draw_tied, follower, simulate_tied
from feelcheck.testing.in_hand.world import Firmware, HandWorld, Host, Thumb

PUSH = np.clip(np.arange(6000) * STEP_S / 0.06, 0.0, 1.0)[:, None] * np.exp(0.6j)


@pytest.mark.parametrize("link", ["dragged", "sprung", "thrown"])
def test_the_second_stick_stays_inside_the_clearance(link: Link) -> None:
    apart = np.abs(PUSH - follower(PUSH, TiedWorld(play=0.02, link=link)))
    assert apart.max() < 0.01 * (1.4 if link == "thrown" else 1.0001)


def test_a_dragged_stick_trails_and_a_thrown_one_flies_on() -> None:
    dragged = np.abs(PUSH[-1]) - np.abs(follower(PUSH, TiedWorld(play=0.02, link="dragged")))
    assert dragged[-1] == pytest.approx(0.01, rel=1e-3)
    assert np.abs(follower(PUSH, TiedWorld(play=0.02, link="thrown"))).max() > 0.995


def test_without_play_both_sticks_are_one() -> None:
    for link in ("dragged", "sprung", "thrown"):
        assert np.abs(PUSH - follower(PUSH, TiedWorld(link=link))).max() < 0.003


def test_the_second_stick_is_later_by_poles_and_dead_time() -> None:
    """The area between both sticks over one push is the push times the delay."""
    hand = HandWorld(
        poles_x_s=((0.004, 0.004),),
        poles_y_s=((0.004, 0.004),),
        n_flicks=1,
        thumb=Thumb(push_s=(0.05, 0.06), hold_s=(0.25, 0.3)),
        firmware=Firmware(noise_codes=0.0),
        host=Host(late_s=1e-9),
    )
    recording = simulate_tied(
        TiedWorld(hand=hand, poles_s=((0.009, 0.009),), dead_time_s=0.001), np.random.default_rng(3)
    )
    left, right = (recording.stream(name).codes[:450].astype(float) for name in ("left_x", "right_x"))
    assert np.sum(left - right) / (left[-1] - left[0]) * 0.001 == pytest.approx(0.006, rel=0.02)
    assert recording.truth["x.rising.delay_s"] == pytest.approx(0.006)
    assert recording.truth["x.rising.smoothing_s"] == pytest.approx(0.005)


def test_drawn_ties_differ_and_keep_to_what_is_asked() -> None:
    worlds = [draw_tied("sprung", np.random.default_rng(seed), play=(0.01, 0.01)) for seed in range(6)]
    assert {world.play for world in worlds} == {0.01}
    assert len({world.poles_s for world in worlds}) == 6
    assert replace(worlds[0], link="dragged") != worlds[0]
