"""Square gates: found by where flicks end, and each axis then has an instant of contact of its own."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.hand.gate_stop.batches import lay_out
from feelcheck.hand.gate_stop.corners import axes_apart, ends_in_corners
from feelcheck.hand.gate_stop.even_flicks import lay_evenly
from feelcheck.hand.gate_stop.metric import METRIC
from feelcheck.hand.gate_stop.windows import FlickWindow, StickReadings, cut_flick
from feelcheck.hand.view import prepare
from feelcheck.testing.in_hand import draw_world, simulate_log

OPEN = np.array([[-np.inf, np.inf], [-np.inf, np.inf]])
OFF_RAD = np.array([0.07, -0.05, 0.03, -0.08, 0.05, -0.03])


def flick(gate: str, corner: int, off_rad: float) -> FlickWindow:
    """A flick of 50 ms at an even speed, beside one of the corners."""
    t_s = np.arange(0.0, 0.5, 0.001)
    way = np.clip((t_s - 0.1) / 0.05, 0.0, 1.2)
    straight = np.stack([np.cos(np.pi / 4 + off_rad), np.sin(np.pi / 4 + off_rad)])[:, None] * way
    path = np.minimum(straight, 0.7) if gate == "square" else straight / np.maximum(np.hypot(*straight), 1.0)
    if gate == "notched":
        slid = np.pi / 4 + off_rad * np.exp(-np.clip(t_s - 0.15, 0.0, None) / 0.006)
        path = np.where(way < 1.0, straight, np.stack([np.cos(slid), np.sin(slid)]))
    xy = 0.9 * path * np.array([[1, -1, -1, 1][corner], [1, 1, -1, -1][corner]])[:, None]
    readings = StickReadings(t_s=t_s, xy=xy, nominal=xy, interval_s=0.001)
    return cut_flick(readings, 0.1, 0.45, OPEN, None)


def flicks(gate: str, n_corners: int = 4, share: float = 1.0) -> list[FlickWindow]:
    return [flick(gate, corner, share * off) for corner in range(n_corners) for off in OFF_RAD.tolist()]


def test_only_a_square_leads_scattered_flicks_into_its_corners_without_turning_them_back() -> None:
    assert ends_in_corners(flicks("square"))
    assert not ends_in_corners(flicks("round"))
    assert not ends_in_corners(flicks("notched"))


def test_few_flicks_and_a_hand_that_repeats_itself_do_not_tell() -> None:
    assert not ends_in_corners(flicks("square", n_corners=1))
    assert not ends_in_corners(flicks("square", share=0.1))
    assert not ends_in_corners([])


def test_each_axis_becomes_a_flick_along_itself() -> None:
    whole = [flick("square", 1, 0.07)]
    across, up = axes_apart(whole)
    assert [across.sign, up.sign] == [(-1, 0), (0, 1)]
    assert [across.direction_deg, up.direction_deg] == [180.0, 90.0]
    np.testing.assert_array_equal(across.y[0], whole[0].y[0])
    assert not across.y[1].any()
    assert not up.seen[0].any()
    even = lay_evenly([across, up], np.full(2, 1e-6), 0.001)
    np.testing.assert_array_equal(even.tells, np.eye(2, dtype=bool))
    np.testing.assert_allclose(even.reach, 0.63, atol=1e-9)
    batch, _ = lay_out([across, up], np.full(2, 1e-6), 0.001)
    assert [batch.used_rows(g).tolist() for g in range(4)] == [[], [0], [3], []]


@pytest.mark.full
@pytest.mark.parametrize("seed", range(4))
def test_a_square_gate_is_answered(seed: int) -> None:
    rng = np.random.default_rng([seed, 31])
    log = simulate_log(draw_world("square", rng), rng)
    found = [f for f in METRIC.measure(prepare(log.recording())).findings if f.estimate.quantity == "smoothing_delay"]
    for said in found:
        true_s = log.truth[f"{said.axis}.{said.direction}.smoothing_delay_s"]
        if said.estimate.value is not None:
            assert said.estimate.value == pytest.approx(true_s, rel=0.08, abs=0.0003)
    assert sum(said.estimate.value is not None for said in found) >= 2
