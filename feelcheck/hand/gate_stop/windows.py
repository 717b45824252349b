"""Cut the flicks out of a stick's reports and judge which of them can answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.numbers import (
    BEFORE_FLICK_S,
    CAME_BACK,
    DWELLS_LONGER,
    FEW_CHANGES,
    FEWEST_ON_LAST,
    FINE_RADIUS,
    HOLD_TAIL_S,
    MIN_HOLD_S,
    MIN_PLACES,
    MIN_REPORTS_IN_MOTION,
    MIN_RESTING,
    MIN_TRAVEL_FS,
    MOST_FINE,
    MOST_TIMES_QUICK,
    MOSTLY_STILL,
    NEAR_FULL_THROW,
    OBLIQUE,
    ROUNDED_RADIUS,
    ROUNDED_SCATTER,
    SANK_BACK,
    STIFF,
    STIFF_CODES,
    STILL_RUN,
)
from feelcheck.model import FloatArray
from feelcheck.numerics.runs import runs_of_equal

__all__ = ["FlickWindow", "StickReadings", "cut_flick", "find_limits", "flick_windows", "noise_variance"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StickReadings:
    """Both axes of one stick at the instants of its reports.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Report instants, increasing.
    xy : ndarray, shape (2, n)
        Fractions of full throw about the rest level; NaN where the axis was not logged.
    nominal : ndarray, shape (2, n)
        Fractions of nominal full throw about the nominal centre.
    interval_s : float, s
        Report interval.
    scatter_s : float, s
        Standard deviation of a time stamp about the report clock, where that clock could not be recovered; else 0.
    """

    t_s: FloatArray
    xy: FloatArray
    nominal: FloatArray
    interval_s: float
    scatter_s: float = 0.0

    @property
    def nominal_share(self) -> float:
        """How much of nominal full throw a fraction of `xy` is."""
        spans = [float(np.nanmax(z) - np.nanmin(z)) for z in (self.nominal, self.xy)]
        return spans[0] / max(spans[1], 1e-12)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlickWindow:
    """One flick, from rest to the hold.

    Parameters
    ----------
    start_s, direction_deg : float
        When it began, and where it ended up, counter-clockwise from right.
    t_s : ndarray, shape (n,), s
        Report instants.
    y : ndarray, shape (2, n)
        Readings turned so that outward is positive.
    seen : ndarray of bool, shape (2, n)
        False where a reading is clipped.
    lead_t_s, lead_y : ndarray, shape (k,) and (2, k)
        Reports before the motion began, from rest, likewise.
    onset_s, late_s : float
        When the motion began, and when it had covered nine tenths.
    sign : tuple of int
        +1 where the axis' code rises, -1 where it falls, 0 where it does not answer.
    why_not : str
        Why the flick cannot be used; empty if it can.
    why_not_axis : tuple of str
        The same for each axis.
    """

    start_s: float
    direction_deg: float
    t_s: FloatArray
    y: FloatArray
    seen: NDArray[np.bool_]
    lead_t_s: FloatArray = field(default_factory=lambda: np.empty(0))
    lead_y: FloatArray = field(default_factory=lambda: np.empty((2, 0)))
    onset_s: float = 0.0
    late_s: float = 0.0
    sign: tuple[int, int] = (0, 0)
    why_not: str = ""
    why_not_axis: tuple[str, str] = ("", "")


def noise_variance(reports: StickReadings, holds: Sequence[tuple[float, float]]) -> FloatArray:
    """Return the variance of one reading of each axis while the stick is held, fractions squared, shape (2,).

    Parameters
    ----------
    reports : StickReadings
        The reports of one stick.
    holds : sequence of (float, float)
        Beginning and end of each hold, s.

    Notes
    -----
    From second differences of successive reports (median of squares), but not below step^2 / 12, the step being the
    smaller changes that occur, or the distance between values at which readings stand still where that is longer:
    an average over coarse codes moves in small steps and rests on coarse ones.
    """
    variance = np.full(2, 1e-8)
    for axis in range(2):
        pieces = [reports.xy[axis, slice(*np.searchsorted(reports.t_s, hold))] for hold in holds]
        change = np.concatenate([np.empty(0), *(np.abs(np.diff(z)) for z in pieces)])
        if np.count_nonzero(change) < FEW_CHANGES:
            change = np.abs(np.diff(reports.xy[axis]))
        change = change[change > 0]
        step = float(np.percentile(change, 10)) if change.size else 0.0
        step = max(step, _resting_step(pieces, MOST_FINE * step))
        second = np.concatenate([np.empty(0), *(np.diff(z, 2) for z in pieces)])
        if second.size:
            spread = float(np.mean(np.minimum(second**2, 9 * np.mean(second**2)))) / 6.0
            variance[axis] = max(variance[axis], spread, step**2 / 12.0)
    return variance


def _resting_step(pieces: Sequence[FloatArray], longest: float) -> float:
    """Return the distance between neighbouring values at which readings stand still for long; 0 if they do not."""
    values, n_still, n = [np.empty(0)], 0, 1
    for z in pieces:
        starts, length = runs_of_equal(z)
        values.append(z[starts[length >= STILL_RUN]])
        n_still, n = n_still + int(length[length >= STILL_RUN].sum()), n + z.size
    distinct = np.unique(np.concatenate(values))
    if distinct.size < MIN_RESTING or n_still < MOSTLY_STILL * n:
        return 0.0
    step = float(np.diff(distinct).min())
    return step if step <= longest else 0.0


def find_limits(
    reports: StickReadings, spans: Sequence[tuple[float, float]], variance: FloatArray
) -> tuple[FloatArray, float | None]:
    """Return the readings of each axis from which on it is clipped, shape (2, 2) for (axis, low/high), and the radius.

    Parameters
    ----------
    reports : StickReadings
        The whole recording.
    spans : sequence of (float, float), s
        Start of the outward motion and end of the hold of each flick.
    variance : ndarray, shape (2,)
        From `noise_variance`.

    Notes
    -----
    An axis is clipped at its observed extreme when that lies at nominal full throw, or when several holds end exactly
    there near full throw, unless the flicks come to rest there as through a response (`_gently_reached`). The
    radius is clamped when it stands stiller in all oblique holds, whatever their direction, than the noise of one
    reading allows: only a computed radius does that. One that was rounded afterwards scatters as codes do; it is full
    throw in all directions, and no flick slows down towards it.
    """
    limits = np.array([[-np.inf, np.inf], [-np.inf, np.inf]])
    slices = [slice(*np.searchsorted(reports.t_s, hold)) for hold in _holds(spans)]
    flicks = [slice(*np.searchsorted(reports.t_s, span)) for span in spans]
    for axis in range(2):
        z = reports.xy[axis]
        if not np.any(np.isfinite(z)):
            continue
        ends = np.array([np.median(z[cut]) for cut in slices if cut.stop > cut.start])
        for side, at in enumerate((int(np.nanargmin(z)), int(np.nanargmax(z)))):
            nominal = abs(reports.nominal[axis, at])
            many = (ends == z[at]).sum() >= 3 and nominal >= NEAR_FULL_THROW
            if (nominal >= 0.999 or many) and not _gently_reached(z, float(z[at]), flicks):
                limits[axis, side] = z[at]
    return limits, _clamp_radius(reports, slices, flicks, reports.nominal_share * float(np.sqrt(variance.mean())))


def _holds(spans: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the stretches at the rim at the ends of flicks, s."""
    return [(max(start_s, end_s - HOLD_TAIL_S), end_s) for start_s, end_s in spans]


