"""What is fitted: one edge, cropped around its change, averaged to a workable number of samples."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from feelcheck.bench.edges import Edge
from feelcheck.bench.levels import Trace1D, block_average
from feelcheck.bench.numbers import (
    CAP_REACH,
    CLEAR_CAP,
    FEWEST_ON_ITS_WAY,
    FOOT_LEFT_OUT,
    SHAPE_SAMPLES,
    STEP_SAMPLES,
    WINDOW_AFTER,
    WINDOW_BEFORE,
    WINDOW_SAMPLES,
    WINDOW_SETTLES,
)
from feelcheck.model import FloatArray
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus

__all__ = ["EdgeWindow", "capped", "driven_windows", "late", "turned", "undriven_windows"]


@dataclass(frozen=True, kw_only=True, eq=False)
class EdgeWindow:
    """One edge of the output.

    Parameters
    ----------
    origin_s : float
        Instant on the capture's axis of this window's time zero: the drive's onset, or the output's.
    t_s, y : ndarray, shape (n,)
        Instants from the origin, output.
    stimulus : Stimulus or None
        The drive from 0 (before) to 1 (after), a unit step, or None for a decay whose begin was not seen.
    driven : bool
        Whether the stimulus was measured.
    settled_start : bool
        Whether the output was at rest when the window begins.
    swing : float
        Rough change of the output, signed.
    duration_s : float
        Rough 10-90 % duration of the output.
    drive_duration_s, drive_swing : float
        Of the drive; 0 without one.
    noise : float
        White noise rms of y.
    interval_s : float
        Mean interval of t_s.
    raw : (int, int)
        First and last-but-one sample of the capture in the window.
    u_drive_delay_s : float
        Standard uncertainty of the drive's instants, from its noise over its transition.
    u_start_fraction : float
        Standard uncertainty of the level before, as a share of the swing, where the edge before had just died away.
    level_before : float or None
        Output before a decay whose begin is not fitted; None where the capture does not show it.
    is_capped : bool
        Whether the window was ended where the output ran into a flat top.
    step : float
        Converter step of y; 0 where none was seen.
    held : bool
        Whether the stimulus is the drive as a sensor holds it, from instants that were read from the output.
    """

    origin_s: float
    t_s: FloatArray
    y: FloatArray
    stimulus: Stimulus | None
    driven: bool
    settled_start: bool
    swing: float
    duration_s: float
    drive_duration_s: float
    drive_swing: float
    noise: float
    interval_s: float
    raw: tuple[int, int]
    u_drive_delay_s: float = 0.0
    u_start_fraction: float = 0.0
    level_before: float | None = None
    is_capped: bool = False
    step: float = 0.0
    held: bool = False

    @cached_property
    def instants(self) -> DrivenInstants:
        """The stimulus and the samples' instants, made ready for any number of candidates."""
        assert self.stimulus is not None
        return DrivenInstants(self.stimulus, self.t_s)

    @property
    def drive_is_resolved(self) -> bool:
        """Whether a drive was measured that takes at least three of the window's samples."""
        return self.driven and self.drive_duration_s >= SHAPE_SAMPLES * self.interval_s

    @cached_property
    def drive_delay_s(self) -> float:
        """Mean delay of a measured drive behind its onset, by the area above it; 0 without one."""
        if not self.driven or self.stimulus is None:
            return 0.0
        t, u = self.stimulus.t_s, self.stimulus.u
        return float(np.trapezoid(np.where(t < 0, -u, 1 - u), t))

    @property
    def bent_delay_s(self) -> float:
        """By how much a curve of the whole swing in the middle, in drive and output each, would move their areas."""
        ways = [(self.y - self.y[0]) / ((self.y[-1] - self.y[0]) or 1.0)]
        ways += [self.stimulus.u] if self.driven and self.stimulus is not None else []
        areas = [
            float(np.trapezoid(4 * np.clip(way, 0, 1) * (1 - np.clip(way, 0, 1)), self.t_s))
            for way in ways
            if way.size == self.t_s.size
        ]
        return float(np.linalg.norm(areas))

    @property
    def rising(self) -> bool:
        """Whether the output goes up."""
        return self.swing > 0

    @property
    def span_s(self) -> float:
        """Length of the window."""
        return float(self.t_s[-1] - self.t_s[0])


