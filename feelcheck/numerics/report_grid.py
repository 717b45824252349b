"""The regular clock behind time stamps that come late, in part, and never early."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray
from feelcheck.numerics.combs import comb_spectrum, refine_spacing
from feelcheck.numerics.descriptive import robust_sd
from feelcheck.numerics.numbers import (
    BLOCK_STAMPS,
    EARLY_SHARE,
    FEWEST_BLOCKS,
    FEWEST_STAMPS,
    HUBER_SDS,
    LEAST_PHASE_SPREAD,
    LONGEST_BURST_S,
    LONGEST_OF_USUAL,
    LONGEST_SILENCE_S,
    LONGEST_WINDOW_S,
    MOST_ALIKE,
    N_WINDOWS,
    NEAR_BEST,
    SAME_RHYTHM,
    SHORTEST_WINDOW_S,
    SMALLEST_BLOCK,
    WINDOW_STAMPS,
)

__all__ = ["GridFit", "common_multiple", "densest_windows", "fit_grid", "fit_stretches", "stamp_step"]

STEPS_S = (0.02, 0.01, 0.005, 0.002, 0.001, 0.0005, 0.0002, 0.0001)
"""Steps that loggers round to; a finer one does no harm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GridFit:
    """A report clock fitted to stamps.

    Parameters
    ----------
    interval_s, u_s : float, s
        Interval and its standard uncertainty.
    coherence : float
        Length of the mean phase vector in short windows, 0 to 1.
    index : ndarray of int, shape (n,)
        Number of the report slot of each stamp, increasing; a repeated report shares its slot.
    t_s : ndarray, shape (n,), s
        Instants of the slots, earliest plausible arrival.
    late_s : ndarray, shape (n,), s
        Stamp minus slot instant; stamps moved back in a burst keep their own lateness.
    """

    interval_s: float
    u_s: float
    coherence: float
    index: NDArray[np.int64]
    t_s: FloatArray
    late_s: FloatArray


def common_multiple(steps: FloatArray, candidates: Sequence[int], most_other: float) -> int:
    """Return the first candidate that nearly all steps are whole multiples of; 1 if there is none.

    A few late stamps make a fraction of the true interval fit best; the steps give that away.

    Parameters
    ----------
    steps : ndarray, shape (n,)
        Whole numbers of intervals between stamps.
    candidates : sequence of int
        What to look for, the largest first.
    most_other : float
        Share of steps that may be no multiples.

    Examples
    --------
    >>> common_multiple(np.array([3.0, 6.0, 3.0, 3.0]), (3, 2), 0.1)
    3
    """
    return next((k for k in candidates if float(np.mean(steps % k != 0)) < most_other), 1)


def stamp_step(t_s: FloatArray) -> float:
    """Return the step to which a logger rounded its stamps, 0 where there is none of 0.1 ms or more.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
        Time stamps, s.

    Examples
    --------
    >>> stamp_step(np.array([0.001, 0.004, 0.012, 0.013, 0.021]))
    0.001
    """
    middle = t_s.size // 2
    since = np.concatenate([t_s[:1000], t_s[middle : middle + 1000]]) - t_s[0]
    for step_s in STEPS_S:
        ratio = since / step_s
        if np.all(np.abs(ratio - np.rint(ratio)) < 1e-3 + 1e-9 * ratio):
            return step_s
    return 0.0


def densest_windows(t_s: FloatArray, window_s: float, n_windows: int = N_WINDOWS) -> list[FloatArray]:
    """Return the stamps of the stretches in which most of them fall, at most n_windows groups.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
        Time stamps, non-decreasing, s.
    window_s : float
        Length of a stretch, s.
    n_windows : int, optional
        Most groups wanted.
    """
    number = ((t_s - t_s[0]) / window_s).astype(np.int64)
    first = np.flatnonzero(np.diff(number, prepend=-1))
    count = np.diff(first, append=t_s.size)
    chosen = np.argsort(-count, kind="stable")[:n_windows]
    return [t_s[first[k] : first[k] + count[k]] for k in sorted(chosen.tolist()) if count[k] > 3]


