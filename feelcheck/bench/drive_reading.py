"""The drive as it is read: how long it takes, how far it goes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.bench.edges import Edge, calmed
from feelcheck.bench.levels import Trace1D
from feelcheck.bench.numbers import BLURRED, LEAST_PACE, PLATEAU_SAMPLES, READ_OVER, RESOLVED
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import Estimate
from feelcheck.numerics.crossings import transition
from feelcheck.numerics.uncertainty import combined

__all__ = ["read_drive"]

SCATTER = "scatter of the edges"


@dataclass(frozen=True, slots=True)
class _Reading:
    """One edge: distance of its levels, its 10-90 % duration (the longest possible, where none can be read), s."""

    swing: float
    duration_s: float
    u_s: float
    is_resolved: bool


def read_drive(edges: tuple[Edge, ...], source: Trace1D, unit: str) -> tuple[Estimate, Estimate]:
    """Return the drive's 10-90 % duration, s, and its swing, over all edges.

    Parameters
    ----------
    edges : tuple of Edge
        Of the drive.
    source : Trace1D
        The drive as it was recorded.
    unit : str
        Its unit.

    Notes
    -----
    The levels are medians of the plateaus. A duration carries the noise where the levels are crossed and the width that
    it was read on; one that a step between two samples would show as well is a limit.
    """
    found = [_read(source, edge) for edge in edges]
    n = len(found)
    durations = np.array([one.duration_s for one in found])
    typical, spread = float(np.median(durations)), float(np.std(durations) / np.sqrt(n))
    if np.mean([one.is_resolved for one in found]) > 0.5:
        own = float(np.sqrt(np.mean([one.u_s**2 for one in found]) / n))
        words = SCATTER if spread > own else "noise and width where the levels are crossed"
        u, terms = combined({words: max(spread, own), "instants on samples": source.interval_s / float(np.sqrt(6))})
        duration = Estimate.measured("transition_10_90", typical, u=u, unit="s", n=n, terms=terms)
    else:
        duration = Estimate.at_most("transition_10_90", typical, unit="s", n=n)
    swings = np.array([one.swing for one in found])
    scatter, noise = float(np.std(swings) / np.sqrt(n)), float(2 * source.noise / np.sqrt(n))
    u_swing, terms = combined({SCATTER if scatter > noise else "noise of the levels": max(noise, scatter)})
    return duration, Estimate.measured("swing", float(np.median(swings)), u=u_swing, unit=unit, n=n, terms=terms)


def _read(source: Trace1D, edge: Edge) -> _Reading:
    first, last, u_level = _levels(source, edge)
    swing = last - first
    unread = _Reading(abs(swing), edge.at_most_s, edge.resolution_s, False)
    around = 0.5 * edge.duration_s + 4 * edge.resolution_s
    begin, end = np.searchsorted(source.t_s, (edge.onset_s - around, edge.end_s)).tolist()
    blur_s = max(edge.resolution_s, READ_OVER * edge.duration_s)
    n_over = max(blur_s / source.interval_s, 1.0)
    t, y = source.t_s[begin:end], calmed(source.values[begin:end], n_over)
    if swing * (edge.last - edge.first) <= 0:
        return unread
    try:
        found = transition(t, y, first, last)
    except NotEnoughDataError:
        return unread
    if found.duration < RESOLVED * blur_s:
        return _Reading(abs(swing), found.duration + blur_s, blur_s, False)
    at, half = np.array([found.t10, found.t90]), 0.5 * n_over * source.interval_s
    paces = np.abs(np.interp(at + half, t, y) - np.interp(at - half, t, y)) / (2 * half)
    u_level = float(np.hypot(u_level, source.noise / np.sqrt(n_over)))
    u = np.linalg.norm(u_level / np.maximum(paces, LEAST_PACE * abs(swing) / found.duration))
    return _Reading(abs(swing), found.duration, float(np.hypot(u, BLURRED * blur_s**2 / found.duration)), True)


def _levels(source: Trace1D, edge: Edge) -> tuple[float, float, float]:
    """Plateaus of an edge by their medians, and how well they are known; its extremes where it has no plateaus."""
    t, longest = source.t_s, max(edge.duration_s, PLATEAU_SAMPLES * source.interval_s)
    earliest = max(0.5 * (edge.previous_s + edge.onset_s), edge.onset_s - 4 * longest)
    begin, at, over, end = np.searchsorted(t, (earliest, edge.onset_s, edge.t50_s + 2 * longest, edge.end_s)).tolist()
    if min(at - begin, end - over) < PLATEAU_SAMPLES:
        return edge.first, edge.last, source.noise
    before, after = source.values[begin:at], source.values[over:end]
    u = source.noise * float(np.sqrt(1.6 / min(before.size, after.size)))
    return float(np.median(before)), float(np.median(after)), u
