"""A simulated person who is asked for one action at a time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.model import Action, Step
from feelcheck.sources.synthetic import named_world, staged_world
from feelcheck.sources.synthetic.live import AHEAD_S, LivePerson, Stretch
from feelcheck.sources.synthetic.scene import World

QUIET = replace(
    named_world("birch"),
    thumb=replace(named_world("birch").thumb, tremor_fs=0.0),
    sensor=replace(named_world("birch").sensor, noise_fs=0.0),
    converter=replace(named_world("birch").converter, noise_lsb=0.0),
)
FLICK = Step(action=Action.FLICK, duration_s=2.0, stick="left", direction_deg=45.0)
LET_GO = Step(action=Action.RELEASE, duration_s=1.0, stick="left")


def person(world: World = QUIET, seed: int = 3) -> LivePerson:
    return LivePerson(world, np.random.default_rng(seed))


def column(stretch: Stretch, k: int) -> np.ndarray:
    return np.asarray(stretch.codes[:, k])


def test_nothing_moves_before_the_reaction_and_the_flick_then_stays_at_the_rim() -> None:
    one = person()
    one.stay()
    flicked = one.hear(1.0, FLICK)
    assert flicked.begin_s >= 1.12
    assert abs(int(column(flicked, 0)[0])) < 40
    assert column(flicked, 0)[-1] == pytest.approx(32767 * 1.06 * np.cos(np.pi / 4), rel=0.1)
    assert column(flicked, 1)[-1] == pytest.approx(32767 * 1.06 * np.sin(np.pi / 4), rel=0.1)
    assert np.ptp(column(flicked, 2)) <= 40
    held = one.stay()
    assert AHEAD_S < held.begin_s - flicked.begin_s < AHEAD_S + 0.3
    assert abs(int(column(held, 0)[0]) - int(column(flicked, 0)[-1])) < 40


def test_reports_keep_their_grid_from_one_request_to_the_next() -> None:
    one = person(replace(QUIET, reports=replace(QUIET.reports, on_change=False)))
    interval_s = QUIET.reports.true_interval_s
    instants = [stretch.sent_s for stretch in (one.stay(), one.hear(1.0, FLICK), one.hear(2.5, LET_GO))]
    for t_s in instants:
        np.testing.assert_allclose(np.diff(t_s), interval_s, rtol=1e-9)
    phases = [float(np.mod(t_s[0] - instants[0][0] + interval_s / 2, interval_s)) for t_s in instants]
    np.testing.assert_allclose(phases, interval_s / 2, atol=1e-9)


def test_the_held_level_decays_with_the_networks_own_pole() -> None:
    # After contact the codes approach the rim along exp(-t / tau); birch's codes rise with 9 ms. The slope of the
    # logarithm of what is left needs no model of the flick.
    world = replace(QUIET, gimbal=replace(QUIET.gimbal, slide_deg=0.0, compliance_fs=0.0, creep_fs=0.0, bounce_fs=0.0))
    flicked = person(world).hear(1.0, FLICK)
    x = column(flicked, 0).astype(float)
    left = x[-1] - x
    tail = (left < 4000) & (left > 400)
    tau_s = -1.0 / np.polyfit(flicked.sent_s[tail], np.log(left[tail]), 1)[0]
    assert tau_s == pytest.approx(0.009, rel=0.03)


def test_letting_go_comes_home_and_a_turn_goes_past_its_beginning() -> None:
    one = person()
    one.hear(1.0, FLICK)
    home = one.hear(2.5, LET_GO)
    assert abs(int(column(home, 0)[-1])) < 200
    turned = one.hear(4.0, Step(action=Action.CIRCLE, duration_s=3.0, stick="left"))
    x, y = column(turned, 0).astype(float), column(turned, 1).astype(float)
    at_rim = np.hypot(x, y) > 25000
    assert np.degrees(np.ptp(np.unwrap(np.arctan2(y[at_rim], x[at_rim])))) > 370.0


def test_the_rims_button_closes_at_contact_and_opens_on_letting_go() -> None:
    one = person(staged_world("alder", "marker"))
    closed = one.hear(1.0, FLICK).buttons
    assert [(name, state) for _, name, state in closed] == [("rim", 1)]
    assert closed[0][0] > 1.12
    opened = one.hear(2.5, LET_GO).buttons
    assert [(name, state) for _, name, state in opened] == [("rim", 0)]
    pressed = one.hear(4.0, Step(action=Action.PRESS, duration_s=1.0, stick="left")).buttons
    assert [(name, state) for _, name, state in pressed] == [("left_press", 1), ("left_press", 0)]


def test_tied_sticks_go_together() -> None:
    flicked = person(staged_world("alder", "coupled")).hear(1.0, FLICK)
    assert column(flicked, 2)[-1] == pytest.approx(column(flicked, 0)[-1], rel=0.03)
