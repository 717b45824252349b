"""Where a waveform changes state: any number of edges, either way, settled or not."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from feelcheck.bench.levels import Trace1D, block_average, noise_rms
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import FloatArray

__all__ = ["Edge", "find_edges"]

SWING_FRACTION = 0.3
SIGNAL_TO_NOISE = 8.0
CLEAR_OF_NOISE = 16.0
MAX_POINTS = 20_000


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
    """

    onset_s: float
    t50_s: float
    end_s: float
    previous_s: float
    first: float
    last: float
    mid_edge: bool
    duration_s: float

    @property
    def rising(self) -> bool:
        """Whether the channel goes up."""
        return self.last > self.first


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
        edges.append(_edge(t, y, (a, b), noise, edges[-1].t50_s if k else None))
    ends = [*(edge.onset_s for edge in edges[1:]), float(trace.t_s[-1])]
    return tuple(
        Edge(
            onset_s=edge.onset_s,
            t50_s=edge.t50_s,
            end_s=max(end, edge.t50_s),
            previous_s=edge.previous_s,
            first=edge.first,
            last=edge.last,
            mid_edge=edge.mid_edge,
            duration_s=edge.duration_s,
        )
        for edge, end in zip(edges, ends, strict=True)
    )


def _no_edge(reach: float, noise: float) -> NotEnoughDataError:
    return NotEnoughDataError(
        "A capture needs at least one edge that stands out of the noise.",
        {"range": f"{reach:.4g}", "noise rms": f"{noise:.4g}"},
        "Trigger on the drive's edge, or name the column with --output or --drive.",
    )


def _readable(trace: Trace1D) -> tuple[FloatArray, FloatArray, float]:
    """Average over the fewest neighbours that make the waveform stand out of the noise."""
    size = max(1, trace.t_s.size // MAX_POINTS)
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
    way = 0
    for k, value in enumerate(y.tolist()):
        if way >= 0 and value > y[high]:
            high = k
        if way <= 0 and value < y[low]:
            low = k
        if way >= 0 and y[high] - value >= threshold and high <= k:
            pivots.append(high)
            way, low = -1, k
        elif way <= 0 and value - y[low] >= threshold:
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
    if abs(y[c] - y[b]) > 0.72 * abs(y[b] - y[a]):
        return False
    way = (y[a : b + 1] - y[a]) / (y[b] - y[a])
    k90 = int(np.argmax(way >= 0.9))
    k10 = int(np.max(np.flatnonzero(way[: k90 + 1] <= 0.1), initial=0))
    return 1.8 < float((t[c] - t[b]) / max(t[a + k90] - t[a + k10], 1e-300)) < 4.0


def _edge(t: FloatArray, y: FloatArray, ends: tuple[int, int], noise: float, previous: float | None) -> Edge:
    a, b = ends
    part = _calmed(y[a : b + 1], noise)
    first, last = float(part[0]), float(part[-1])
    way = (part - first) / (last - first)
    k50 = int(np.argmax(way >= 0.5))
    k10 = int(np.max(np.flatnonzero(way[: k50 + 1] <= 0.1), initial=0))
    k90 = int(np.argmax(way >= 0.9))
    t10, t50, t90 = (_cross(t[a : b + 1], way, k, level) for k, level in ((k10 + 1, 0.1), (k50, 0.5), (k90, 0.9)))
    onset = max(t10 - 0.18 * (t50 - t10), float(t[a]))
    begins = float(t[0])
    settled = k10 > 3 and abs(float(np.mean(way[: max(1, k10 // 2)]))) < 0.1
    return Edge(
        onset_s=onset,
        t50_s=t50,
        end_s=float(t[b]),
        previous_s=begins if previous is None else previous,
        first=first,
        last=last,
        mid_edge=previous is None and a <= 2 and not settled,
        duration_s=max(t90 - t10, 0.0),
    )


def _calmed(y: FloatArray, noise: float) -> FloatArray:
    """A moving average just wide enough to bring the noise under 2 % of the range."""
    width = min((noise / (0.02 * float(np.ptp(y)))) ** 2, y.size / 12)
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