def driven_windows(
    smooth: FloatArray, output: Trace1D, edges: tuple[Edge, ...], drive_noise: float
) -> tuple[EdgeWindow, ...]:
    """Return one window an edge of the drive in which the output moves.

    Parameters
    ----------
    smooth : ndarray, shape (n,)
        The drive without its noise.
    output : Trace1D
        The output, on the same instants.
    drive_noise : float
        White noise rms of the drive as recorded.
    edges : tuple of Edge
        Of the drive.
    """
    found = []
    for edge in edges:
        window = _driven(smooth, output, edge, drive_noise)
        if window is not None:
            found.append(window)
    return tuple(found)


def _driven(smooth: FloatArray, output: Trace1D, edge: Edge, drive_noise: float) -> EdgeWindow | None:
    t, y = output.t_s, output.values
    at = int(np.searchsorted(t, edge.onset_s))
    end = int(np.searchsorted(t, edge.end_s))
    if end - at < 6:
        return None
    duration, swing = _rough(t[at:end], y[at:end], _level_before(y, at, end))
    long = max(duration, edge.duration_s, 8 * output.interval_s)
    begin = int(
        np.searchsorted(t, max(edge.previous_s + 0.5 * (edge.onset_s - edge.previous_s), t[at] - WINDOW_BEFORE * long))
    )
    begin = 0 if edge.previous_s <= t[0] and t[at] - WINDOW_BEFORE * long <= t[0] else begin
    end = min(end, int(np.searchsorted(t, edge.t50_s + WINDOW_AFTER * long)) + 1)
    whole = begin
    begin, flat = _flat_begin(y, begin, at, output.noise, abs(swing))
    unseen = _unseen_drift((at - begin) // 2, output.noise, abs(swing)) if flat and begin > whole else 0.0
    flat = flat or _drifts(output, begin, at, int(np.searchsorted(t, edge.t50_s + WINDOW_SETTLES * long)), end)
    if end - begin < 8 or abs(swing) <= max(4 * output.noise / np.sqrt(max(1, (end - at) // 4)), 1.5 * output.step):
        return None
    size = -(-(end - begin) // WINDOW_SAMPLES)
    first, last = _drive_levels(smooth[begin:end], begin, at, edge)
    if abs(last - first) <= 4 * drive_noise / np.sqrt(max(1, at - begin)) + 1e-12 * abs(first):
        return None
    u = (smooth[begin:end] - first) / (last - first)
    local = block_average(t[begin:end], size) - edge.onset_s
    return EdgeWindow(
        origin_s=edge.onset_s,
        t_s=local,
        y=block_average(y[begin:end], size),
        stimulus=Stimulus(t_s=local, u=block_average(u, size)),
        driven=True,
        settled_start=flat,
        swing=swing,
        duration_s=duration,
        drive_duration_s=edge.duration_s,
        drive_swing=last - first,
        noise=output.noise / np.sqrt(size),
        interval_s=float((local[-1] - local[0]) / (local.size - 1)),
        raw=(begin, end),
        u_drive_delay_s=_u_drive_delay(edge, drive_noise / abs(last - first), output.interval_s),
        u_start_fraction=unseen / abs(swing) / float(np.sqrt(3)),
        step=output.step,
    )


def _u_drive_delay(edge: Edge, relative_noise: float, interval_s: float) -> float:
    """Noise over slope, averaged over the samples of the drive's transition."""
    return relative_noise * float(np.sqrt(max(edge.duration_s / 0.8, interval_s) * interval_s))


def _drive_levels(u: FloatArray, begin: int, at: int, edge: Edge) -> tuple[float, float]:
    before = u[: max(1, at - begin)]
    tail = u[-max(1, u.size // 10) :]
    first = float(np.median(before)) if before.size > 4 else edge.first
    return first, float(np.median(tail))


def _level_before(y: FloatArray, at: int, end: int) -> float:
    """Output just before the drive's onset; of a capture that begins at the onset its first sample."""
    n = max(1, min((end - at) // 20, at // 4, 50))
    return float(np.median(y[max(at - 1 - n, 0) : max(at - 1, 1)]))


def _rough(t: FloatArray, y: FloatArray, first: float) -> tuple[float, float]:
    """Rough 10-90 % duration and signed swing of an output from the onset to the end of its edge."""
    size = max(1, y.size // 400)
    t, y = block_average(t, size), block_average(y, size)
    last = float(np.mean(y[-max(1, min(y.size // 20, 5)) :]))
    if first == last:
        return 0.0, 0.0
    way = (y - first) / (last - first)
    k90 = int(np.argmax(way >= 0.9))
    k10 = int(np.max(np.flatnonzero(way[: k90 + 1] <= 0.1), initial=0))
    return float(t[k90] - t[k10]), last - first


def _flat_begin(y: FloatArray, begin: int, at: int, noise: float, swing: float) -> tuple[int, bool]:
    """Shorten the stretch before the edge until it shows no drift; as it was, and False, if it always does."""
    for share in (0.0, 0.4, 0.7):
        start = begin + int(share * (at - begin))
        if _is_flat(y[start:at], noise, swing):
            return start, True
    return begin, False


def _is_flat(before: FloatArray, noise: float, swing: float) -> bool:
    """Whether the stretch before the edge shows no drift worth fitting."""
    if before.size < 8:
        return False
    half = before.size // 2
    drift = abs(float(np.mean(before[:half]) - np.mean(before[half:])))
    return drift < _unseen_drift(half, noise, swing)


def _unseen_drift(half: int, noise: float, swing: float) -> float:
    """Difference between the means of two halves of so many samples below which they count as one level."""
    return max(3 * noise * float(np.sqrt(2 / max(half, 1))), 3e-4 * swing)


def _drifts(output: Trace1D, begin: int, at: int, settled: int, end: int) -> bool:
    """Whether the output runs along a straight line before the edge, and along one as steep once it is over."""
    if min(at - begin, end - settled) < 16:
        return False
    half = (begin + at) // 2
    parts = ((begin, at), (settled, end), (begin, half), (half, at))
    (before, after, early, late), (u, v, w, x) = zip(*(_slope(output.part(*part)) for part in parts), strict=True)
    alike = before * after > 0 and 0.5 < before / after < 2.0 and abs(before) > 4 * u and abs(after) > 4 * v
    return bool(alike and abs(early - late) < 3 * float(np.hypot(w, x)) + 0.3 * abs(before))


def _slope(part: Trace1D) -> tuple[float, float]:
    """Slope of a straight line and its standard uncertainty."""
    t = part.t_s - np.mean(part.t_s)
    power = float(t @ t)
    return float(t @ part.values) / power, part.noise / float(np.sqrt(power))


def turned(window: EdgeWindow) -> EdgeWindow | None:
    """Return the window from the output's turning point on, as if it had been at rest there.

    A one-sided output follows its drive only once the drive has passed the level that the output still holds; until
    then it goes on as before. None where the output does not turn.

    Parameters
    ----------
    window : EdgeWindow
        One edge with its surroundings.
    """
    if window.settled_start or window.stimulus is None or not window.driven:
        return None
    near = window.t_s < 0.5 * float(window.t_s[-1])
    way = window.y[near] if window.rising else -window.y[near]
    size = max(1, int(window.duration_s / window.interval_s / 20))
    turn = min(int(np.argmin(block_average(way, size))) * size, way.size - 1) if way.size > size else 0
    if turn < 3 or window.t_s.size - turn < 16:
        return None
    return replace(window, t_s=window.t_s[turn:], y=window.y[turn:], settled_start=True)


def late(window: EdgeWindow) -> EdgeWindow | None:
    """Return an edge without a drive from 10 % of its way on, as a decay whose begin is not fitted.

    Parameters
    ----------
    window : EdgeWindow
        One edge with its surroundings.
    """
    if window.driven or window.stimulus is None:
        return None
    before = float(np.median(window.y[: max(1, int(np.searchsorted(window.t_s, 0.0)))]))
    begin = int(np.argmax((window.y - before) / window.swing > 0.1)) + 1
    if window.t_s.size - begin < 16:
        return None
    cut = window.t_s[begin:]
    return replace(
        window,
        origin_s=window.origin_s + float(cut[0]),
        t_s=cut - cut[0],
        y=window.y[begin:],
        stimulus=None,
        settled_start=False,
        level_before=before,
    )


def capped(window: EdgeWindow) -> EdgeWindow | None:
    """Return an edge up to where it runs into a flat top (a rail behind the filter); None where it has none.

    A pole never arrives; an output that is cut does, and stays within its noise from there on. One that jumps, as a
    comparator does, is not cut.

    Parameters
    ----------
    window : EdgeWindow
        One edge with its surroundings.
    """
    if window.noise > CLEAR_CAP * abs(window.swing):
        return None
    n = max(8, window.y.size // 8)
    top = float(np.mean(window.y[-n:]))
    if float(np.std(window.y[-n:])) > 2.0 * window.noise + 0.002 * abs(window.swing):
        return None
    way = (window.y - top) / abs(window.swing) * (1.0 if window.rising else -1.0)
    reach = CAP_REACH + 3.0 * window.noise / abs(window.swing)
    end = int(np.argmax(way > -reach))
    since = int(np.searchsorted(window.t_s, 0.0))
    on_its_way = int(np.count_nonzero(np.abs(way[:end] + 0.5) < 0.4))
    if end - since < 16 or on_its_way < FEWEST_ON_ITS_WAY or window.y.size - end < n or _arrives(window, end, reach):
        return None
    stimulus = window.stimulus
    if stimulus is not None and window.driven:
        stimulus = Stimulus(t_s=stimulus.t_s[:end], u=stimulus.u[:end])
    begin, last = window.raw
    size = max(1, round((last - begin) / window.y.size))
    return replace(
        window,
        t_s=window.t_s[:end],
        y=window.y[:end],
        stimulus=stimulus,
        raw=(begin, min(begin + end * size, last)),
        is_capped=True,
    )


def _arrives(window: EdgeWindow, end: int, reach: float) -> bool:
    """Whether an output that is held gets to its top by the last step of its drive, so that nothing cuts it."""
    if window.stimulus is None or not window.driven:
        return False
    steps = np.flatnonzero((window.stimulus.gaps == 0) & (np.abs(np.diff(window.stimulus.u)) > reach))
    if not steps.size:
        return False
    since = float(window.t_s[end] - window.stimulus.t_s[steps[-1]])
    return abs(since) < STEP_SAMPLES * window.interval_s


def undriven_windows(output: Trace1D, edges: tuple[Edge, ...]) -> tuple[EdgeWindow, ...]:
    """Return one window an edge of an output whose drive was not recorded.

    Parameters
    ----------
    output : Trace1D
        The sensor's output.
    edges : tuple of Edge
        Where the trace moves, in time order.
    """
    return tuple(window for window in (_undriven(output, edge) for edge in edges) if window is not None)


def _undriven(output: Trace1D, edge: Edge) -> EdgeWindow | None:
    t, y = output.t_s, output.values
    long = max(edge.duration_s, 4 * output.interval_s)
    gap = edge.onset_s - edge.previous_s
    begin = int(np.searchsorted(t, max(edge.onset_s - WINDOW_BEFORE * long, edge.previous_s + 0.5 * gap)))
    at = int(np.searchsorted(t, edge.onset_s))
    end = min(
        int(np.searchsorted(t, edge.end_s, side="right")), int(np.searchsorted(t, edge.t50_s + WINDOW_AFTER * long)) + 1
    )
    swing = edge.last - edge.first
    foot = max(begin, at - 2 - int(FOOT_LEFT_OUT * (edge.t50_s - edge.onset_s) / output.interval_s))
    begin, flat = _flat_begin(y, begin, foot, output.noise, abs(swing))
    flat = flat or _drifts(output, begin, foot, int(np.searchsorted(t, edge.t50_s + WINDOW_SETTLES * long)), end)
    step = flat and not edge.mid_edge
    near = max(1, min(int(0.1 * (edge.t50_s - edge.onset_s) / output.interval_s), 50))
    before = None if edge.mid_edge or at < 4 else float(np.median(y[max(at - 1 - near, 0) : at - 1]))
    if not step:
        begin = at if edge.mid_edge else int(np.searchsorted(t, edge.onset_s + 0.1 * (edge.t50_s - edge.onset_s))) + 1
        end = end if edge.end_s >= t[-1] else max(begin, end - 1)
    if end - begin < 8:
        return None
    size = -(-(end - begin) // WINDOW_SAMPLES)
    origin = edge.onset_s if step else float(t[begin])
    local = block_average(t[begin:end], size) - origin
    return EdgeWindow(
        origin_s=origin,
        t_s=local,
        y=block_average(y[begin:end], size),
        stimulus=Stimulus.step() if step else None,
        driven=False,
        settled_start=step,
        swing=swing,
        duration_s=edge.duration_s,
        drive_duration_s=0.0,
        drive_swing=0.0,
        noise=output.noise / np.sqrt(size),
        interval_s=float((local[-1] - local[0]) / (local.size - 1)),
        raw=(begin, end),
        level_before=None if step else before,
        step=output.step,
    )
