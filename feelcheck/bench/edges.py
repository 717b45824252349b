"""Where a waveform changes state: any number of edges, either way, settled or not."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.bench.levels import Trace1D, block_average, noise_rms
from feelcheck.bench.numbers import (
    CALM,
    CLEAR_OF_NOISE,
    FOOT,
    MOST_BEYOND,
    MOST_POINTS,
    QUICKEST_RING,
    RESOLVED,
    RESTS,
    RING_SHRINKS,
    SHARPER,
    SIGNAL_TO_NOISE,
    SLOWEST_RING,
    SWING_FRACTION,
)
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import FloatArray

__all__ = ["Edge", "calmed", "find_edges"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One change of state; all instants in s.

    Parameters
    ----------
    onset_s, t50_s, end_s : float
        Where the change leaves the first state (estimated), crosses half-way, and where the next one begins.
    previous_s : float
        Half-way instant of the edge before, or the begin of the capture.
    first, last : float
        Extreme values before and after, in the channel's unit.
    mid_edge : bool
        Whether the capture begins after the onset.
    duration_s : float
        Rough 10-90 % duration.
    resolution_s : float
        Width of the average that the instants were read on: at least a sample interval.
    """

    onset_s: float
    t50_s: float
    end_s: float
    previous_s: float
    first: float
    last: float
    mid_edge: bool
    duration_s: float
    resolution_s: float

    @property
    def rising(self) -> bool:
        """Whether the channel goes up."""
        return self.last > self.first

    @property
    def is_resolved(self) -> bool:
        """Whether its duration is more than the width it was read on makes of a step."""
        return self.duration_s > RESOLVED * self.resolution_s

    @property
    def at_most_s(self) -> float:
        """Longest 10-90 % duration that reads like this."""
        return self.duration_s + self.resolution_s


def find_edges(trace: Trace1D) -> tuple[Edge, ...]:
    """Return every change of state.

    Parameters
    ----------
    trace : Trace1D
        One channel.

    Raises
    ------
    NotEnoughDataError
        If nothing but noise is there.

    Notes
    -----
    Averaged just enough to stand out of the noise, the waveform is cut at its alternating extremes; an excursion counts
    when it is 30 % of the range. Excursions that shrink evenly at an even pace are the ring of one edge.
    """
    t, y, noise = _readable(trace)
    reach = float(np.ptp(y))
    pivots = _drop_ring(t, y, _pivots(y, max(SWING_FRACTION * reach, 9 * noise)))
    if len(pivots) < 2:
        raise _no_edge(reach, noise)
    edges: list[Edge] = []
    for k, (a, b) in enumerate(itertools.pairwise(pivots)):
        edges.append(_sharpened(trace, _edge(t, y, (a, b), noise, edges[-1].t50_s if k else None)))
    ends = [*(edge.onset_s for edge in edges[1:]), float(trace.t_s[-1])]
    return tuple(replace(edge, end_s=max(end, edge.t50_s)) for edge, end in zip(edges, ends, strict=True))


def _no_edge(reach: float, noise: float) -> NotEnoughDataError:
    return NotEnoughDataError(
        "A capture needs at least one edge that stands out of the noise.",
        {"range": f"{reach:.4g}", "noise rms": f"{noise:.4g}"},
        "Trigger on the drive's edge, or name the column with --output or --drive.",
    )


