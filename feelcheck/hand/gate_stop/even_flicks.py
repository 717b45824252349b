"""Flicks of both axes on even report instants, as un-smoothing needs them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.numbers import AFTER_STOP_S, END_S, SEEN_SHARE, SHARE_TO_TELL
from feelcheck.hand.gate_stop.windows import FlickWindow
from feelcheck.model import FloatArray

__all__ = ["EvenFlicks", "lay_evenly"]


AT_REST = 5
"""Readings that give the level from which a flick starts."""

BEFORE = 12
"""Reports kept before the first one and beyond the last: room for the widest derivative, so that no edge is undone."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EvenFlicks:
    """Flicks on even report instants.

    Parameters
    ----------
    y : ndarray, shape (F, 2, n)
        Readings from rest, outward positive.
    end : ndarray, shape (F, 2)
        Where they come to rest.
    group : ndarray of int, shape (F, 2)
        Axis and electrical direction, one of `N_GROUPS`.
    tells : ndarray of bool, shape (F, 2)
        Whether the axis goes far enough and is not clipped.
    noise_fs, interval_s : float
        Standard deviation of a reading, and the report interval.
    late : int
        Index at which nine tenths were covered.
    """

    y: FloatArray
    end: FloatArray
    group: NDArray[np.int64]
    tells: NDArray[np.bool_]
    noise_fs: float
    interval_s: float
    late: int

    @property
    def reach(self) -> FloatArray:
        """Distance from rest to rim, shape (F,)."""
        return np.hypot(self.end[:, 0], self.end[:, 1])


def lay_evenly(windows: Sequence[FlickWindow], variance: FloatArray, interval_s: float) -> EvenFlicks:
    """Return the flicks on even instants, lost reports filled in along straight lines.

    Parameters
    ----------
    windows : sequence of FlickWindow
        Those with something to say.
    variance : ndarray, shape (2,)
        Variance of one reading of each axis.
    interval_s : float, s
        Report interval.
    """
    whole = [np.concatenate([w.lead_t_s, w.t_s]) for w in windows]
    before = max(int((w.late_s - t[0]) / interval_s) for w, t in zip(windows, whole, strict=True)) + BEFORE
    steps = np.arange(-before, int(AFTER_STOP_S / interval_s) + BEFORE)
    y, end = np.zeros((len(windows), 2, steps.size)), np.zeros((len(windows), 2))
    tells, sign = np.zeros((len(windows), 2), dtype=bool), np.array([w.sign for w in windows])
    for f, window in enumerate(windows):
        t = window.late_s + steps * interval_s
        settled = window.t_s > window.late_s + min(END_S, 0.6 * (window.t_s[-1] - window.late_s))
        for axis in range(2):
            own = np.concatenate([window.lead_y[axis], window.y[axis]])
            own = own - np.median(own[:AT_REST])
            y[f, axis] = np.interp(t, whole[f], own)
            end[f, axis] = np.median(own[window.lead_t_s.size :][settled])
            tells[f, axis] = window.seen[axis].mean() > SEEN_SHARE and not window.why_not_axis[axis]
    tells &= np.abs(end) > SHARE_TO_TELL * np.hypot(*end.T)[:, None]
    return EvenFlicks(
        y=y,
        end=end,
        group=np.stack([2 * axis + (sign[:, axis] < 0) for axis in range(2)], axis=1),
        tells=tells,
        noise_fs=float(np.sqrt(variance.mean())),
        interval_s=interval_s,
        late=before,
    )
