"""Lay flick windows side by side for the fit, and weigh their readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.batch import N_GROUPS, Batch
from feelcheck.hand.gate_stop.numbers import MOTION_MISFIT, POST_S, RUN_TELLS, TREMBLE_FS_PER_S, TREMBLES_FROM_S
from feelcheck.hand.gate_stop.windows import FlickWindow
from feelcheck.model import FloatArray
from feelcheck.numerics.runs import runs_of_equal

__all__ = ["first_contacts", "lay_out", "subset", "trimmed", "weigh"]

NEGLIGIBLE = 1e-3
"""Weight over the largest below which the readings that lead a window are cut off: it saves time, nothing else."""

N_PLAIN = 14
GROWTH = 1.13
"""Readings after contact that are taken one by one; then means over blocks, each longer than the last by this ratio,
which hold all that a slow end tells and take a fourth of the time."""


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


def _row(
    window: FlickWindow, axis: int, variance: float, scatter_s: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    stop = int(np.searchsorted(window.t_s, window.late_s + POST_S))
    t, y, seen = window.t_s[:stop], window.y[axis, :stop], window.seen[axis, :stop]
    starts = _blocks(t.size, int(np.searchsorted(t, window.late_s)))
    count = np.diff(np.append(starts, t.size))
    whole = np.logical_and.reduceat(seen, starts)
    return (
        np.add.reduceat(t, starts) / count - window.late_s,
        np.add.reduceat(y, starts) / count,
        np.where(whole, np.add.reduceat(_news(y) / (variance + (_slope(t, y) * scatter_s) ** 2), starts), 0.0),
    )


def _slope(t_s: FloatArray, y: FloatArray) -> FloatArray:
    """Return the slope at each reading over two readings on either side, shape (n,), 1/s."""
    last = t_s.size - 1
    before, after = (np.clip(np.arange(t_s.size) + step, 0, last) for step in (-2, 2))
    return np.asarray((y[after] - y[before]) / np.maximum(t_s[after] - t_s[before], 1e-9))


def _news(y: FloatArray) -> FloatArray:
    """Return how many independent readings each reading counts for, shape (n,).

    Notes
    -----
    Within a run of equal codes the error of rounding stays the same, so a run tells no more than `RUN_TELLS` readings.
    """
    _, length = runs_of_equal(y)
    return np.asarray(np.repeat(np.minimum(1.0, RUN_TELLS / length), length))


def lay_out(
    windows: Sequence[FlickWindow], variance: FloatArray, interval_s: float, scatter_s: float = 0.0
) -> tuple[Batch, FloatArray]:
    """Return the flicks as one batch, and their onsets.

    Parameters
    ----------
    windows : sequence of FlickWindow
        Those with something to say.
    variance : ndarray, shape (2,)
        Variance of one reading of each axis.
    interval_s : float, s
        Report interval.
    scatter_s : float, s
        Standard deviation of a time stamp; it counts as error of the reading where the stick moves.

    Returns
    -------
    Batch
        Times count from each flick's `late_s`; weights are 1 / variance without the misfit of the motion, 0 for an axis
        that does not answer.
    ndarray, shape (F,), s
        Onset of each flick on the same clock.
    """
    cut = [_row(window, axis, float(variance[axis]), scatter_s) for window in windows for axis in range(2)]
    n = max(len(t) for t, _, _ in cut)
    t, y, weight = (np.zeros((len(cut), n)) for _ in range(3))
    for k, (row_t, row_y, row_weight) in enumerate(cut):
        size = len(row_t)
        t[k, :size], t[k, size:] = row_t, row_t[-1]
        y[k, :size], y[k, size:] = row_y, row_y[-1]
        if not windows[k // 2].why_not_axis[k % 2]:
            weight[k, :size] = row_weight
    onset = np.array([window.onset_s - window.late_s for window in windows])
    angle = np.radians([window.direction_deg for window in windows])
    batch = Batch(
        t_s=t,
        y=y,
        weight=weight,
        group=np.array([2 * axis + (window.sign[axis] < 0) for window in windows for axis in range(2)]),
        angle_rad=np.arctan2(np.abs(np.sin(angle)), np.abs(np.cos(angle))),
        scale_s=np.repeat(np.maximum(-onset, 4 * interval_s), 2),
        interval_s=interval_s,
    )
    return batch, onset


def first_contacts(batch: Batch, tau_s: FloatArray, level: float = 0.96) -> FloatArray:
    """Return a first guess of the contact instants for time constants: where y + tau dy/dt has come to rest.

    Parameters
    ----------
    batch : Batch
        The windows.
    tau_s : ndarray, shape (2 F,), s
        The time constants of the rows.
    level : float
        How much of the travel counts as there.

    Returns
    -------
    ndarray, shape (F,), s
        The earlier of the axes of each flick.
    """
    k = int(np.clip(round(0.15 * float(np.median(tau_s)) / batch.interval_s), 1, 10))
    slope = np.zeros_like(batch.y)
    slope[:, k:-k] = (batch.y[:, 2 * k :] - batch.y[:, : -2 * k]) / np.maximum(
        batch.t_s[:, 2 * k :] - batch.t_s[:, : -2 * k], 1e-9
    )
    row = np.arange(len(batch.y))
    start, end = batch.y[:, :1], batch.y[:, -1:]
    reached = batch.y + tau_s[:, None] * slope - start > level * (end - start)
    first = batch.t_s[row, np.argmax(reached, axis=1)]
    first = np.where(np.any(batch.weight > 0, axis=1), first, np.inf)
    return np.minimum(first[0::2], first[1::2])


def weigh(batch: Batch, plain: FloatArray, contact_s: FloatArray, onset_s: FloatArray, trust: FloatArray) -> Batch:
    """Return the batch with weights that fall with the distance from contact.

    Parameters
    ----------
    batch : Batch
        The windows.
    plain : ndarray, shape (2 F, n)
        1 / variance of the readings alone.
    contact_s, onset_s : ndarray, shape (F,), s
        Contact instants and onsets.
    trust : ndarray, shape (F,)
        Factor of each flick.

    Notes
    -----
    The powers before contact follow the hand to fourth order only; the remainder grows with the fifth power of the
    distance in units of the whole movement. Long after contact the hand trembles and yields by itself.
    """
    s = batch.t_s - np.repeat(contact_s, 2)[:, None]
    length = np.repeat(np.maximum(contact_s - onset_s, 4 * batch.interval_s), 2)[:, None]
    misfit = MOTION_MISFIT * (np.maximum(-s, 0.0) / (1.2 * length)) ** 5
    misfit = misfit + TREMBLE_FS_PER_S * np.maximum(s - TREMBLES_FROM_S, 0.0)
    with np.errstate(divide="ignore"):
        weight = np.where(plain > 0, np.repeat(trust, 2)[:, None] / (1.0 / plain + misfit**2), 0.0)
    return replace(batch, weight=weight, scale_s=length[:, 0])


def subset(batch: Batch, onset_s: FloatArray, n_flicks: int) -> NDArray[np.intp]:
    """Return which flicks to look at first: the fastest, as many for every group where there are.

    Parameters
    ----------
    batch : Batch
        All windows.
    onset_s : ndarray, shape (F,), s
        Onsets; the shorter the movement the more it tells.
    n_flicks : int
        How many flicks to keep for each group.
    """
    kept: set[int] = set()
    for g in range(N_GROUPS):
        flicks = batch.used_rows(g) // 2
        kept.update(flicks[np.argsort(-onset_s[flicks], kind="stable")][:n_flicks].tolist())
    return np.array(sorted(kept))


def trimmed(batch: Batch, plain: FloatArray) -> tuple[Batch, FloatArray]:
    """Return the batch and the plain weights without the leading readings that no longer count.

    Parameters
    ----------
    batch : Batch
        From `weigh`.
    plain : ndarray, shape (2 F, n)
        1 / variance of the readings alone.
    """
    counts = (batch.weight > NEGLIGIBLE * batch.weight.max(axis=1, keepdims=True)) & (batch.weight > 0)
    counts[~counts.any(axis=1), -1] = True
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