def _search(t_s: FloatArray, shortest_s: float) -> tuple[float, float, list[FloatArray]] | None:
    """Return the coherence period, its coherence, and the windows used."""
    apart = np.diff(t_s)
    apart = apart[apart > 0]
    if apart.size < 8:
        return None
    guess_s = float(np.median(np.concatenate([np.diff(w) for w in densest_windows(t_s, 40 * float(np.median(apart)))])))
    window_s = float(np.clip(WINDOW_STAMPS * guess_s, SHORTEST_WINDOW_S, max(LONGEST_WINDOW_S, 24 * guess_s)))
    windows = densest_windows(t_s, window_s)
    least_s = max(guess_s / 8, shortest_s)
    if not windows or least_s >= LONGEST_OF_USUAL * guess_s:
        return None
    frequency, power = comb_spectrum(windows, least_s, LONGEST_OF_USUAL * guess_s)
    if frequency.size < 3:
        return None
    inner = power[1:-1]
    peaks = 1 + np.flatnonzero((inner >= power[:-2]) & (inner >= power[2:]) & (inner >= NEAR_BEST**2 * power.max()))
    # whole fractions of the interval fit the stamps as well as it does: the longest period that fits is the clock
    best = int(peaks[0]) if peaks.size else int(np.argmax(power))
    n = sum(w.size for w in windows)
    # each window has a phase of its own, which fits something in any stamps
    chance = len(windows) / n
    coherence = math.sqrt(max(float(power[best]) / n - chance, 0.0))
    return 1.0 / float(frequency[best]), coherence, windows


