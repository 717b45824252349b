"""The six boards that every bench meets (common practice, no source), nominal parts; and one unlike all of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.bench import measure_response, recognise_board
from feelcheck.model import Status
from feelcheck.testing.bench_boards import BOARDS, board, unlike_board
from feelcheck.testing.bench_world import simulate_capture


@pytest.mark.parametrize("name", BOARDS)
def test_board_is_recognised_and_explained(name: str) -> None:
    rng = np.random.default_rng(21)
    world = board(name, rng, varied=False)
    world = replace(world, scope=replace(world.scope, interval_s=80e-6))
    result = measure_response(simulate_capture(world, rng))
    assert recognise_board(result) == name
    assert any(sentence.startswith("Evidence: ") for sentence in result.explanation)
    assert len(result.explanation) >= 2


@pytest.mark.parametrize("kind", ["very_slow", "dead_time", "ringing"])
def test_board_unlike_all_of_them_is_not_forced_into_one(kind: str) -> None:
    rng = np.random.default_rng(22)
    world = unlike_board(rng, kind)
    world = replace(world, scope=replace(world.scope, interval_s=80e-6))
    assert recognise_board(measure_response(simulate_capture(world, rng))) == "none"


def test_without_a_drive_no_board_is_named() -> None:
    rng = np.random.default_rng(23)
    world = board("c", rng, varied=False)
    world = replace(world, scope=replace(world.scope, has_drive=False, interval_s=80e-6))
    assert recognise_board(measure_response(simulate_capture(world, rng))) == "none"


@pytest.mark.parametrize("draw", [0, 3])
def test_unfinished_fall_of_a_weak_sink_is_given_no_time_constant(draw: int) -> None:
    rng = np.random.default_rng([44, draw])
    result = measure_response(simulate_capture(board("a", rng), rng))
    assert result.falling is not None
    assert not result.falling.time_constant.is_ok
    assert not result.falling.settled_fraction.is_ok
    assert result.falling.transition_10_90.status is Status.AT_LEAST
    after = result.falling.extra["level_after"]
    assert after.value is None or after.value > 0


def test_output_that_turns_late_is_not_called_saturated() -> None:
    rng = np.random.default_rng([44, 5])
    result = measure_response(simulate_capture(board("a", rng), rng))
    assert result.rising is not None
    assert not result.rising.saturated


def test_pole_far_below_a_settled_edge_is_never_a_lower_bound() -> None:
    rng = np.random.default_rng([8203, 2, 3])
    result = measure_response(simulate_capture(board("d", rng), rng))
    assert recognise_board(result) == "d"
    for direction in (result.rising, result.falling):
        assert direction is not None
        assert direction.time_constant.status is Status.AT_MOST
