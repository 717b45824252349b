"""Rows that a poller made by repeating the report before: they bring nothing, and stairs are no motion."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.fast_motion import two_sided_speed
from feelcheck.model import FloatArray

__all__ = ["first_of_repeated"]

REPEATED = 1.25
"""Rows from one new value to the next, while the stick moves fast, from which on they are a poller's. Lost and doubled
reports leave less, and at full speed a stick crosses several codes a report even at 8 bits."""

REACH_S = 0.015
FAST = 2.5
"""Codes a row, held on both sides over `REACH_S`, from which a repeat cannot be a coarse step alone."""

FEWEST = 30
LONGEST = 1.6
"""Rows between new values, over the usual, from which on a report was lost between them."""


def first_of_repeated(xy: FloatArray, interval_s: float) -> tuple[NDArray[np.intp], float] | None:
    """Return the rows that brought a report and the interval of the reports; None where every row did.

    Parameters
    ----------
    xy : ndarray, shape (2, n)
        Readings; NaN where an axis was not logged.
    interval_s : float, s
        Interval of the rows.

    Notes
    -----
    While the stick moves fast every report changes a value: the rows from change to change tell how many rows a report
    stands for. A row is kept where a value changed; what stands still is silent.

    Examples
    --------
    >>> way = np.repeat(np.cumsum(np.r_[np.ones(60), np.full(60, 20.0)]), 4)
    >>> rows, interval_s = first_of_repeated(np.array([way, np.zeros_like(way)]), 0.001)
    >>> rows[:3].tolist(), round(interval_s, 4)
    ([0, 4, 8], 0.004)
    """
    known = np.nan_to_num(xy)
    changed = np.append(True, np.any(np.diff(known, axis=1) != 0, axis=0))
    reach = max(4, round(REACH_S / interval_s))
    fast = np.zeros(changed.size, dtype=bool)
    for row in known:
        steps = np.abs(np.diff(row))
        if np.any(steps > 0):
            fast |= two_sided_speed(row, reach) > FAST * np.percentile(steps[steps > 0], 5)
    rows = np.flatnonzero(changed)
    apart = np.diff(rows)[fast[rows[1:]] | fast[rows[:-1]]]
    if apart.size < FEWEST:
        return None
    usual = float(np.mean(apart[apart < LONGEST * np.median(apart)]))
    return (rows, usual * interval_s) if usual > REPEATED else None
