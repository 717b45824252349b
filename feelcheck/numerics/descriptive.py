"""Mean, standard deviation and lag-1 autocorrelation that keep their digits; a spread that strays do not widen."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from feelcheck.model import FloatArray

__all__ = ["MAD_TO_SD", "U_OF_MEDIAN", "Description", "describe", "robust_sd"]

MAD_TO_SD = 1.4826
"""Standard deviation of a normal population in median distances from its median (F. R. Hampel, J. Am. Stat. Assoc. 69
(1974) 383)."""
U_OF_MEDIAN = 1.2533
"""Standard uncertainty of the median of many normal values in that of their mean: the square root of pi / 2."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """Mean, standard deviation (n - 1), lag-1 autocorrelation and size of a sample; lag_1 is 0 for a constant."""

    mean: float
    sd: float
    lag_1: float
    n: int

    @property
    def n_effective(self) -> float:
        """Size of an independent sample that tells as much about the mean, from the lag-1 autocorrelation alone."""
        rho = min(max(self.lag_1, 0.0), 0.999)
        return max(self.n * (1 - rho) / (1 + rho), 1.0)


def describe(values: ArrayLike) -> Description:
    """Return mean, standard deviation and lag-1 autocorrelation of a sample.

    Parameters
    ----------
    values : array_like, shape (n,)
        The sample, any unit; n >= 2.

    Raises
    ------
    ValueError
        If there are fewer than two values.

    Notes
    -----
    Two passes about a shifted origin: the first value is taken off, the mean of the rest is corrected by the mean of
    its own residuals, and squares are summed about that mean.

    References
    ----------
    T. F. Chan, G. H. Golub, R. J. LeVeque, The American Statistician 37 (1983) 242-247.

    Examples
    --------
    >>> describe([10000001, 10000003, 10000002])
    Description(mean=10000002.0, sd=1.0, lag_1=-0.5, n=3)
    """
    sample = np.asarray(values, dtype=np.float64).ravel()
    if sample.size < 2:
        raise ValueError(f"a standard deviation needs at least two values, got {sample.size}")
    shifted = sample - sample[0]
    centre = float(shifted.mean())
    residual = shifted - centre
    squares = float(np.sum(residual**2)) - float(residual.sum()) ** 2 / sample.size
    lagged = float(np.sum(residual[:-1] * residual[1:]))
    return Description(
        mean=float(sample[0] + centre),
        sd=math.sqrt(max(squares, 0.0) / (sample.size - 1)),
        lag_1=lagged / squares if squares > 0 else 0.0,
        n=int(sample.size),
    )


def robust_sd(values: FloatArray, about: float) -> float:
    """Return the standard deviation about a level, by the median of the distances from it: strays hardly count.

    Parameters
    ----------
    values : ndarray, shape (n,)
        The sample, any unit; n >= 1.
    about : float
        The level, such as the sample's median.

    Examples
    --------
    >>> round(robust_sd(np.array([1.0, 2.0, 3.0, 4.0, 30.0]), 3.0), 4)
    1.4826
    """
    return MAD_TO_SD * float(np.median(np.abs(values - about)))
