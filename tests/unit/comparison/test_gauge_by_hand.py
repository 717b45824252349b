"""A gauge study small enough to work on paper, and studies at the edge of having any spread."""

from __future__ import annotations

import math

import numpy as np
import pytest

from feelcheck.comparison import repeatability_of
from feelcheck.comparison.repeatability import anova_table, average_range
from feelcheck.errors import NotEnoughDataError

# Two operators (4 and 6 on average), two specimens (3 and 7), every reading one off its cell's mean.
READINGS = np.array([[[1.0, 3.0], [5.0, 7.0]], [[3.0, 5.0], [7.0, 9.0]]])


def test_sums_of_squares_on_paper() -> None:
    table = anova_table(READINGS)
    assert table.operator == pytest.approx((8.0, 1, 8.0))
    assert table.specimen == pytest.approx((32.0, 1, 32.0))
    assert table.interaction == pytest.approx((0.0, 1, 0.0))
    assert table.equipment == pytest.approx((8.0, 4, 2.0))
    assert table.interaction_p == pytest.approx(1.0)


def test_variances_on_paper() -> None:
    # Pooled error 8 / 5 = 1.6; operators (8 - 1.6) / 4 = 1.6; specimens (32 - 1.6) / 4 = 7.6.
    found = repeatability_of(READINGS, metric="smoothing_delay", unit="s")
    squares = {name: sd**2 for name, sd in found.anova.items()}
    assert squares == pytest.approx(
        {
            "repeatability": 1.6,
            "reproducibility": 1.6,
            "interaction": 0.0,
            "specimens": 7.6,
            "gauge": 3.2,
            "total": 10.8,
        }
    )
    assert found.interaction_pooled
    assert (found.n_distinct_raw, found.n_distinct) == pytest.approx((1.41 * math.sqrt(7.6 / 3.2), 2))
    assert {share.source: share.share_fraction for share in found.shares}["specimens"] == pytest.approx(7.6 / 10.8)
    assert found.dominant == "Most of what differs (70 % of the variance) is the specimens themselves."
    assert [caveat.code for caveat in found.caveats] == ["small_study"]


def test_averages_and_ranges_on_paper() -> None:
    # d2(2) = 1.128 for the mean range of 2, d2* = 1.41421 for a single one (printed tables of range constants).
    found = average_range(READINGS)
    assert found["repeatability"] == pytest.approx(2 / 1.128, rel=1e-3)
    assert found["reproducibility"] == pytest.approx(math.sqrt(2.0 - (2 / 1.128) ** 2 / 4), rel=1e-3)
    assert found["specimens"] == pytest.approx(4 / 1.41421, rel=1e-4)


def test_the_unit_and_the_origin_of_the_readings_do_not_matter() -> None:
    plain = repeatability_of(READINGS, metric="m", unit="s")
    moved = repeatability_of(1e6 + 1e-3 * READINGS, metric="m", unit="ms")
    assert moved.anova == pytest.approx({name: 1e-3 * sd for name, sd in plain.anova.items()}, rel=1e-4)
    assert moved.n_distinct_raw == pytest.approx(plain.n_distinct_raw, rel=1e-4)


def test_operators_and_specimens_may_stand_in_any_order() -> None:
    plain = repeatability_of(READINGS, metric="m", unit="s").anova
    for moved in (READINGS[::-1], READINGS[:, ::-1], READINGS[:, :, ::-1]):
        assert repeatability_of(moved, metric="m", unit="s").anova == pytest.approx(plain)


def test_readings_that_never_differ_tell_nothing_apart() -> None:
    found = repeatability_of(np.full((2, 2, 2), 5.0), metric="m", unit="s")
    assert (found.n_distinct, found.n_distinct_raw, found.interaction_p) == (1, 0.0, 1.0)
    assert set(found.anova.values()) == {0.0}


def test_specimens_that_differ_under_perfect_repeats_are_told_apart_without_limit() -> None:
    readings = np.broadcast_to(np.array([1.0, 2.0])[None, :, None], (2, 2, 2))
    found = repeatability_of(readings, metric="m", unit="s")
    assert found.n_distinct_raw == math.inf
    assert found.anova["gauge"] == 0.0


@pytest.mark.parametrize("shape", [(1, 2, 2), (2, 1, 2), (2, 2, 1)])
def test_two_of_each_are_needed(shape: tuple[int, int, int]) -> None:
    with pytest.raises(NotEnoughDataError, match="at least two operators, two specimens and two repeats"):
        repeatability_of(np.zeros(shape), metric="m", unit="s")


def test_an_empty_cell_is_refused() -> None:
    readings = READINGS.copy()
    readings[0, 0, 0] = math.nan
    with pytest.raises(NotEnoughDataError, match="every cell filled"):
        average_range(readings)
