"""Residuals of the fit at the rim: chance counts nothing, what all flicks have in common does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from dozen_flicks import fitted

from feelcheck.hand.gate_stop import residual_structure as room
from feelcheck.hand.gate_stop.numbers import LARGEST_RELATIVE_U, MOST_CORRELATED
from feelcheck.hand.gate_stop.residual_structure import ENDS_APART, HANG_TOGETHER, common_u, ends_u, residual_terms
from feelcheck.model import FloatArray

K, N = 12, 40
INFORMATION = 40.0
AT = np.tile(np.arange(-12, N - 12), (K, 1))
SLOPE = np.tile(np.exp(-0.5 * ((np.arange(N) - 18.0) / 4.0) ** 2), (K, 1))
EARLY = AT < 6


def noise(seed: int) -> FloatArray:
    return np.asarray(np.random.default_rng(seed).standard_normal((K, N)))


def test_ends_that_ask_for_different_time_constants_count_half_of_it() -> None:
    step = np.where(EARLY, 0.3, -0.3) * SLOPE
    assert ends_u(step, SLOPE, EARLY) == pytest.approx(0.3)
    # A like step at both ends is another time constant, no disagreement.
    assert ends_u(0.3 * SLOPE, SLOPE, EARLY) == pytest.approx(0.0, abs=1e-9)


def test_ends_that_differ_by_chance_count_little() -> None:
    own = np.array([ends_u(noise(seed), SLOPE, EARLY) for seed in range(200)])
    part = (np.sum(SLOPE[0] ** 2 * EARLY[0]), np.sum(SLOPE[0] ** 2 * ~EARLY[0]))
    expected = np.sqrt(sum(1.0 / (K * one) for one in part))
    assert np.mean(own > 0) < 0.3
    assert own.mean() < 0.3 * expected


def test_what_all_flicks_leave_in_common_does_not_become_less_with_more_of_them() -> None:
    wave = 0.5 * np.sin(2 * np.pi * np.arange(N) / 12.0)
    found = [common_u(np.tile(wave, (k, 1)) + noise(1)[:k], INFORMATION, AT[:k], N - 12) for k in (6, 12)]
    smooth = (1 + MOST_CORRELATED) / (1 - MOST_CORRELATED)
    expected = np.sqrt(np.mean(wave**2) * smooth / INFORMATION)
    assert found[1] == pytest.approx(expected, rel=0.4)
    assert found[0] == pytest.approx(found[1], rel=0.4)


def test_a_common_wave_counts_by_its_size() -> None:
    wave = np.tile(np.sin(2 * np.pi * np.arange(N) / 12.0), (K, 1))
    small, large = (common_u(size * wave, INFORMATION, AT, N - 12) for size in (0.2, 0.6))
    assert large == pytest.approx(3 * small)


def test_chance_is_no_structure() -> None:
    own = np.array([common_u(noise(seed), INFORMATION, AT, N - 12) for seed in range(200)])
    alone = np.sqrt(1.0 / K / INFORMATION)
    assert np.median(own) < 0.5 * alone


def test_a_plain_log_leaves_no_structure_and_the_slope_is_the_fit_s_own() -> None:
    found = fitted()
    assert max(residual_terms(found, 0).values()) < 0.02
    rows = found.batch.used_rows(0)
    own = np.sum(found.batch.weight[rows] * room._slopes(found, rows) ** 2, axis=1)
    # A single axis knows its contact less well than both together do.
    assert 0.2 < np.median(own / found.fit.flick_information[rows // 2, 0, 0]) < 1.05


def test_structure_put_into_the_readings_is_seen_by_both(monkeypatch: pytest.MonkeyPatch) -> None:
    found = fitted()
    rows = found.batch.used_rows(0)
    since_s = found.batch.t_s - np.repeat(found.fit.contact_s, 2)[:, None]
    wave = 0.01 * np.sin(2 * np.pi * since_s / 0.012) * (np.abs(since_s) < 0.012)
    bent = replace(found, batch=replace(found.batch, y=found.batch.y + wave))
    assert residual_terms(bent, 0)[HANG_TOGETHER] > 5 * max(residual_terms(found, 0)[HANG_TOGETHER], 0.002)
    slopes = np.zeros_like(found.batch.y)
    slopes[rows] = room._slopes(found, rows)
    apart = replace(found, batch=replace(found.batch, y=found.batch.y + np.where(since_s < 0.006, 0.1, -0.1) * slopes))
    assert residual_terms(apart, 0)[ENDS_APART] == pytest.approx(0.1, abs=0.02)
    monkeypatch.setattr(room, "FEWEST_ALIKE", rows.size + 1)
    assert residual_terms(bent, 0) == {ENDS_APART: 0.0, HANG_TOGETHER: 0.0}


def test_no_structure_counts_more_than_makes_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "ends_u", lambda *_: 5.0)
    monkeypatch.setattr(room, "common_u", lambda *_: 7.0)
    assert set(residual_terms(fitted(), 0).values()) == {float(LARGEST_RELATIVE_U)}
