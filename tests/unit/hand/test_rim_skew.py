"""Directions round the rim: a round rim seen through a known mixing of the axes (plane geometry)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from feelcheck.hand.reach import rim_profile, rim_skew
from feelcheck.model import Status


def rolled(mixing: tuple[tuple[float, float], tuple[float, float]], noise: float = 0.002, clip: float = 9.0):  # type: ignore[no-untyped-def]
    angle = np.linspace(0, 2 * math.pi, 6000)
    seen = np.array(mixing) @ np.stack([np.cos(angle), np.sin(angle)])
    seen = np.clip(seen + noise * np.random.default_rng(1).standard_normal(seen.shape), -clip, clip)
    return rim_profile(*seen)


@pytest.mark.parametrize("skew", [-0.08, -0.03, 0.05, 0.1])
def test_a_known_skew_is_found_with_its_sign(skew: float) -> None:
    found, error = rim_skew(rolled(((1.0, skew), (skew, 1.0))))
    assert found.value == pytest.approx(skew, abs=0.003)
    assert error.value == pytest.approx(math.degrees(math.atan(abs(skew))), abs=0.2)
    assert error.u is not None
    assert error.u < 0.3


def test_a_round_rim_has_at_most_a_small_error() -> None:
    found, error = rim_skew(rolled(((1.0, 0.0), (0.0, 1.0))))
    assert abs(found.value or 0.0) < 0.003
    assert error.status is Status.AT_MOST
    assert error.bound is not None
    assert error.bound < 0.5


def test_unlike_reaches_and_clipping_are_no_skew() -> None:
    found, _ = rim_skew(rolled(((1.0, 0.05), (0.04, 0.8))))
    assert found.value == pytest.approx(0.05, abs=0.006)
    for clip in (0.97, 0.9):
        clipped, _ = rim_skew(rolled(((1.0, 0.05), (0.05, 1.0)), clip=clip))
        assert clipped.value == pytest.approx(0.05, abs=0.006)


def test_a_turned_sensor_is_not_called_skewed_and_the_remark_says_so() -> None:
    c, s = math.cos(0.1), math.sin(0.1)
    found, _ = rim_skew(rolled(((c, -s), (s, c))))
    assert abs(found.value or 0.0) < 0.003
    assert found.caveats[0].code == "turn_unseen"


def test_half_a_rim_tells_nothing() -> None:
    profile = rolled(((1.0, 0.05), (0.05, 1.0)))
    profile[:, :36] = np.nan
    found, error = rim_skew(profile)
    assert {found.status, error.status} == {Status.NOT_RESOLVED}
    assert "Roll the stick" in error.caveats[0].advice
