"""Intervals of a person's threshold cover it: an observer of known sensitivity answers hundreds of runs.

The observer compares two noisy intervals with a sensitivity that grows as a power of the added delay, and now and then
answers without looking; the fit knows neither that law nor the lapses.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from feelcheck.model import Estimate
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.psychometrics import fit_threshold, placement_named
from feelcheck.psychometrics.threshold import levels_of

pytestmark = pytest.mark.statistical
N_TRIALS = 60


def run(placement: str, threshold_s: float, growth: float, lapses: float, seed: int) -> Estimate:
    rng = np.random.default_rng(seed)
    placed = placement_named(placement)
    for _ in range(N_TRIALS):
        level_s = placed.next_s()
        seen = special.ndtri(0.75) * (level_s / threshold_s) ** growth
        guesses = rng.random() < 2 * lapses
        right = (
            rng.random() < 0.5 if guesses else seen + rng.normal(0.0, math.sqrt(0.5)) > rng.normal(0.0, math.sqrt(0.5))
        )
        placed.take(level_s, bool(right))
    return fit_threshold(levels_of(placed.answers))


def share_covered(cases: list[tuple[str, float, float, float]], n_runs: int) -> tuple[float, list[float]]:
    hits, errors = 0, []
    for case, (placement, threshold_s, growth, lapses) in enumerate(cases):
        for seed in range(n_runs):
            found = run(placement, threshold_s, growth, lapses, 1000 * case + seed)
            low, high = coverage_interval(found)
            hits += (low is None or low <= threshold_s) and (high is None or high >= threshold_s)
            if found.value is not None:
                errors.append(math.log(found.value / threshold_s))
    return hits / (len(cases) * n_runs), errors


def test_intervals_cover_the_known_threshold() -> None:
    cases = [("adaptive", 0.012, 1.0, 0.01), ("two_down", 0.006, 1.5, 0.0), ("three_down", 0.03, 1.0, 0.02)]
    share, errors = share_covered(cases, 20)
    # 60 runs at 95 %: below 52 of them in 4 of 1000 such tests.
    assert share >= 52 / 60
    assert abs(float(np.median(errors))) < 0.25


@pytest.mark.full
@pytest.mark.parametrize("placement", ["adaptive", "two_down", "three_down"])
@pytest.mark.parametrize("growth", [1.0, 1.5])
def test_intervals_cover_in_90_to_98_per_cent_of_hundreds_of_runs(placement: str, growth: float) -> None:
    cases = [(placement, threshold_s, growth, 0.01) for threshold_s in (0.004, 0.012, 0.04)]
    share, _ = share_covered(cases, 150)
    # 450 runs: the counted share itself is known to 1 %. The fit expects sensitivity to grow in proportion, as most
    # studies find. Three-down tracks stay at 79.4 %, above the threshold, which is then read along the fit's own shape:
    # where sensitivity grows more quickly than that expects, its doubt is wide (99.4 % of 178 runs), never narrow.
    assert 0.90 <= share <= (0.995 if (placement, growth) == ("three_down", 1.5) else 0.98)
