"""Fewer points for the same picture: long traces are thinned before they are drawn."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["envelope", "evenly"]


def envelope(t_s: Any, y: Any, n_columns: int = 400) -> tuple[NDArray[Any], NDArray[Any]]:
    """Return the lowest and highest reading of each of `n_columns` stretches, in time order.

    Parameters
    ----------
    t_s, y : array_like, shape (n,)
        A trace; returned as it is when it has no more than 2 `n_columns` points.
    n_columns : int
        Stretches; the thinned trace has two points in each.

    Returns
    -------
    t_s, y : ndarray, shape (m,)
        m <= 2 `n_columns`; every extreme of the trace is kept.

    Examples
    --------
    >>> t, y = envelope(np.arange(1000.0), np.r_[np.zeros(500), 9.0, np.zeros(499)], 10)
    >>> t.size, float(y.max())
    (20, 9.0)
    """
    t, values = np.asarray(t_s), np.asarray(y)
    if t.size <= 2 * n_columns:
        return t, values
    edges = np.linspace(0, t.size, n_columns + 1).astype(np.int64)
    picked = []
    for first, last in pairwise(edges):
        piece = values[first:last]
        picked += sorted({int(first + np.argmin(piece)), int(first + np.argmax(piece))})
        if len(picked) % 2:
            picked.append(picked[-1])
    index = np.array(picked)
    return t[index], values[index]


def evenly(n: int, n_most: int) -> NDArray[np.int64]:
    """Return at most `n_most` indices spread evenly over ``range(n)``, both ends among them.

    Examples
    --------
    >>> evenly(5, 3).tolist(), evenly(2, 10).tolist()
    ([0, 2, 4], [0, 1])
    """
    return np.unique(np.linspace(0, n - 1, min(n, n_most)).round().astype(np.int64)) if n else np.zeros(0, np.int64)