def _gently_reached(z: FloatArray, level: float, flicks: Sequence[slice]) -> bool:
    """Return whether flicks that end at a level of coarse codes slow down towards it.

    An exponential that ends d codes above the last one's upper end dwells ln((1 + d) / d) / ln((3 + d) / (2 + d)) times
    as long on it as on the one two further down: long where it ends, alike where it is cut off on its way.
    """
    toward = z if level > 0 else -z
    values = np.unique(toward[np.isfinite(toward)])
    if values.size < 2:
        return False
    return _slows_down((values[-1] - toward) / float(np.diff(values).min()), flicks)


def _slows_down(below: FloatArray, flicks: Sequence[slice]) -> bool:
    """Return whether flicks dwell on the last of some steps below an end, as what comes to rest there does."""
    dwelt = np.zeros(2)
    for cut in flicks:
        part = np.rint(below[cut])
        part = part[: int(np.argmax(part <= 0))]
        dwelt += [np.count_nonzero(part == 1), np.count_nonzero(part == 3)]
    return bool(dwelt[0] >= max(FEWEST_ON_LAST, DWELLS_LONGER * dwelt[1]))


def _clamp_radius(
    reports: StickReadings, holds: Sequence[slice], flicks: Sequence[slice], noise: float
) -> float | None:
    held = np.concatenate([reports.nominal[:, cut] for cut in holds] or [np.empty((2, 0))], axis=1)
    # Along one axis a stick that is held still stands at one radius whatever computes it.
    held = held[:, np.abs(held).min(axis=0) > OBLIQUE * np.hypot(held[0], held[1])]
    radius = np.hypot(held[0], held[1])
    radius = radius[np.isfinite(radius)]
    if radius.size < 20 or np.unique(held[:, np.isfinite(held).all(axis=0)], axis=1).shape[1] < MIN_PLACES:
        return None
    usual = float(np.median(radius))
    scatter = float(np.percentile(np.abs(radius - usual), 68))
    still = float(np.mean(np.diff(radius) == 0)) > MOSTLY_STILL
    if scatter < (STIFF_CODES if still else STIFF) * noise:
        return usual - noise
    if scatter > ROUNDED_SCATTER * noise or abs(usual - 1.0) > ROUNDED_RADIUS * noise:
        return None
    below = (usual - np.hypot(reports.nominal[0], reports.nominal[1])) / max(FINE_RADIUS, 2.0 * ROUNDED_RADIUS * noise)
    return None if _slows_down(below, flicks) else usual - ROUNDED_RADIUS * noise


