"""Give back what stood before poles and a moving average: the inverse of a response, with its noise."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import numpy as np

from feelcheck.model import FloatArray, frozen_array
from feelcheck.numerics.numbers import BLOCKS, BRIEF, LEAST_WIDTH, WIDTH_OF_POLES

__all__ = ["fitting_width", "local_derivative", "noise_gain", "unsmoothed"]


def unsmoothed(
    y: FloatArray, *, poles: Sequence[float] = (), n_average: int = 1, width: int = LEAST_WIDTH
) -> tuple[FloatArray, float]:
    """Return what stood before poles and a moving average.

    Parameters
    ----------
    y : ndarray, shape (..., n)
        Readings at even intervals; the input rested before the first and after the last.
    poles : sequence of float, reports
        Up to two time constants in report intervals.
    n_average : int
        Over how many reports the newest and those before it were averaged; 1 for none.
    width : int
        Readings of the local polynomial that takes the derivatives; odd. With 1 poles are undone from report to report.

    Returns
    -------
    ndarray, shape (..., n)
        The input at the same instants, as far as the local polynomials resolve it.
    float
        Standard deviation of it for readings with independent errors of standard deviation 1.

    Raises
    ------
    ValueError
        On more than two poles.

    Notes
    -----
    From report to report, (y_k - a y_(k - 1)) / (1 - a) with a = exp(-1 / tau) is the input's mean over the interval,
    weighed by the pole: it lies where the input lies. Else a pole is undone by y + tau dy/dt, two by
    (1 + tau_1 d/dt)(1 + tau_2 d/dt) y, an average over N reports by r_k = r_(k - N) + N (y_k - y_(k - 1)). Derivatives
    come from local parabolas, with two poles from cubics.

    References
    ----------
    A. Savitzky and M. J. E. Golay, Analytical Chemistry 36 (1964) 1627-1639 (from memory).

    Examples
    --------
    >>> path, _ = unsmoothed(1 - np.exp(-np.maximum(np.arange(40) - 10, 0) / 8), poles=(8.0,))
    >>> bool(path[5] < 0.01), bool(abs(path[20] - 1) < 0.01)
    (True, True)
    """
    kernel = _kernel(poles, width)
    after = width // 2
    before = kernel.size - 1 - after
    padded = np.concatenate([np.repeat(y[..., :1], before, -1), y, np.repeat(y[..., -1:], after, -1)], axis=-1)
    path = np.lib.stride_tricks.sliding_window_view(padded, kernel.size, axis=-1) @ kernel
    if n_average == 1:
        return path, noise_gain(poles=poles, width=width)
    steps = n_average * np.diff(path, axis=-1, prepend=path[..., :1])
    n = y.shape[-1]
    blocks = -(-n // n_average)
    whole = np.concatenate([steps, np.zeros((*y.shape[:-1], blocks * n_average - n))], axis=-1)
    summed = np.cumsum(whole.reshape(*y.shape[:-1], blocks, n_average), axis=-2)
    gain = noise_gain(poles=poles, n_average=n_average, width=width)
    return path[..., :1] + summed.reshape(*y.shape[:-1], blocks * n_average)[..., :n], gain


def noise_gain(*, poles: Sequence[float] = (), n_average: int = 1, width: int = LEAST_WIDTH) -> float:
    """Return the standard deviation of what `unsmoothed` gives for readings with independent errors of 1.

    Parameters
    ----------
    poles, n_average, width
        As for `unsmoothed`.

    Examples
    --------
    >>> round(noise_gain(poles=(8.0,)), 2)
    2.62
    """
    kernel = _kernel(poles, width)
    if n_average == 1:
        return float(np.linalg.norm(kernel))
    return n_average * float(np.linalg.norm(np.diff(kernel, prepend=0.0, append=0.0))) * math.sqrt(BLOCKS)


def _kernel(poles: Sequence[float], width: int) -> FloatArray:
    if len(poles) > 2:
        raise ValueError(f"at most two poles can be undone, got {len(poles)}")
    if width == 1:
        kept = [math.exp(-1.0 / pole) for pole in poles]
        kernel = functools.reduce(np.convolve, [np.array([-a, 1.0]) / (1.0 - a) for a in kept], np.ones(1))
        return np.asarray(kernel)
    order = 3 if len(poles) == 2 else 2
    shapes = [local_derivative(width, order, k) for k in range(len(poles) + 1)]
    factors = (1.0, float(sum(poles)), float(np.prod(poles)))
    return np.asarray(sum(factor * shape for factor, shape in zip(factors, shapes, strict=False)))


@functools.lru_cache(maxsize=1024)
def local_derivative(width: int, order: int, k: int) -> FloatArray:
    """Return the weights that take a derivative at the middle of a local polynomial, shape (width,).

    Parameters
    ----------
    width : int
        Readings; odd.
    order : int
        Of the polynomial.
    k : int
        Of the derivative, per reading.

    Notes
    -----
    What `scipy.signal.savgol_coeffs` gives (its test); that module takes longer to import than a log to analyse.

    Examples
    --------
    >>> local_derivative(5, 2, 1).round(3).tolist()
    [-0.2, -0.1, 0.0, 0.1, 0.2]
    """
    powers = np.vander(np.arange(width) - width // 2, order + 1, increasing=True).astype(np.float64)
    return frozen_array(math.factorial(k) * np.linalg.pinv(powers)[k])


def fitting_width(noise: float, allowed: float, *, poles: Sequence[float] = (), n_average: int = 1) -> int:
    """Return the shortest width whose un-smoothed noise stays below what is allowed.

    Parameters
    ----------
    noise : float
        Standard deviation of one reading.
    allowed : float
        Standard deviation that the path may have, in the same unit.
    poles, n_average
        As for `unsmoothed`.

    Notes
    -----
    At most `WIDTH_OF_POLES` of the response, so that the noise may stay larger than allowed.

    Examples
    --------
    >>> fitting_width(1e-5, 0.01, poles=(10.0,)), fitting_width(0.01, 0.01, poles=(20.0,))
    (5, 11)
    """
    if sum(poles) < BRIEF and noise * noise_gain(poles=poles, n_average=n_average, width=1) <= allowed:
        return 1
    least = LEAST_WIDTH + 2 * (len(poles) == 2)
    most = max(least, int(WIDTH_OF_POLES * (sum(poles) + 0.5 * (n_average - 1))))
    for width in range(least, most + 1, 2):
        if noise * noise_gain(poles=poles, n_average=n_average, width=width) <= allowed:
            return width
    return most - 1 + most % 2
