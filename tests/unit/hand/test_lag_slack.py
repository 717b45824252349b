"""What play leaves open: offsets along a path, rows made white, the size that residuals speak for."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.hand.lag.slack import (
    PLAYS,
    between_codes,
    dragged,
    memory,
    play_offsets,
    slack_shapes,
    slack_size,
    weighted_basis,
)

T_S = 0.001 * np.arange(120.0)


def test_what_is_dragged_trails_by_half_the_play_and_stays_when_it_is_let_be() -> None:
    out = np.array([0.0, 0.5, 1.0, 0.97, 0.95, 0.0], dtype=np.complex128)
    off = dragged(out, np.array([0.1])).real[:, 0]
    assert off.tolist() == pytest.approx([0.0, -0.05, -0.05, -0.02, 0.0, 0.05])


def test_a_pin_in_a_round_hole_turns_its_offset_when_the_path_turns() -> None:
    straight, turned = np.linspace(0, 1, 50) + 0j, 1.0 + 1j * np.linspace(0, 1, 50)
    off = dragged(np.concatenate([straight, turned]), np.array([0.1]))[:, 0]
    assert off[49] == pytest.approx(-0.05)
    assert off[-1] == pytest.approx(-0.05j, abs=1e-3)


def test_offsets_are_had_for_each_diameter_and_kind() -> None:
    a = np.concatenate([np.linspace(0, 0.7, 40), np.full(20, 0.7)])
    offsets = play_offsets(a, np.zeros(a.size))
    rows = offsets.rows((3, 4))
    assert rows.shape == (5, a.size)
    halves = [PLAYS[3] / 2, PLAYS[4] / 2, PLAYS[3] / 2, PLAYS[4] / 2, PLAYS[3] / 2]
    assert (-rows[:, -1]).tolist() == pytest.approx(halves)


def test_rows_with_offsets_of_known_size_come_out_white() -> None:
    rng = np.random.default_rng(6)
    memories, shapes = memory(T_S, 0.01), slack_shapes(T_S - 0.04, (0.005, 0.01))
    rows = rng.normal(0.0, 0.001, (4000, T_S.size)) + rng.normal(0.0, 0.004, (4000, 2)) @ shapes.T
    basis, taken = weighted_basis(memories, shapes, 0.004, 0.001)
    white = rows - (rows @ basis) * taken @ basis.T
    along = white @ basis[:, 2:]
    assert np.std(along, axis=0) == pytest.approx([0.001, 0.001], rel=0.05)
    assert np.abs(white @ memories).max() < 1e-12


@pytest.mark.parametrize("size", [0.0, 0.001, 0.01])
def test_the_size_of_offsets_is_found_from_residuals(size: float) -> None:
    rng = np.random.default_rng(7)
    strengths = np.array([8.0, 5.0])
    parts = [(rng.normal(0.0, 1.0, 2) * np.hypot(0.0005, size * strengths), strengths) for _ in range(60)]
    found = slack_size(parts, 0.0005)
    assert found == pytest.approx(size, rel=0.35, abs=1e-4)


def test_it_is_the_stick_that_drags_and_not_its_coarse_code() -> None:
    step, play = 0.0084, int(np.argmin(np.abs(PLAYS - 0.01)))
    t_s = 0.001 * np.arange(600.0)
    stick = 0.7 * np.clip(t_s / 0.05, 0.0, 1.0) + 0.01 * np.sin(2 * np.pi * 9.0 * t_s)
    codes = step * np.rint(stick / step)

    def dragged_to(pins: np.ndarray, off: np.ndarray) -> np.ndarray:
        return np.asarray((pins + off)[60:])

    true = dragged_to(stick, dragged(stick.astype(np.complex128), PLAYS).real[:, play])
    by_code = dragged_to(codes, dragged(codes.astype(np.complex128), PLAYS).real[:, play])
    found = dragged_to(between_codes(codes), play_offsets(codes, np.zeros(codes.size)).dragged[1, play])
    assert np.std(found - true) < 0.6 * np.std(by_code - true)


@pytest.mark.parametrize("slope", [0.0003, 0.002])
def test_between_codes_a_slow_stick_is_where_it_was(slope: float) -> None:
    stick, step = slope * np.arange(400.0), 0.0084
    between = between_codes(step * np.rint(stick / step))
    assert np.abs(between - stick)[20:-40].max() < max(slope, 0.1 * step)
    assert between_codes(np.full(5, 0.3)).tolist() == pytest.approx([0.3] * 5)
