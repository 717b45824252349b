"""Filters without scipy.signal, held against it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import fft, ndimage, signal

from feelcheck.numerics.filters import (
    local_maxima,
    median_of_five,
    median_of_three,
    running_mean,
    savitzky_golay,
    transform_length,
)

RNG = np.random.default_rng(8)
WALK = np.cumsum(RNG.standard_normal(400))
STEPS = np.round(WALK)

pytestmark = pytest.mark.reference


@pytest.mark.parametrize("width", [3, 5, 33, 65])
@pytest.mark.parametrize("order", [1, 2])
def test_local_polynomials_equal_scipys(width: int, order: int) -> None:
    # source: scipy.signal.savgol_filter with its default ends
    expected = signal.savgol_filter(WALK, width, order)
    np.testing.assert_allclose(savitzky_golay(WALK, width, order), expected, atol=1e-10 * np.ptp(WALK))


@pytest.mark.parametrize("values", [WALK, STEPS, WALK[:5], np.zeros(7)])
def test_running_median_equals_scipys(values: np.ndarray) -> None:
    # source: scipy.ndimage.median_filter
    np.testing.assert_array_equal(median_of_five(values), ndimage.median_filter(values, 5, mode="nearest"))
    np.testing.assert_array_equal(median_of_three(values), ndimage.median_filter(values, 3, mode="nearest"))


@pytest.mark.parametrize("width", [1, 3, 9, 33])
@pytest.mark.parametrize("values", [WALK, STEPS, WALK[:5]])
def test_running_mean_equals_scipys(values: np.ndarray, width: int) -> None:
    # source: scipy.ndimage.uniform_filter1d
    expected = ndimage.uniform_filter1d(values, width, mode="nearest")
    np.testing.assert_allclose(running_mean(values, width), expected, atol=1e-12 * max(1.0, np.abs(values).max()))


def test_lengths_of_quick_transforms_equal_scipys() -> None:
    # source: scipy.fft.next_fast_len of real series
    lengths = [*range(1, 200), 12_345, 262_145, 9_999_991]
    assert [transform_length(n) for n in lengths] == [fft.next_fast_len(n, real=True) for n in lengths]


@pytest.mark.parametrize("height", [-100.0, 2.0])
@pytest.mark.parametrize(("values", "distance"), [(WALK, 1), (WALK, 3), (WALK, 20), (STEPS, 1)])
def test_maxima_equal_scipys(values: np.ndarray, height: float, distance: int) -> None:
    # source: scipy.signal.find_peaks, which leaves open which of two equal peaks claims its distance first
    expected, _ = signal.find_peaks(values, height=height, distance=distance)
    np.testing.assert_array_equal(local_maxima(values, height, distance), expected)
