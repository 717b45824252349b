"""Sealed orders, blocks of trials, aiming, and the simulated people who play them."""

from __future__ import annotations

import hashlib
import itertools
import math

import numpy as np
import pytest

from feelcheck.model import Estimate, PlayedStage
from feelcheck.numerics.played_response import AddedResponse
from feelcheck.psychometrics import Staircase
from feelcheck.rehearsal.aiming import SPEED, WIDTH, AimingTask
from feelcheck.rehearsal.alone import aim_alone, answer_alone
from feelcheck.rehearsal.choices import ChoiceBlock
from feelcheck.rehearsal.observer import LAPSES, SimulatedObserver
from feelcheck.rehearsal.order import SPARE, SealedOrder
from feelcheck.rehearsal.player import SimulatedPlayer


def stage(label: str, tau_s: float) -> PlayedStage:
    added = AddedResponse(rising_poles_s=(tau_s,), falling_poles_s=(tau_s,)) if tau_s else AddedResponse()
    delay = Estimate.measured("added_delay", tau_s, u=0.0, unit="s")
    return PlayedStage(label=label, mode="exact", added_rising=delay, added_falling=delay, x=added, y=added)


def block(n: int = 12, seed: int = 1) -> ChoiceBlock:
    order = SealedOrder.drawn(n, seed=seed)
    return ChoiceBlock(quick=stage("alder", 0.003), slow=stage("birch", 0.012), n_planned=n, order=order)


def test_the_fingerprint_is_that_of_salt_and_order_and_tells_nothing_before() -> None:
    order = SealedOrder.drawn(23, seed=7)
    assert len(order.second) == 23 + SPARE
    assert order.seal == hashlib.sha256((order.salt + order.digits).encode()).hexdigest()
    assert SealedOrder.drawn(23, seed=8).seal != order.seal
    draws = np.array([SealedOrder.drawn(40, seed=seed).second for seed in range(200)])
    assert abs(draws.mean() - 0.5) < 0.02
    # Each draw for itself: what came before does not tell the next.
    assert abs(np.corrcoef(draws[:, :-1].ravel(), draws[:, 1:].ravel())[0, 1]) < 0.03


def test_the_slower_one_comes_where_the_order_says() -> None:
    own = block()
    for number in range(12):
        first, second = own.pair()
        slower = second if own.order.second[number] else first
        assert slower.label == "birch"
        assert own.take("second" if own.order.second[number] else "first").right
    assert own.finished
    assert own.p_value() == pytest.approx(0.5**12)
    assert own.plan()["least_correct"] == 10


def test_a_trial_that_is_broken_off_is_kept_and_made_again_with_a_fresh_draw() -> None:
    own = block(n=3, seed=4)
    own.pair()
    own.break_off("the pad was unplugged")
    for _ in range(3):
        own.pair()
        own.take("first")
    assert own.finished
    assert [trial.counted for trial in own.trials] == [False, True, True, True]
    assert own.trials[0].why_not == "the pad was unplugged"
    assert [trial.slower == "second" for trial in own.trials] == list(own.order.second[:4])
    assert own.estimates()["proportion_correct"].n == 3


def test_ended_early_there_is_no_probability() -> None:
    own = block()
    own.take("first")
    assert own.p_value() is None
    assert not own.finished


def test_a_staircase_shows_the_stick_against_itself_slowed() -> None:
    base = stage("stick in hand", 0.0)
    own = ChoiceBlock(
        quick=base, slow=base, n_planned=4, order=SealedOrder.drawn(4, seed=1), placement=Staircase(start_s=0.02)
    )
    added = {each.x for each in own.pair()}
    assert added == {AddedResponse(), AddedResponse(rising_poles_s=(0.02,), falling_poles_s=(0.02,))}
    assert own.p_value() is None
    assert own.plan() == {}


def test_the_observer_is_right_in_three_of_four_trials_at_its_threshold() -> None:
    pair = (stage("a", 0.0), stage("b", 0.010))
    observer = SimulatedObserver(0.010, "both", seed=3)
    right = sum(observer.answer(pair) == "second" for _ in range(6000)) / 6000
    # 0.75 without lapses; 6000 answers are known to 0.6 %.
    assert right == pytest.approx(0.75 * (1 - LAPSES) + 0.5 * LAPSES, abs=0.02)


def test_the_observers_threshold_comes_back_from_a_staircase() -> None:
    base = stage("stick in hand", 0.0)
    own = ChoiceBlock(
        quick=base, slow=base, n_planned=150, order=SealedOrder.drawn(150, seed=5), placement=Staircase(n_down=2)
    )
    answer_alone(own, SimulatedObserver(0.012, "both", seed=5))
    found = own.estimates()["threshold"]
    assert found.value == pytest.approx(0.012, rel=0.4)


def test_targets_lie_opposite_each_other_and_movements_are_equally_long() -> None:
    task = AimingTask(stages=[stage("a", 0.0)], order=[0], n_targets=9)
    places = [task.place_of(k) for k in range(10)]
    assert len({(round(x, 9), round(y, 9)) for x, y in places}) == 9
    assert places[9] == pytest.approx(places[0])
    ways = [math.dist(a, b) for a, b in itertools.pairwise(places)]
    # A cos(pi / 2n) for n = 9: 0.9848 of the ring's diameter (geometry).
    assert ways == pytest.approx([0.9848] * 9, abs=1e-4)


@pytest.mark.parametrize("n", [4, 8, 3])
def test_an_even_number_of_targets_is_refused(n: int) -> None:
    with pytest.raises(ValueError, match="odd number"):
        AimingTask(stages=[stage("a", 0.0)], order=[0], n_targets=n)


def test_the_first_selection_starts_the_clock_and_misses_are_counted() -> None:
    task = AimingTask(stages=[stage("a", 0.0)], order=[0], n_targets=5)
    for number in range(6):
        target = task.target
        beside = WIDTH if number == 3 else 0.0
        task.cursor = (target[0] + beside, target[1])
        task.select(0.8 * number + 1.0)
    assert task.finished
    ((stage_number, moves),) = task.sequences
    assert stage_number == 0
    assert [move.missed for move in moves] == [False, False, True, False, False]
    assert [round(move.took_s, 9) for move in moves] == [0.8] * 5


def test_full_throw_moves_the_cursor_at_its_speed() -> None:
    task = AimingTask(stages=[stage("a", 0.0)], order=[0])
    task.move(1.0, -0.5, 0.1)
    assert task.cursor == pytest.approx((0.1 * SPEED, -0.05 * SPEED))
    assert task.begin_again() == []
    assert task.cursor == (0.0, 0.0)


def test_each_pair_of_sequences_has_both_responses() -> None:
    order = AimingTask.balanced_order(2, 6, seed=3)
    assert all({a, b} == {0, 1} for a, b in zip(order[::2], order[1::2], strict=True))
    assert len({tuple(AimingTask.balanced_order(2, 6, seed=seed)) for seed in range(20)}) > 10


def test_a_simulated_player_reaches_targets_in_the_range_of_thumbsticks() -> None:
    task = AimingTask(stages=[stage("a", 0.0), stage("b", 0.06)], order=[0, 1])
    aim_alone(task, SimulatedPlayer(2))
    found = task.estimates()
    # Published thumbsticks: 1.5 to 2.4 bit/s (Natapov et al. 2009 and 2010, Ramcharitar & Teather 2017); a value
    # outside 1 to 3.5 would be a slip of units.
    assert 1.0 < (found["throughput_a"].value or 0.0) < 3.5
    assert found["error_rate_a"].status in ("ok", "at_most")
