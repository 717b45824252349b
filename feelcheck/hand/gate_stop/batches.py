"""Lay flick windows side by side for the fit, and weigh their readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.joint_fit import Batch
from feelcheck.hand.gate_stop.windows import FlickWindow
from feelcheck.model import FloatArray

__all__ = ["GROUPS", "first_contacts", "lay_out", "subset", "trimmed", "weigh"]

GROUPS = ((0, 1), (0, -1), (1, 1), (1, -1))
"""(axis, sign of the code's change) of each group: x rising, x falling, y rising, y falling."""

TREMBLE_FS_PER_S = 0.02
QUIET_S = 0.04
POST_S = 0.35
NEGLIGIBLE = 1e-3
N_PLAIN = 14
GROWTH = 1.13
MOTION_MISFIT = 3.0
"""Fifth-order remainder of a minimum-jerk movement, in units of its travel: 6 times about half, rounded."""


def _blocks(n: int, late: int) -> NDArray[np.int64]:
    """Return starts of blocks: single readings up to N_PLAIN after `late`, then growing ones."""
    single = min(n, late + N_PLAIN)
    starts = list(range(single))
    at, width = float(single), 1.0
    while at < n:
        starts.append(int(at))
        width *= GROWTH
        at = max(at + 1, at + width)
    return np.array(sorted(set(starts)))


def _row(window: FlickWindow, axis: int, variance: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    stop = int(np.searchsorted(window.t_s, window.late_s + POST_S))
    t, y, seen = window.t_s[:stop], window.y[axis, :stop], window.seen[axis, :stop]
    starts = _blocks(t.size, int(np.searchsorted(t, window.late_s)))
    count = np.diff(np.append(starts, t.size))
    whole = np.logical_and.reduceat(seen, starts)
    return (
        np.add.reduceat(t, starts) / count - window.late_s,
        np.add.reduceat(y, starts) / count,
        np.where(whole, count / variance, 0.0),
    )


def lay_out(
    windows: Sequence[FlickWindow], variance: FloatArray, interval_s: float
) -> tuple[Batch, FloatArray, list[tuple[int, int]]]:
    """Return all usable rows as one batch, the onsets and which (flick, axis) each row is.

    Parameters
    ----------
    windows : sequence of FlickWindow
        Those with something to say.
    variance : ndarray, shape (2,)
        Variance of one reading of each axis.
    interval_s : float, s
        Report interval.

    Returns
    -------
    Batch
        Times count from each flick's `late_s`; weights are 1 / variance without the misfit of the motion.
    onset_s : ndarray, shape (B,), s
        Onset of each row's flick on the same clock.
    rows : list of (int, int)
        Position in `windows`, and axis.
    """
    rows = [
        (i, axis)
        for i, window in enumerate(windows)
        for axis in range(2)
        if not window.why_not_axis[axis] and not window.why_not
    ]
    cut = [_row(windows[i], axis, float(variance[axis])) for i, axis in rows]
    n = max(len(t) for t, _, _ in cut)
    t, y, weight = (np.zeros((len(cut), n)) for _ in range(3))
    for k, (row_t, row_y, row_weight) in enumerate(cut):
        size = len(row_t)
        t[k, :size], t[k, size:] = row_t, row_t[-1]
        y[k, :size], y[k, size:] = row_y, row_y[-1]
        weight[k, :size] = row_weight
    group_of = {key: g for g, key in enumerate(GROUPS)}
    group = np.array([group_of[axis, windows[i].sign[axis]] for i, axis in rows])
    onset = np.array([windows[i].onset_s - windows[i].late_s for i, _ in rows])
    contact = np.unique([i for i, _ in rows], return_inverse=True)[1]
    batch = Batch(
        t_s=t,
        y=y,
        weight=weight,
        contact=contact,
        group=group,
        scale_s=np.maximum(-onset, 4 * interval_s),
        interval_s=interval_s,
    )
    return batch, onset, rows


def first_contacts(batch: Batch, tau_s: float) -> FloatArray:
    """Return a first guess of the contact instants for a time constant: where y + tau dy/dt has come to rest.

    Returns
    -------
    ndarray, shape (C,), s
        The earlier of the axes of each flick.
    """
    k = int(np.clip(round(0.15 * tau_s / batch.interval_s), 1, 10))
    slope = np.zeros_like(batch.y)
    slope[:, k:-k] = (batch.y[:, 2 * k :] - batch.y[:, : -2 * k]) / np.maximum(
        batch.t_s[:, 2 * k :] - batch.t_s[:, : -2 * k], 1e-9
    )
    row = np.arange(len(batch.y))
    start, end = batch.y[:, :1], batch.y[:, -1:]
    reached = (batch.y + tau_s * slope - start) / (end - start) > 0.96
    first = batch.t_s[row, np.argmax(reached, axis=1)]
    contact = np.full(int(batch.contact.max()) + 1, np.inf)
    np.minimum.at(contact, batch.contact, first)
    return contact


def weigh(batch: Batch, plain: FloatArray, contact_s: FloatArray, onset_s: FloatArray, trust: FloatArray) -> Batch:
    """Return the batch with weights that fall with the distance from contact.

    Parameters
    ----------
    batch : Batch
        The windows.
    plain : ndarray, shape (B, n)
        1 / variance of the readings alone.
    contact_s : ndarray, shape (C,), s
        Contact instants.
    onset_s : ndarray, shape (B,), s
        Onsets.
    trust : ndarray, shape (B,)
        Factor of each row.

    Notes
    -----
    The powers before contact follow the hand to fourth order only; the remainder grows with the fifth power of the
    distance in units of the whole movement. Long after contact the hand trembles and yields by itself.
    """
    s = batch.t_s - contact_s[batch.contact][:, None]
    length = np.maximum(contact_s[batch.contact] - onset_s, 4 * batch.interval_s)[:, None]
    misfit = MOTION_MISFIT * (np.maximum(-s, 0.0) / (1.2 * length)) ** 5
    misfit = misfit + TREMBLE_FS_PER_S * np.maximum(s - QUIET_S, 0.0)
    with np.errstate(divide="ignore"):
        weight = np.where(plain > 0, trust[:, None] / (1.0 / plain + misfit**2), 0.0)
    return replace(batch, weight=weight, scale_s=length[:, 0])


def subset(batch: Batch, onset_s: FloatArray, n_flicks: int) -> tuple[Batch, FloatArray, NDArray[np.intp]]:
    """Return the rows of the fastest flicks, so that every group keeps about as many.

    Parameters
    ----------
    batch : Batch
        All windows.
    onset_s : ndarray, shape (B,), s
        Onsets; the shorter the movement the more it tells.
    n_flicks : int
        How many flicks to keep for each two groups.

    Returns
    -------
    Batch, ndarray, ndarray
        The windows kept, their onsets, their row numbers.
    """
    order = np.argsort(-onset_s, kind="stable")
    rank = np.empty(len(order), dtype=np.int64)
    for g in np.unique(batch.group):
        own = order[batch.group[order] == g]
        rank[own] = np.arange(own.size)
    keep_flicks = np.unique(batch.contact[rank < n_flicks])
    rows = np.flatnonzero(np.isin(batch.contact, keep_flicks))
    return _rows_of(batch, rows), onset_s[rows], rows


def _rows_of(batch: Batch, rows: NDArray[np.intp]) -> Batch:
    return replace(
        batch,
        t_s=batch.t_s[rows],
        y=batch.y[rows],
        weight=batch.weight[rows],
        contact=np.unique(batch.contact[rows], return_inverse=True)[1],
        group=batch.group[rows],
        scale_s=batch.scale_s[rows],
    )


def trimmed(batch: Batch, plain: FloatArray) -> tuple[Batch, FloatArray]:
    """Return the batch and the plain weights without the leading readings that no longer count.

    Parameters
    ----------
    batch : Batch
        From `weigh`.
    plain : ndarray, shape (B, n)
        1 / variance of the readings alone.
    """
    counts = batch.weight > NEGLIGIBLE * batch.weight.max(axis=1, keepdims=True)
    first = np.argmax(counts, axis=1)
    width = int((batch.y.shape[1] - first).max())
    index = np.minimum(first[:, None] + np.arange(width), batch.y.shape[1] - 1)
    inside = first[:, None] + np.arange(width) < batch.y.shape[1]
    row = np.arange(len(first))[:, None]
    used = np.flatnonzero(np.any(inside & (plain[row, index] > 0), axis=0))
    stop = int(used[-1]) + 1 if used.size else width
    index, inside = index[:, :stop], inside[:, :stop]
    cut = replace(
        batch, t_s=batch.t_s[row, index], y=batch.y[row, index], weight=np.where(inside, batch.weight[row, index], 0.0)
    )
    return cut, np.where(inside, plain[row, index], 0.0)
