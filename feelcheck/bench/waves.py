"""Tell a wave that never rests (a sine, a sweep, a triangle) from steps, settled or turned back early."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from feelcheck.bench.edges import Edge
from feelcheck.bench.levels import Trace1D, block_average
from feelcheck.bench.numbers import (
    FULLEST,
    LEANING,
    LEANING_NOISY,
    LEANING_SWEPT,
    LOBE_SAMPLES,
    MOST_POINTS,
    MOVING_SHARE,
    SURE_COUNT,
    SWEPT,
)
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import FloatArray

__all__ = ["is_wave", "refuse_wave"]


def is_wave(trace: Trace1D, edges: Sequence[Edge]) -> bool:
    """Return whether a channel swings evenly without rest, so that none of its edges is a step.

    Parameters
    ----------
    trace : Trace1D
        The channel.
    edges : sequence of Edge
        Its changes of state.

    Notes
    -----
    Around each extreme the part beyond half-way is looked at. A pole answers a step fastest at once and ever more
    slowly, so that however early it is turned back, its extremes come late: it climbs to them for longer than it leaves
    them. A sine and a triangle are mirrored in each extreme. Both, but no state that is held, are pointed: their mean
    height tells. In a sweep the extremes come late or early by the steady change of pace, and more is allowed.

    Examples
    --------
    >>> from feelcheck.bench.edges import find_edges
    >>> from feelcheck.bench.levels import prepare
    >>> t = np.linspace(0.0, 1.0, 2000)
    >>> sine = prepare(t, np.sin(20 * t))
    >>> is_wave(sine, find_edges(sine))
    True
    """
    size = max(1, trace.t_s.size // MOST_POINTS)
    t, y = block_average(trace.t_s, size), block_average(trace.values, size)
    lobes = [_lobe(t, y, before, after) for before, after in itertools.pairwise(edges)]
    seen = [lobe for lobe in lobes if lobe is not None]
    if not seen or len(seen) < len(lobes):
        return False
    length, fullness, leaning, height, count = np.array(seen).T
    moving = sum(edge.duration_s for edge in edges) / 0.8
    if len(seen) < SURE_COUNT and moving < MOVING_SHARE * (t[-1] - t[0]):
        return False
    doubt = float(np.median(trace.noise / height * np.sqrt(20.0 / (count * size)))) / np.sqrt(len(seen))
    allowed = LEANING_SWEPT if _is_swept(length) else min(LEANING + 2.0 * doubt, LEANING_NOISY)
    return bool(np.max(fullness) < FULLEST + doubt and abs(float(np.mean(leaning))) < allowed)


def refuse_wave(name: str, trace: Trace1D, edges: Sequence[Edge]) -> None:
    """Refuse a drive, or an output without a drive, that is a wave without a rest.

    Parameters
    ----------
    name : str
        The channel's name, for the message.
    trace : Trace1D
        The channel.
    edges : sequence of Edge
        Its changes of state.

    Raises
    ------
    NotEnoughDataError
        If it is a wave.
    """
    if not is_wave(trace, edges):
        return
    raise NotEnoughDataError(
        "A response needs an edge between two states; this column is a wave that never rests (a sine, a sweep or a"
        " triangle).",
        {"column": name, "extremes": len(edges) + 1},
        "Step the field and hold each state for five time constants, or name other columns with --drive and --output.",
    )


def _is_swept(length: FloatArray) -> bool:
    """Whether the half-waves become steadily longer or shorter; the first and the last may be cut and don't count."""
    length = length[1:-1]
    if length.size < SURE_COUNT:
        return False
    pace = np.diff(length)
    steady = np.all(pace > -0.02 * length[1:]) or np.all(pace < 0.02 * length[1:])
    return bool(steady and max(length[0], length[-1]) > SWEPT * min(length[0], length[-1]))


def _lobe(t: FloatArray, y: FloatArray, before: Edge, after: Edge) -> tuple[float, float, float, float, float] | None:
    """Length (s), mean height (of 1), lean, height and samples of the part beyond half-way around an extreme.

    Half-way counts from the nearer of the extremes on both sides, so that it is crossed on either.
    """
    way = 1.0 if before.rising else -1.0
    height = 0.5 * min(abs(before.last - before.first), abs(after.last - after.first))
    begin, end = np.searchsorted(t, [before.onset_s, after.end_s])
    inside = t[begin : end + 1]
    h = 1.0 + way * (y[begin : end + 1] - before.last) / (height or 1.0)
    reach = max(0, int(np.searchsorted(t, after.t50_s) - np.searchsorted(t, before.t50_s)) // 40)
    total = np.concatenate([[0.0], np.cumsum(h)])
    k = np.arange(h.size)
    low, high = np.maximum(k - reach, 0), np.minimum(k + reach + 1, h.size)
    calm = (total[high] - total[low]) / (high - low)
    between = np.flatnonzero((inside >= before.t50_s) & (inside <= after.t50_s))
    if between.size < LOBE_SAMPLES:
        return None
    top = int(between[np.argmax(calm[between])])
    first = int(np.max(np.flatnonzero(calm[:top] <= 0), initial=-1))
    rest = np.flatnonzero(calm[top:] <= 0)
    if first < 0 or not rest.size or top + rest[0] - first < LOBE_SAMPLES:
        return None
    last = top + int(rest[0])
    start, stop = (_crossing(inside, calm, i) for i in (first, last - 1))
    part = slice(first + 1, last)
    centred = 2 * (inside[part] - start) / (stop - start) - 1
    total_height = float(np.sum(h[part]))
    lean = float(np.sum(h[part] * centred)) / total_height
    step = (inside[last] - inside[first]) / (last - first)
    return stop - start, total_height * step / (stop - start), lean, height, float(last - first)


def _crossing(t: FloatArray, h: FloatArray, i: int) -> float:
    """Instant at which the line from sample i to the next crosses zero."""
    return float(t[i] + (t[i + 1] - t[i]) * h[i] / (h[i] - h[i + 1]))
