from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from feelcheck.numerics.combs import CombFit, comb_spectrum, false_alarm_probability, fit_comb, refine_spacing


def fitted(groups: Any, low: float, high: float) -> CombFit:
    fit = fit_comb([np.asarray(group, dtype=np.float64) for group in groups], low, high)
    assert fit is not None
    return fit


@pytest.mark.parametrize("spacing", [2.5, 16.0037, 64.0616, 257.0])
def test_rounded_levels_give_back_a_spacing_that_is_not_whole(spacing: Any) -> None:
    levels = np.round(np.arange(-60, 61) * spacing + 0.3)
    fit = fitted([levels], 1.9, 600.0)
    assert fit.spacing == pytest.approx(spacing, rel=1e-3)
    assert abs(fit.spacing - spacing) < 4 * max(fit.u, 1e-9)
    assert fit.false_alarm < 1e-12


def test_the_fundamental_is_taken_and_not_a_multiple_of_its_frequency() -> None:
    assert fitted([np.arange(200) * 10.0], 2.0, 200.0).spacing == pytest.approx(10.0)


def test_groups_may_be_shifted_against_each_other() -> None:
    fit = fitted([np.arange(40) * 7.3, 1000.4 + np.arange(40) * 7.3], 2.0, 50.0)
    assert fit.spacing == pytest.approx(7.3)
    assert fit.coherence == pytest.approx(1.0)
    assert (fit.offsets[1] - fit.offsets[0] - 1000.4) / 7.3 == pytest.approx(
        round((fit.offsets[1] - fit.offsets[0] - 1000.4) / 7.3), abs=1e-6
    )


def test_scattered_positions_are_no_comb() -> None:
    positions = np.random.default_rng(3).uniform(0, 5000, 300)
    fit = fitted([positions], 2.0, 200.0)
    assert fit.false_alarm > 1e-3
    assert fit.coherence < 0.4


def test_false_alarms_come_as_often_as_stated() -> None:
    """1000 scatters of 40 positions: the share of peaks stated at below 20 % must not exceed 20 % by much."""
    rng = np.random.default_rng(8)
    stated = [fitted([rng.uniform(0, 400, 40)], 2.0, 40.0).false_alarm for _ in range(400)]
    share = np.mean(np.array(stated) < 0.2)
    # The bound on trials is generous with oversampling left out: binomial 4 sigma is 0.08.
    assert 0.05 < share < 0.36


def test_one_group_false_alarm_is_the_exponential_law() -> None:
    assert false_alarm_probability(5.0, 1, 1.0) == pytest.approx(math.exp(-5.0))
    assert false_alarm_probability(30.0, 4, 1.0) == pytest.approx(stats.chi2.sf(60.0, 8), rel=1e-6)


def test_refining_states_the_uncertainty_of_a_regression() -> None:
    """Spread over repeats against the stated u (chi-square band for 300 repeats)."""
    rng = np.random.default_rng(4)
    found = [refine_spacing([np.arange(50) * 3.0 + rng.normal(0, 0.1, 50)], 3.0)[:2] for _ in range(300)]
    spacings, us = np.array(found).T
    assert np.std(spacings) == pytest.approx(np.mean(us), rel=0.15)


def test_too_few_positions_give_no_fit() -> None:
    assert fit_comb([np.array([1.0, 2.0])], 1.0, 4.0) is None
    assert fit_comb([], 1.0, 4.0) is None


@pytest.mark.parametrize("limits", [(0.0, 1.0), (2.0, 1.0)])
def test_the_search_limits_must_make_sense(limits: Any) -> None:
    with pytest.raises(ValueError, match="0 < min_spacing < max_spacing"):
        comb_spectrum([np.arange(5.0)], *limits)
