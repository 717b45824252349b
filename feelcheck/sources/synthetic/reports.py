"""The reports: when they leave, which are silent, lost, doubled or sent in a burst."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray

__all__ = ["Reports", "arrivals", "report_instants", "surviving"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reports:
    """The device's report stream.

    Parameters
    ----------
    interval_s : float, s
        Nominal interval.
    clock_error_ppm : float
        How much longer the true interval is, in millionths.
    on_change : bool
        Whether a report equal to the one before is not sent.
    loss_fraction, duplicate_fraction, burst_fraction : float
        Chance of a report to be lost, to be sent twice, to start a burst.
    burst_n : int
        How many successive reports arrive together at the end of a burst.
    """

    interval_s: float = 0.001
    clock_error_ppm: float = 0.0
    on_change: bool = False
    loss_fraction: float = 0.0
    duplicate_fraction: float = 0.0
    burst_fraction: float = 0.0
    burst_n: int = 4

    @property
    def true_interval_s(self) -> float:
        """The interval on a true clock, s."""
        return self.interval_s * (1.0 + 1e-6 * self.clock_error_ppm)


def report_instants(reports: Reports, duration_s: float, rng: np.random.Generator) -> FloatArray:
    """Return the instants of all report slots from a random phase on, shape (n,), s.

    Parameters
    ----------
    reports : Reports
        When and how the pad reports.
    duration_s : float, s
        How long.
    rng : Generator
        Source of all draws.
    """
    interval_s = reports.true_interval_s
    first_s = rng.uniform(0.0, interval_s)
    n = max(1, math.floor((duration_s - first_s) / interval_s))
    return first_s + interval_s * np.arange(n, dtype=np.float64)


def surviving(
    reports: Reports, codes: NDArray[np.int64], rng: np.random.Generator, pressed: NDArray[np.intp] | None = None
) -> NDArray[np.intp]:
    """Return which report slots reach the host, doubled ones twice, in order.

    Parameters
    ----------
    reports : Reports
        The stream's habits.
    codes : ndarray, shape (n, n_axes)
        What each slot would say.
    rng : Generator
        Draws losses and duplicates.
    pressed : ndarray, shape (k,), optional
        Slots in which a button changes, so that they are never silent.
    """
    kept = np.ones(codes.shape[0], dtype=bool)
    if reports.on_change:
        kept[1:] = np.any(codes[1:] != codes[:-1], axis=1)
        if pressed is not None:
            kept[pressed] = True
    if reports.loss_fraction > 0.0:
        kept &= rng.random(kept.size) >= reports.loss_fraction
        kept[0] = True
    times = kept.astype(np.intp)
    if reports.duplicate_fraction > 0.0:
        times += kept & (rng.random(kept.size) < reports.duplicate_fraction)
    return np.repeat(np.arange(kept.size, dtype=np.intp), times)


def arrivals(reports: Reports, t_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return when reports made at t_s are sent: at once, or all together with the last of a burst, shape (n,), s.

    Parameters
    ----------
    reports : Reports
        How reports are sent.
    t_s : ndarray, shape (n,)
        Instants at which they were made, s.
    rng : numpy.random.Generator
        Source of the bursts.
    """
    if reports.burst_fraction <= 0.0:
        return t_s
    sent = t_s.copy()
    for first in np.flatnonzero(rng.random(t_s.size) < reports.burst_fraction).tolist():
        last = min(first + reports.burst_n, t_s.size) - 1
        sent[first : last + 1] = np.maximum(sent[first : last + 1], t_s[last])
    return np.maximum.accumulate(sent)