def cut_flick(
    reports: StickReadings, start_s: float, end_s: float, limits: FloatArray, clamp_radius: float | None
) -> FlickWindow:
    """Cut one flick out and say what it can answer.

    Parameters
    ----------
    reports : StickReadings
        The recording.
    start_s, end_s : float, s
        From the start of the outward motion to the end of the hold.
    limits : ndarray, shape (2, 2)
        From `find_limits`.
    clamp_radius : float or None
        From `find_limits`.
    """
    first, last = np.searchsorted(reports.t_s, (start_s - BEFORE_FLICK_S, end_s))
    t, xy, nominal = reports.t_s[first:last], reports.xy[:, first:last], reports.nominal[:, first:last]
    nothing = FlickWindow(
        start_s=start_s, direction_deg=0.0, t_s=t, y=xy, seen=np.zeros(xy.shape, dtype=bool), why_not="too few reports"
    )
    if t.size < MIN_REPORTS_IN_MOTION + 4:
        return nothing
    base, end = xy[:, 0], np.median(xy[:, -max(3, t.size // 4) :], axis=1)
    travel = np.nan_to_num(end - base)
    total = float(np.hypot(*travel))
    if total < MIN_TRAVEL_FS:
        return nothing
    progress = (np.nan_to_num(xy - base[:, None]) * travel[:, None]).sum(axis=0) / total**2
    half = int(np.argmax(progress > 0.5))
    let_off = _let_off(progress)
    if let_off is not None:
        return cut_flick(reports, start_s, float(t[let_off]), limits, clamp_radius)
    before = np.flatnonzero(progress[:half] < 0.03)
    onset = int(before[-1]) if before.size else 0
    late = half + int(np.argmax(progress[half:] > 0.9))
    sign = np.where(np.abs(travel) >= MIN_TRAVEL_FS, np.sign(travel), 0).astype(int)
    turn = np.where(sign == 0, 1, sign)[:, None]
    seen = np.isfinite(xy) & (xy > limits[:, :1]) & (xy < limits[:, 1:])
    if clamp_radius is not None:
        seen &= np.hypot(nominal[0], nominal[1]) < clamp_radius
    why_axis = tuple(_why_not_axis(int(sign[a]), seen[a, late:]) for a in range(2))
    return FlickWindow(
        start_s=start_s,
        direction_deg=float(np.degrees(np.arctan2(*np.nan_to_num(end)[::-1])) % 360.0),
        lead_t_s=t[:onset],
        lead_y=np.nan_to_num(xy * turn)[:, :onset],
        t_s=t[onset:],
        y=np.nan_to_num(xy * turn)[:, onset:],
        seen=seen[:, onset:],
        onset_s=float(t[onset]),
        late_s=float(t[late]),
        sign=(int(sign[0]), int(sign[1])),
        why_not=_why_not(late - onset, float(t[-1] - t[late]), progress, why_axis),
        why_not_axis=(why_axis[0], why_axis[1]),
    )


def _let_off(progress: FloatArray) -> int | None:
    """Return the last index at the rim of a stick that sinks back from there while it is held; None for one that stays.

    The upper tenth of the hold is the rim's level: rebounds and a rim that gives last less.
    """
    held = progress[int(np.argmax(progress > 0.9)) :]
    top = float(np.quantile(held, 0.9))
    if top < SANK_BACK:
        return None
    last = int(np.flatnonzero(progress > top - 0.25 * (SANK_BACK - 1.0))[-1])
    return last if last < progress.size - 1 else None


def _why_not(n_moving: int, held_s: float, progress: FloatArray, why_axis: Sequence[str]) -> str:
    if n_moving < MIN_REPORTS_IN_MOTION:
        return "too few reports during the motion"
    if held_s < MIN_HOLD_S:
        return "not held at the rim"
    if float(np.max(progress)) > CAME_BACK:
        return "not held at the rim: it came back from there"
    return next((reason for reason in why_axis if "clipped" in reason), why_axis[0]) if all(why_axis) else ""


def _why_not_axis(sign: int, seen: NDArray[np.bool_]) -> str:
    if sign == 0:
        return "moves too little on this axis"
    if seen.mean() < 0.9:
        return "clipped before the rim"
    return ""


def flick_windows(reports: StickReadings, spans: Sequence[tuple[float, float]]) -> tuple[list[FlickWindow], FloatArray]:
    """Cut all flicks of a stick out; return them and the variance of one reading of each axis, shape (2,).

    Parameters
    ----------
    reports : StickReadings
        The recording.
    spans : sequence of (float, float), s
        Start of the outward motion and end of the hold of each flick.
    """
    variance = noise_variance(reports, _holds(spans))
    limits, radius = find_limits(reports, spans, variance)
    cut = [cut_flick(reports, start_s, end_s, limits, radius) for start_s, end_s in spans]
    return _without_slow(cut), variance


def _without_slow(windows: list[FlickWindow]) -> list[FlickWindow]:
    """Set aside flicks that take far longer than the quick ones: their stop is too soft to tell smoothing from."""
    took_s = [w.late_s - w.onset_s for w in windows if not w.why_not]
    if not took_s:
        return windows
    longest_s = MOST_TIMES_QUICK * float(np.percentile(took_s, 25))
    slow = [not w.why_not and w.late_s - w.onset_s > longest_s for w in windows]
    return [replace(w, why_not="far slower than the others") if s else w for w, s in zip(windows, slow, strict=True)]