def _readable(trace: Trace1D) -> tuple[FloatArray, FloatArray, float]:
    """Average over the fewest neighbours that make the waveform stand out of the noise."""
    size = max(1, trace.t_s.size // MOST_POINTS)
    reach, noise = 0.0, 0.0
    best: tuple[float, FloatArray, FloatArray, float] | None = None
    while trace.t_s.size // size >= 8 or size == 1:
        y = block_average(trace.values, size)
        noise = max(noise_rms(y), trace.step / np.sqrt(12.0 * size)) if y.size > 3 else 0.0
        reach = float(np.ptp(y)) if y.size else 0.0
        ratio = reach / max(noise, 1e-300)
        if y.size >= 4 and ratio > SIGNAL_TO_NOISE and reach > 2.5 * trace.step / size and _lag_one(y) > 0.5:
            if best is None or ratio > 1.2 * best[0]:
                best = (ratio, block_average(trace.t_s, size), y, noise)
            if ratio > CLEAR_OF_NOISE:
                break
        size *= 4
    if best is None:
        raise _no_edge(reach, noise)
    return best[1:]


def _lag_one(y: FloatArray) -> float:
    centred = y - np.mean(y)
    power = float(centred @ centred)
    return float(centred[1:] @ centred[:-1]) / power if power > 0 else 0.0


def _pivots(y: FloatArray, threshold: float) -> list[int]:
    """Indices of alternating extremes whose excursions reach the threshold."""
    low = high = 0
    pivots: list[int] = []
    # 1 upwards, -1 downwards, 0 while that is open: until then both extremes are followed.
    way = 0
    values = y.tolist()
    for k, value in enumerate(values):
        if way >= 0 and value > values[high]:
            high = k
        if way <= 0 and value < values[low]:
            low = k
        if way >= 0 and values[high] - value >= threshold and high <= k:
            pivots.append(high)
            way, low = -1, k
        elif way <= 0 and value - values[low] >= threshold:
            pivots.append(low)
            way, high = 1, k
    if pivots:
        pivots.append(low if way < 0 else high)
    return pivots


def _drop_ring(t: FloatArray, y: FloatArray, pivots: list[int]) -> list[int]:
    """Keep only the first of excursions that shrink evenly at an even pace."""
    kept, k = pivots[:1], 1
    while k < len(pivots):
        end = k
        while end + 1 < len(pivots) and _rings(t, y, pivots, end):
            end += 1
        last = pivots[k]
        kept.append(last if end == k else pivots[end])
        k = end + 1
    return kept


def _rings(t: FloatArray, y: FloatArray, pivots: list[int], k: int) -> bool:
    """Whether the excursion after pivot k is a ring of the one before.

    It is clearly smaller, and takes 1.8 to 4 times the 10-90 % duration (half a period of a second-order stage is 2.6
    times it), while a pole that is turned back before it settles takes less.
    """
    a, b, c = pivots[k - 1 : k + 2]
    if abs(y[c] - y[b]) > RING_SHRINKS * abs(y[b] - y[a]):
        return False
    way = (y[a : b + 1] - y[a]) / (y[b] - y[a])
    k90 = int(np.argmax(way >= 0.9))
    k10 = int(np.max(np.flatnonzero(way[: k90 + 1] <= 0.1), initial=0))
    return QUICKEST_RING < float((t[c] - t[b]) / max(t[a + k90] - t[a + k10], 1e-300)) < SLOWEST_RING


def _edge(t: FloatArray, y: FloatArray, ends: tuple[int, int], noise: float, previous: float | None) -> Edge:
    a, b = ends
    width = min((noise / (CALM * float(np.ptp(y[a : b + 1])))) ** 2, (b + 1 - a) / 12)
    part = calmed(y[a : b + 1], width)
    first, last = _rest_before(part, noise), float(part[-1])
    way = (part - first) / (last - first)
    t10, t50, t90 = _instants(t[a : b + 1], way)
    begins = float(t[0])
    k10 = int(np.searchsorted(t[a : b + 1], t10)) - 1
    settled = k10 > 3 and abs(float(np.mean(way[: max(1, k10 // 2)]))) < 0.1
    return Edge(
        onset_s=max(t10 - FOOT * (t50 - t10), float(t[a])),
        t50_s=t50,
        end_s=float(t[b]),
        previous_s=begins if previous is None else previous,
        first=first,
        last=last,
        mid_edge=previous is None and a <= 2 and not settled,
        duration_s=max(t90 - t10, 0.0),
        resolution_s=max(width, 1.0) * float((t[b] - t[a]) / (b - a)),
    )


def _rest_before(y: FloatArray, noise: float) -> float:
    """Level before an edge: where the channel rests from one extreme to half-way to the next, else the extreme.

    An edge that went beyond its level leaves an extreme that the next edge does not begin at.
    """
    reach = float(y[-1] - y[0])
    before = y[: int(np.argmax((y - y[0]) / reach >= 0.5))]
    if before.size < 4:
        return float(y[0])
    low, middle, high = np.quantile(before, (0.25, 0.5, 0.75)).tolist()
    rests = high - low < RESTS * abs(reach) + 2.0 * noise
    return float(middle) if rests and abs(middle - y[0]) < MOST_BEYOND * abs(reach) else float(y[0])


def _sharpened(trace: Trace1D, edge: Edge) -> Edge:
    """An edge that was found on averages, its instants read again on the samples under them where those tell more."""
    width = max((trace.noise / (CALM * abs(edge.last - edge.first))) ** 2, 1.0)
    around = 2 * edge.resolution_s
    reach = edge.onset_s - around, edge.t50_s + max(edge.t50_s - edge.onset_s, edge.duration_s) + around
    begin, end = np.searchsorted(trace.t_s, reach).tolist()
    if end - begin < 3 * width or width * trace.interval_s > SHARPER * edge.resolution_s:
        return edge
    t = trace.t_s[begin:end]
    way = (calmed(trace.values[begin:end], width) - edge.first) / (edge.last - edge.first)
    if not (way[0] < 0.1 and np.max(way) >= 0.9):
        return edge
    t10, t50, t90 = _instants(t, way)
    return replace(
        edge,
        onset_s=max(t10 - FOOT * (t50 - t10), edge.onset_s - around),
        t50_s=t50,
        duration_s=max(t90 - t10, 0.0),
        resolution_s=width * trace.interval_s,
    )


def _instants(t: FloatArray, way: FloatArray) -> tuple[float, float, float]:
    """Instants of 10, 50 and 90 %."""
    k50 = int(np.argmax(way >= 0.5))
    k10 = int(np.max(np.flatnonzero(way[: k50 + 1] <= 0.1), initial=0))
    k90 = int(np.argmax(way >= 0.9))
    t10, t50, t90 = (_cross(t, way, k, level) for k, level in ((k10 + 1, 0.1), (k50, 0.5), (k90, 0.9)))
    return t10, t50, t90


def calmed(y: FloatArray, width: float) -> FloatArray:
    """Return the moving average over so many samples, shape (n,); over those that there are at the ends.

    Parameters
    ----------
    y : ndarray, shape (n,)
        Even samples, any unit.
    width : float
        Samples averaged; below 2 nothing is done.

    Examples
    --------
    >>> calmed(np.array([0.0, 0.0, 3.0, 0.0, 0.0]), 3.0).tolist()
    [0.0, 1.0, 1.0, 1.0, 0.0]
    """
    if width < 2:
        return y
    half = int(width / 2)
    total = np.concatenate([[0.0], np.cumsum(y)])
    k = np.arange(y.size)
    low, high = np.maximum(k - half, 0), np.minimum(k + half + 1, y.size)
    return np.asarray((total[high] - total[low]) / (high - low))


def _cross(t: FloatArray, way: FloatArray, k: int, level: float) -> float:
    """Instant at which the line into sample k crosses the level."""
    k = min(max(k, 1), t.size - 1)
    rise = way[k] - way[k - 1]
    share = (level - way[k - 1]) / rise if rise > 0 else 1.0
    return float(t[k - 1] + min(max(share, 0.0), 1.0) * (t[k] - t[k - 1]))
