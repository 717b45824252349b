"""The host: late arrivals, polls, stalls, and the brackets that a logger can honestly write down."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray

__all__ = ["Host", "Seen", "watch"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Host:
    """The computer that listens.

    Parameters
    ----------
    style : {"events", "table"}
        A bracketed event for each change of each axis, or one row with one stamp for each report.
    poll_s : float, s
        Interval of the polls.
    jitter_s : float, s
        Mean of the one-sided exponential delay of each report on its way.
    stall_fraction : float
        Chance of a poll to be followed by a stall.
    stall_s : tuple of float, s
        Shortest and longest stall.
    latest_only : bool
        Whether a poll sees only the newest of several waiting reports.
    """

    style: Literal["events", "table"] = "events"
    poll_s: float = 0.0001
    jitter_s: float = 0.00003
    stall_fraction: float = 0.0
    stall_s: tuple[float, float] = (0.002, 0.008)
    latest_only: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Which reports were seen, and the bracket in which each arrived.

    Parameters
    ----------
    which : ndarray, shape (n,)
        Indices of the reports, ascending.
    t_lo_s, t_hi_s : ndarray, shape (n,), s
        Start of the poll before and end of the poll that saw it.
    """

    which: NDArray[np.intp]
    t_lo_s: FloatArray
    t_hi_s: FloatArray


def watch(host: Host, sent_s: FloatArray, rng: np.random.Generator) -> Seen:
    """Return what the host sees of reports sent at sent_s (non-decreasing).

    Parameters
    ----------
    host : Host
        How it polls.
    sent_s : ndarray, shape (n,)
        Instants of sending, s.
    rng : numpy.random.Generator
        Source of its delays.

    Notes
    -----
    Reports stay in order: one that was held up holds up the next. Poll k looks in the middle of its start and end, so
    whatever arrived since the last look lies between the start of poll k-1 and the end of poll k.
    """
    if not sent_s.size:
        return Seen(which=np.empty(0, np.intp), t_lo_s=sent_s, t_hi_s=sent_s)
    arrived = np.maximum.accumulate(sent_s + rng.exponential(host.jitter_s, sent_s.size))
    start_s, end_s = _polls(host, float(arrived[-1]), rng)
    poll = np.searchsorted(0.5 * (start_s + end_s), arrived)
    which = np.arange(sent_s.size, dtype=np.intp)
    if host.latest_only:
        which = which[np.append(np.diff(poll) > 0, True)]
    poll = poll[which]
    return Seen(which=which, t_lo_s=start_s[poll - 1], t_hi_s=end_s[poll])


def _polls(host: Host, until_s: float, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Return starts and ends of polls from before time 0 to beyond until_s."""
    n = math.ceil(1.1 * until_s / host.poll_s) + 20
    steps = host.poll_s * rng.uniform(0.95, 1.05, n)
    if host.stall_fraction > 0.0:
        stalled = rng.random(n) < host.stall_fraction
        steps[stalled] += rng.uniform(*host.stall_s, int(np.count_nonzero(stalled)))
    start_s = np.cumsum(steps) - 3.0 * host.poll_s
    return start_s, start_s + np.minimum(0.1 * host.poll_s, 10e-6)
