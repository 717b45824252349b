"""Reports that said nothing new and were not sent: where they were, and how they are put back."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.numbers import SILENT_STEPS
from feelcheck.model import FloatArray

__all__ = ["neighbours", "repeated"]


def neighbours(values: FloatArray, percent: float) -> NDArray[np.bool_]:
    """Return between which reports every axis changed so little that a report between them can only have been silent.

    Parameters
    ----------
    values : ndarray, shape (k, n)
        The axes, any unit; NaN where one was not logged.
    percent : float
        Percentile of an axis' changes that stands for its smallest.

    Returns
    -------
    ndarray of bool, shape (n - 1,)
        Where the next value is a neighbour of the last; where it is not, a report may have been lost.

    Examples
    --------
    >>> neighbours(np.array([[0.0, 0.1, 0.2, 0.9, 1.0, 1.1]]), 10.0).tolist()
    [True, True, False, True, True]
    """
    step = np.abs(np.diff(np.nan_to_num(values), axis=1))
    small = np.array([np.percentile(row[row > 0], percent) if np.any(row > 0) else 0.0 for row in step])
    return np.asarray(np.all(step <= SILENT_STEPS * small[:, None], axis=0))


def repeated(counts: NDArray[np.int64]) -> tuple[NDArray[np.intp], NDArray[np.int64]]:
    """Return, for rows that stand for several reports each, the row of every report and its place among the row's own.

    Parameters
    ----------
    counts : ndarray, shape (n,)
        How many reports a row stands for, its own among them.

    Examples
    --------
    >>> [part.tolist() for part in repeated(np.array([1, 3]))]
    [[0, 1, 1, 1], [0, 0, 1, 2]]
    """
    index = np.repeat(np.arange(counts.size), counts)
    return index, np.arange(index.size) - np.repeat(np.cumsum(counts) - counts, counts)
