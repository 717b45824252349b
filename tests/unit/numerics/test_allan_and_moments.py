from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest

from feelcheck.numerics.allan import averaging_factors, oadev
from feelcheck.numerics.chi_squared import CHI_SQUARED_95
from feelcheck.numerics.descriptive import MAD_TO_SD, U_OF_MEDIAN, describe, robust_sd
from feelcheck.numerics.one_pole import LN9
from feelcheck.numerics.uncertainty import NORMAL_90, NORMAL_95, WIDTH_95


def test_a_steady_slope_grows_as_the_closed_form() -> None:
    values = 0.25 * np.arange(200)
    for m in (1, 5, 40):
        assert oadev(values, m) == pytest.approx(0.25 * m / math.sqrt(2), rel=1e-9)


def test_white_noise_falls_with_the_root_of_the_length() -> None:
    values = np.random.default_rng(1).normal(size=40_000)
    # 40000 / 64 = 625 independent pairs: 3 % standard error.
    assert oadev(values, 64) == pytest.approx(1 / 8, rel=0.12)


def test_a_length_beyond_the_data_is_refused() -> None:
    with pytest.raises(ValueError, match="needs at least"):
        oadev([1.0, 2.0, 3.0], 2)


def test_averaging_lengths_leave_pairs() -> None:
    assert averaging_factors(3) == ()
    assert averaging_factors(1000)[-1] == 128


def test_a_constant_has_no_spread_and_no_correlation() -> None:
    summary = describe([4.0] * 9)
    assert (summary.sd, summary.lag_1, summary.n_effective) == (0.0, 0.0, 9)


def test_one_value_is_too_few() -> None:
    with pytest.raises(ValueError, match="at least two"):
        describe([1.0])


def test_constants_are_those_of_the_normal_distribution_and_of_one_pole() -> None:
    at = NormalDist().inv_cdf
    assert (round(at(0.95), 3), round(at(0.975), 2)) == (NORMAL_90, NORMAL_95)
    assert pytest.approx(2 * at(0.975), abs=1e-6) == WIDTH_95
    assert pytest.approx(at(0.975) ** 2, rel=1e-12) == CHI_SQUARED_95
    assert round(1 / at(0.75), 4) == MAD_TO_SD
    assert round(math.sqrt(math.pi / 2), 4) == U_OF_MEDIAN
    assert pytest.approx(1 - math.exp(-LN9), rel=1e-12) == 8 / 9


def test_strays_hardly_widen_a_robust_spread() -> None:
    """The median of normal distances from the middle tells their deviation: within 2 % of 40,000 values."""
    values = np.random.default_rng(2).normal(5.0, 3.0, 40_000)
    values[:1000] = 1e6
    assert robust_sd(values, float(np.median(values))) == pytest.approx(3.0, rel=0.05)
