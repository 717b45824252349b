from __future__ import annotations

import math

import numpy as np
import pytest

from feelcheck.numerics.allan import averaging_factors, oadev
from feelcheck.numerics.descriptive import describe


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