def _phase_line(t_s: FloatArray, interval_s: float) -> tuple[float, FloatArray, float]:
    """Return a better interval, each stamp's smooth phase (s), and the standard uncertainty of the interval (s).

    Phases are averaged as vectors over blocks of stamps and unwrapped from block to block, so that a late stamp moves
    nothing and no slot number has to be known.
    """
    n_blocks = max(t_s.size // BLOCK_STAMPS, min(FEWEST_BLOCKS, t_s.size // SMALLEST_BLOCK), 3)
    since = t_s - t_s[0]
    vector = np.exp(2j * np.pi * np.mod(since / interval_s, 1.0))
    edges = np.linspace(0, t_s.size, n_blocks + 1).astype(np.int64)[:-1]
    size = np.diff(edges, append=t_s.size)
    mean = np.add.reduceat(vector, edges) / size
    when = np.add.reduceat(since, edges) / size
    cycles = np.unwrap(np.angle(mean)) / (2 * np.pi)
    weight = size * np.abs(mean) ** 2 + 1e-9
    slope, u_slope = _line(when, cycles, weight)
    better_s = interval_s / (1.0 - slope * interval_s)
    return better_s, np.interp(since, when, cycles) * interval_s, better_s**2 * u_slope


def _line(x: FloatArray, y: FloatArray, weight: FloatArray) -> tuple[float, float]:
    """Return the slope by Huber's weights and its standard uncertainty, with neighbours' residuals alike or not."""
    w = weight.copy()
    slope, scale, left = 0.0, 0.0, np.zeros(x.size)
    for _ in range(6):
        mx, my = np.average(x, weights=w), np.average(y, weights=w)
        slope = float(np.sum(w * (x - mx) * (y - my)) / max(float(np.sum(w * (x - mx) ** 2)), 1e-300))
        left = y - my - slope * (x - mx)
        scale = HUBER_SDS * max(robust_sd(left, 0.0), 1e-6)
        w = weight * np.minimum(1.0, scale / np.maximum(np.abs(left), 1e-12))
    return slope, _u_of_slope(x, np.clip(left, -scale, scale), weight, float(np.mean(np.abs(left) < scale)))


def _u_of_slope(x: FloatArray, left: FloatArray, weight: FloatArray, within: float) -> float:
    """Return the standard uncertainty of a line's slope from residuals that are clipped except for a share of them.

    Huber's variance with n - 2 degrees of freedom. Residuals that go with those before them carry less than their
    number: one autoregressive step, whose coefficient a fitted line makes too small by about 4 / n.
    """
    n = x.size
    weight = weight / weight.mean()
    square = float(np.sum(weight * left**2)) / ((n - 2) * max(within, 0.5) ** 2) + LEAST_PHASE_SPREAD**2
    alike = float(np.sum(left[1:] * left[:-1]) / max(float(np.sum(left**2)), 1e-300)) + 4.0 / n
    alike = min(max(alike, 0.0), MOST_ALIKE)
    spread = float(np.sum(weight * (x - np.average(x, weights=weight)) ** 2))
    return math.sqrt(square * (1 + alike) / (1 - alike) / max(spread, 1e-300))


def _surplus(index: NDArray[np.int64], repeats: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which repeats find no free slot between their own and the one of the stamps before."""
    step = np.diff(index, prepend=index[0] - 1)
    group = np.cumsum(step != 0) - 1
    first = np.flatnonzero(step != 0)
    free = np.maximum(step[first] - 1, 0)
    surplus = np.maximum(np.bincount(group) - 1 - free, 0)
    tied = repeats & (step == 0)
    before = np.cumsum(tied)
    turn = before - (before - tied)[first][group]
    return np.asarray(tied & (turn <= surplus[group]))


def _spread_back(index: NDArray[np.int64], repeats: NDArray[np.bool_], most: int) -> NDArray[np.int64]:
    """Move stamps that share a slot back to the free slots before it: they waited for the last of them.

    A repeat of the report before it shares that one's slot where there is no free one; nothing moves by more than
    `most` slots.
    """
    again = _surplus(index, repeats)
    order = np.cumsum(~again) - 1
    first = index[~again]
    number = np.arange(first.size)
    moved = np.minimum.accumulate((first - number)[::-1])[::-1] + number
    moved = np.maximum.accumulate(np.where(first - moved > most, first, moved))
    return np.asarray(moved[order])


def fit_grid(t_s: FloatArray, *, shortest_s: float = 0.0, repeats: NDArray[np.bool_] | None = None) -> GridFit | None:
    """Return the regular grid behind stamps, or None where there are too few.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Stamps, non-decreasing; equal ones are reports that were handed over together.
    shortest_s : float, s
        Shortest interval looked for.
    repeats : ndarray of bool, shape (n,), optional
        Which stamps belong to a report that says the same as the one before it.

    Notes
    -----
    1. The period is the lowest frequency within 3 % of the highest coherence, summed over short, dense windows whose
       phases are free. 2. The phase is followed block by block and unwrapped, the interval refined by a robust line
       through it, whose residuals give its uncertainty. 3. Every stamp gets the number of its nearest slot; the grid is
       moved to the 5 % quantile of the lateness, since stamps are late and never early. A hard lower envelope would
       break on one slipped number.

    References
    ----------
    S. B. Moon, P. Skelly, D. Towsley, Estimation and removal of clock skew from network delay measurements,
    INFOCOM 1999 (one-sided delays; title and year as quoted by others).

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> slots = np.flatnonzero(rng.random(4000) < 0.5)
    >>> fit = fit_grid(0.001 * slots + rng.exponential(3e-5, slots.size))
    >>> round(1e3 * fit.interval_s, 4)
    1.0
    """
    if t_s.size < FEWEST_STAMPS:
        return None
    alone = t_s[np.diff(t_s, prepend=-math.inf) > 0]
    found = _search(alone, shortest_s)
    if found is None:
        return None
    interval_s, coherence, windows = found
    interval_s = refine_spacing(windows, interval_s)[0]
    for _ in range(2):
        interval_s, _, _ = _phase_line(alone, interval_s)
    _, phase_s, u_s = _phase_line(alone, interval_s)
    since = t_s - t_s[0]
    phase_s = np.interp(t_s, alone, phase_s)
    nearest = np.rint((since - phase_s) / interval_s).astype(np.int64)
    if repeats is None:
        repeats = np.zeros(t_s.size, dtype=bool)
    index = _spread_back(nearest, repeats, 8 + math.ceil(LONGEST_BURST_S / interval_s))
    late_s = since - phase_s - interval_s * nearest
    early_s = float(np.quantile(late_s, EARLY_SHARE))
    return GridFit(
        interval_s=interval_s,
        u_s=u_s,
        coherence=coherence,
        index=index,
        t_s=np.maximum.accumulate(t_s[0] + phase_s + interval_s * index + early_s),
        late_s=late_s - early_s,
    )


def fit_stretches(
    t_s: FloatArray, *, shortest_s: float = 0.0, repeats: NDArray[np.bool_] | None = None
) -> GridFit | None:
    """Return the regular grid behind stamps with long silences between them, each stretch with a phase of its own.

    The interval is the mean of the stretches' intervals, weighed by
    their uncertainties; a stretch too short for a fit, or of another rhythm, keeps its stamps.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
        Time stamps, non-decreasing, s.
    shortest_s : float, optional
        No shorter interval is considered, s.
    repeats : ndarray, shape (n,), optional
        Rows that repeat the one before.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> t_s = 0.001 * np.arange(4000) + rng.exponential(3e-5, 4000)
    >>> fit = fit_stretches(np.r_[t_s, t_s + 86400.0003])
    >>> round(1e3 * fit.interval_s, 3)
    1.0
    """
    cuts = np.flatnonzero(np.diff(t_s) > LONGEST_SILENCE_S) + 1
    if not cuts.size:
        return fit_grid(t_s, shortest_s=shortest_s, repeats=repeats)
    parts = [slice(a, b) for a, b in itertools.pairwise([0, *cuts.tolist(), t_s.size])]
    alike = np.zeros(t_s.size, dtype=bool) if repeats is None else repeats
    fits = [fit_grid(t_s[part], shortest_s=shortest_s, repeats=alike[part]) for part in parts]
    best = max((fit for fit in fits if fit is not None), key=lambda fit: fit.index.size, default=None)
    if best is None:
        return None
    used = [
        fit if fit is not None and abs(fit.interval_s / best.interval_s - 1) < SAME_RHYTHM else None for fit in fits
    ]
    return _joined(t_s, parts, used)


def _joined(t_s: FloatArray, parts: list[slice], fits: list[GridFit | None]) -> GridFit:
    good = [fit for fit in fits if fit is not None]
    weight = np.array([fit.u_s**-2 for fit in good])
    size = np.array([fit.index.size for fit in good], dtype=np.float64)
    interval_s = float(np.average([fit.interval_s for fit in good], weights=weight))
    index, slots_s, late_s = np.empty(t_s.size, dtype=np.int64), t_s.copy(), np.zeros(t_s.size)
    ahead = 0
    for part, fit in zip(parts, fits, strict=True):
        own = np.rint((t_s[part] - t_s[part.start]) / interval_s).astype(np.int64)
        if fit is not None:
            own, slots_s[part], late_s[part] = fit.index - fit.index[0], fit.t_s, fit.late_s
        if part.start:
            ahead = int(index[part.start - 1]) + max(round((t_s[part.start] - t_s[part.start - 1]) / interval_s), 1)
        index[part] = own + ahead
    return GridFit(
        interval_s=interval_s,
        u_s=float(weight.sum() ** -0.5),
        coherence=float(np.average([fit.coherence for fit in good], weights=size)),
        index=index,
        t_s=np.maximum.accumulate(slots_s),
        late_s=late_s,
    )
