"""Populations: tolerance limits hold as often as they say, outliers are as rare as they say, control charts, too."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.comparison.numbers import FALSE_ALARM
from feelcheck.comparison.placing import share_below
from feelcheck.comparison.population import deviations, outlier_limit
from feelcheck.comparison.tolerance import tolerance_limits

pytestmark = pytest.mark.statistical


@pytest.mark.parametrize(
    ("n", "detection_limit", "least"), [(15, None, 0.93), (40, None, 0.93), (40, -0.5, 0.93)], ids=str
)
def test_limits_hold_as_often_as_they_say(n: int, detection_limit: float | None, least: float) -> None:
    """Nine tenths of a normal population lie below 1.2816 (95 % of the limits above; 400 samples, sd 1.1 %)."""
    rng = np.random.default_rng(11)
    held = []
    for _ in range(400):
        x = rng.standard_normal(n)
        hidden = np.zeros(n, bool) if detection_limit is None else x < detection_limit
        limits = tolerance_limits(x[~hidden], at_most=[detection_limit or 0.0] * int(hidden.sum()), share=0.9, sides=1)
        if limits is not None:
            held.append(limits.high > 1.281552)
    assert len(held) > 300
    assert least <= float(np.mean(held))


def test_a_skewed_population_is_not_taken_for_normal() -> None:
    rng = np.random.default_rng(5)
    shapes = []
    for _ in range(30):
        limits = tolerance_limits(np.exp(rng.normal(0.0, 1.0, 100)), share=0.9, sides=1)
        assert limits is not None
        shapes.append(limits.shape)
    assert "normal" not in shapes
    assert shapes.count("log_normal") >= 25


@pytest.mark.parametrize("n", [6, 25, 150])
def test_clean_populations_show_an_outlier_as_rarely_as_is_said(n: int) -> None:
    rng = np.random.default_rng(77)
    alarms = [bool(np.max(np.abs(deviations(rng.standard_normal(n)))) > outlier_limit(n)) for _ in range(1500)]
    assert float(np.mean(alarms)) == pytest.approx(FALSE_ALARM, abs=0.02)


def test_the_true_share_lies_inside_its_interval() -> None:
    """The new stick lies at 1.0 of a standard normal population: 84.1 % are below; its measurement has u = 0.1."""
    rng = np.random.default_rng(8)
    inside = []
    for _ in range(300):
        _, low, high = share_below(rng.standard_normal(60), 1.0 + 0.1 * rng.standard_normal(), 0.1)
        inside.append(low <= 0.841345 <= high)
    assert float(np.mean(inside)) >= 0.92
