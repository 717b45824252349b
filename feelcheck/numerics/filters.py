"""A few filters of sampled series in numpy alone: importing scipy.signal takes longer than measuring a capture."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray

__all__ = ["local_maxima", "median_of_five", "median_of_three", "running_mean", "savitzky_golay", "transform_length"]


def savitzky_golay(values: FloatArray, width: int, order: int) -> FloatArray:
    """Return local polynomial fits at every sample, shape (n,); the ends lie on the fits to the outermost windows.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Evenly spaced samples.
    width : int
        Odd number of samples a fit, at most n.
    order : int
        Degree of the polynomial, below `width`.

    References
    ----------
    A. Savitzky, M. J. E. Golay, Anal. Chem. 36 (1964) 1627-1639.

    Examples
    --------
    >>> savitzky_golay(np.array([0.0, 1.0, 4.0, 9.0, 16.0]), 3, 2).round(6).astype(int).tolist()
    [0, 1, 4, 9, 16]
    """
    half = width // 2
    powers = np.vander(np.arange(-half, half + 1, dtype=np.float64), order + 1, increasing=True)
    project = powers @ np.linalg.pinv(powers)
    smooth = np.empty(values.size)
    smooth[half : values.size - half] = np.convolve(values, project[half, ::-1], mode="valid")
    smooth[:half] = project[:half] @ values[:width]
    smooth[values.size - half :] = project[half + 1 :] @ values[values.size - width :]
    return smooth


def median_of_three(values: FloatArray) -> FloatArray:
    """Return the running median of three samples, shape (n,); the end samples are repeated beyond the ends.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Samples, any unit.

    Examples
    --------
    >>> median_of_three(np.array([0.0, 9.0, 0.0, 1.0, 2.0])).tolist()
    [0.0, 0.0, 1.0, 1.0, 2.0]
    """
    padded = np.concatenate([values[:1], values, values[-1:]])
    a, b, c = (padded[k : k + values.size] for k in range(3))
    return np.asarray(np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c)))


def running_mean(values: FloatArray, width: int) -> FloatArray:
    """Return the running mean, shape (n,); the end samples are repeated beyond the ends.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Evenly spaced samples.
    width : int
        Odd number of samples.

    Examples
    --------
    >>> running_mean(np.array([0.0, 3.0, 0.0, 0.0]), 3).tolist()
    [1.0, 1.0, 1.0, 0.0]
    """
    half = width // 2
    ends = np.full(half, values[0]), np.full(half, values[-1])
    sums = np.cumsum(np.concatenate([[0.0], ends[0], values, ends[1]]))
    return np.asarray((sums[width:] - sums[:-width]) / width)


def median_of_five(values: FloatArray) -> FloatArray:
    """Return the running median of five samples, shape (n,); the end samples are repeated beyond the ends.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Samples, any unit.

    Notes
    -----
    The middle of five is the middle of three: of the fifth, the larger of both minima and the smaller of both maxima of
    two pairs.

    Examples
    --------
    >>> median_of_five(np.array([0.0, 0.0, 9.0, 0.0, 1.0, 1.0])).tolist()
    [0.0, 0.0, 0.0, 1.0, 1.0, 1.0]
    """
    padded = np.concatenate([values[:1], values[:1], values, values[-1:], values[-1:]])
    a, b, c, d, e = (padded[k : k + values.size] for k in range(5))
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    low, high = np.minimum(low, high), np.maximum(low, high)
    return np.asarray(np.maximum(low, np.minimum(high, e)))


def local_maxima(values: FloatArray, height: float, distance: int) -> NDArray[np.int64]:
    """Return the places of local maxima of at least a height, the higher ones first in claiming their distance.

    Parameters
    ----------
    values : ndarray, shape (n,)
        A series; the middle of a flat top counts as its place.
    height : float
        Least value.
    distance : int
        Least number of samples between two of them; the lower one is left out.

    Examples
    --------
    >>> local_maxima(np.array([0.0, 2.0, 0.0, 3.0, 3.0, 3.0, 0.0]), 1.0, 3).tolist()
    [1, 4]
    """
    begins = np.flatnonzero(np.concatenate([[True], values[1:] != values[:-1]]))
    levels = values[begins]
    inner = 1 + np.flatnonzero((levels[1:-1] > levels[:-2]) & (levels[1:-1] > levels[2:]) & (levels[1:-1] >= height))
    places = (begins[inner] + begins[inner + 1] - 1) // 2
    kept = np.ones(places.size, dtype=np.bool_)
    for k in np.argsort(values[places], kind="stable")[::-1]:
        if kept[k]:
            kept &= (np.abs(places - places[k]) >= distance) | (np.arange(places.size) == k)
    return places[kept]


def transform_length(least: int) -> int:
    """Return the smallest length of at least so many samples with no prime factor above 5: a quick Fourier transform.

    Parameters
    ----------
    least : int
        Number of samples, at least 1.

    Examples
    --------
    >>> transform_length(1021)
    1024
    """
    threes, fives = (range(2 + int(math.log(least, base))) for base in (3, 5))
    odd: list[int] = [3**i * 5**j for i in threes for j in fives]
    return min(k << (-(-least // k) - 1).bit_length() for k in odd)
