"""The stick let go far out: its way back to rest, axis by axis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from feelcheck.hand.axes import StickReports, stick_reports
from feelcheck.hand.numbers import AFTER_S, BEFORE_S, LEAST_RELEASE_FS, REPORTS_OF_A_SWING
from feelcheck.model import FloatArray, HandView, Segment, StickAxes

__all__ = ["SpringReturn", "spring_returns"]

MOST_RELEASES = 12
"""Of each stick; spread unevenly, so that scripts that repeat themselves do not leave a direction out."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpringReturn:
    """One axis of one release.

    Parameters
    ----------
    axis, direction : str
        The axis, and which way its code went: ``"rising"`` or ``"falling"``.
    half_s : float, s
        When it was half way back.
    since_s : ndarray, shape (n,), s
        Times since then.
    y : ndarray, shape (n,)
        Readings as fractions of the way: 1 before letting go, 0 at rest.
    travel_fs : float
        The way in fractions of full throw.
    grain : float
        A step of the code, or the noise where that is larger, as a fraction of the way.
    """

    axis: str
    direction: str
    half_s: float
    since_s: FloatArray
    y: FloatArray
    travel_fs: float
    grain: float


def spring_returns(view: HandView, stick: StickAxes) -> list[SpringReturn]:
    """Return the ways back of a stick, both axes of each release; empty without a report interval.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    stick : StickAxes
        One of its sticks.
    """
    interval_s = view.clock.interval.value
    if interval_s is None:
        return []
    reports = stick_reports(view, stick)
    grain_fs = {axis: _grain(reports.fractions(axis)) for axis in (stick.x, stick.y) if axis}
    releases = [s for s in view.segments if s.kind == "release" and s.stick == stick.stick]
    found = []
    kept = np.linspace(0, len(releases) - 1, min(len(releases), MOST_RELEASES)).round().astype(int)
    for k in kept.tolist():
        found += _of_segment(reports, releases[k], interval_s, grain_fs)
    return found


def _of_segment(
    reports: StickReports, segment: Segment, interval_s: float, grain_fs: Mapping[str, float]
) -> list[SpringReturn]:
    t_s, x, y = reports.between(segment.start_s - BEFORE_S, segment.end_s, interval_s)
    found = []
    for axis, values in ((reports.stick.x, x), (reports.stick.y, y)):
        if axis in grain_fs and values.size >= 16:
            one = _of_axis(axis, t_s, values, grain_fs[axis])
            if one is not None:
                found.append(one)
    return found


def _grain(values: FloatArray) -> float:
    """Return the usual smallest change of an axis, in throws: a step, or the noise where that is larger."""
    change = np.abs(np.diff(values))
    change = change[change > 0]
    return float(np.percentile(change, 5)) if change.size else 0.0


def _of_axis(axis: str, t_s: FloatArray, values: FloatArray, grain_fs: float) -> SpringReturn | None:
    n_tail = max(values.size // 5, 4)
    rest, noise = float(np.median(values[-n_tail:])), float(np.std(values[-n_tail:]))
    held = float(np.median(values[:4]))
    travel = held - rest
    if abs(travel) < LEAST_RELEASE_FS or noise > 0.1 * abs(travel):
        return None
    y = (values - rest) / travel
    below = np.flatnonzero(y < 0.5)
    if not below.size or below[0] == 0:
        return None
    k = int(below[0])
    half_s = float(t_s[k - 1] + (y[k - 1] - 0.5) / (y[k - 1] - y[k]) * (t_s[k] - t_s[k - 1]))
    since = t_s - half_s
    used = (since > -BEFORE_S) & (since < AFTER_S)
    if np.count_nonzero(used & (np.abs(since) < 0.05)) < REPORTS_OF_A_SWING:
        return None
    # swings smaller than this are the code's or the noise's own
    grain = max(grain_fs, 2.0 * noise) / abs(travel)
    return SpringReturn(
        axis=axis,
        direction="falling" if travel > 0 else "rising",
        half_s=half_s,
        since_s=since[used],
        y=y[used],
        travel_fs=abs(travel),
        grain=grain,
    )
