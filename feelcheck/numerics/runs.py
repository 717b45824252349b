"""Runs of equal values."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["runs_of_equal"]


def runs_of_equal(values: NDArray[Any]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return where runs of equal values begin, and how long each is.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Any numbers; a NaN is a run of its own.

    Returns
    -------
    ndarray, ndarray of int, shape (k,) each
        First indices and lengths.

    Examples
    --------
    >>> [part.tolist() for part in runs_of_equal(np.array([3.0, 3.0, 1.0, 3.0]))]
    [[0, 2, 3], [2, 1, 1]]
    """
    starts = np.flatnonzero(np.diff(values, prepend=np.nan) != 0)
    return starts, np.diff(starts, append=values.size)
