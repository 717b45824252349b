"""From the firmware's codes to the rows of a log: report instants, cable or radio, the logging program."""

from __future__ import annotations

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.testing.in_hand.world import Host, Link

__all__ = ["arrivals", "logged_rows", "report_instants"]


def report_instants(duration_s: float, link: Link, rng: np.random.Generator) -> FloatArray:
    """Return the instants at which the device makes its reports, shape (n,), s.

    Parameters
    ----------
    duration_s : float, s
        How long.
    link : Link
        How reports, or sticks, are linked.
    rng : Generator
        Source of all draws.
    """
    interval_s = link.report_s * (1.0 + link.clock_error)
    return np.arange(rng.uniform(1.0, 2.0) * interval_s, duration_s - interval_s, interval_s)


def arrivals(sent_s: FloatArray, link: Link, rng: np.random.Generator) -> tuple[FloatArray, np.ndarray]:
    """Return when reports reach the host, s, and which of them do; retries delay, they do not reorder.

    Parameters
    ----------
    sent_s : ndarray, shape (n,)
        Instants of sending, s.
    link : Link
        Losses and retries.
    rng : numpy.random.Generator
        Source of both.
    """
    tries = rng.geometric(1.0 - link.retry_chance, sent_s.size) - 1
    arrives = (rng.random(sent_s.size) >= link.loss_chance) & (tries <= 4)
    return np.maximum.accumulate(sent_s + tries * link.retry_s), arrives


def _stamped(at_s: FloatArray, host: Host, rng: np.random.Generator) -> FloatArray:
    stamped = at_s + rng.exponential(host.late_s, at_s.size)
    stalls = rng.poisson(host.stall_chance * at_s[-1])
    for begin in rng.uniform(0.0, at_s[-1], stalls):
        inside = (stamped > begin) & (stamped < begin + host.stall_s)
        stamped[inside] = begin + host.stall_s
    return np.maximum.accumulate(stamped)


def logged_rows(
    arrived_s: FloatArray, codes: np.ndarray, host: Host, rng: np.random.Generator
) -> tuple[FloatArray, np.ndarray]:
    """Return time stamps, s, and which report each row shows.

    Parameters
    ----------
    arrived_s : ndarray, shape (n,), s
        When each report arrived.
    codes : ndarray, shape (n, 2)
        Its codes.
    host : Host
        How it logs.
    rng : numpy.random.Generator
        Source of the stamps' scatter.
    """
    if host.style == "poller":
        polls_s = _stamped(np.arange(arrived_s[0] + host.poll_s, arrived_s[-1], host.poll_s), host, rng)
        return polls_s, np.searchsorted(arrived_s, polls_s, side="right") - 1
    rows = np.arange(arrived_s.size)
    stamps_s = _stamped(arrived_s, host, rng)
    if host.style == "changes":
        rows = np.concatenate([[0], np.flatnonzero(np.any(np.diff(codes, axis=0) != 0, axis=1)) + 1])
    return stamps_s[rows], rows
