"""Repeats of unlike certainty.

Source: the weighted mean of values with known standard uncertainties and its variance, as statsmodels' fixed-effect
combination gives them.
"""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from feelcheck.model import Estimate
from feelcheck.numerics.uncertainty import weighted_mean


def repeats(*pairs: tuple[float, float]) -> list[Estimate]:
    return [Estimate.measured("x", value, u=u, unit="s") for value, u in pairs]


def test_it_is_the_fixed_effect_mean_where_repeats_agree() -> None:
    found = weighted_mean(repeats((10.0, 1.0), (10.4, 1.0), (9.0, 2.0)), quantity="x")
    other = combine_effects(np.array([10.0, 10.4, 9.0]), np.array([1.0, 1.0, 4.0]), row_names=["a", "b", "c"])
    assert found.value == pytest.approx(other.mean_effect_fe)
    assert found.u == pytest.approx(other.sd_eff_w_fe)
    assert found.dof == 2


def test_scatter_beyond_the_uncertainties_widens_it() -> None:
    calm, wild = (
        weighted_mean(repeats((10, 1), (10, 1)), quantity="x"),
        weighted_mean(repeats((0, 1), (20, 1)), quantity="x"),
    )
    assert calm.u == pytest.approx(0.5**0.5)
    assert wild.u == pytest.approx(10.0)


def test_one_repeat_that_hardly_tells_does_not_drown_the_others() -> None:
    found = weighted_mean(repeats((14.3, 0.3), (14.1, 0.3), (14.2, 0.3), (10.0, 3.5)), quantity="x")
    assert found.value == pytest.approx(14.2, abs=0.05)
    assert found.u is not None
    assert found.u < 0.25


def test_a_very_small_uncertainty_counts_no_more_than_the_usual_one() -> None:
    found = weighted_mean(repeats((10.0, 1e-6), (12.0, 1.0), (14.0, 1.0)), quantity="x")
    assert found.value == pytest.approx(12.0)
