"""The metric "flick_speed": how fast each axis moves at the peak of the person's own flicks, as the log shows it."""

from __future__ import annotations

import math

import numpy as np

from feelcheck.hand.axes import StickReports, stick_reports
from feelcheck.hand.numbers import FLICKS_FOR_A_PEAK, LARGEST_SHORTFALL, LEAST_FLICK_FS, MOTION_S, SHORTEST_SPAN_S
from feelcheck.model import Caveat, Estimate, Finding, FloatArray, HandView, MetricOutput, Segment
from feelcheck.numerics.uncertainty import combined

__all__ = ["METRIC", "FlickSpeedMetric", "peak_slope"]


FEW = Caveat(
    code="few_flicks_for_speed",
    text="Too few flicks moved this axis, so the own peak speed cannot be told.",
    advice="Record at least three quick flicks; diagonal ones move both axes.",
)
COARSE = Caveat(
    code="speed_over_reports",
    text="The reports lie so far apart that the peak of the speed falls between them.",
    advice="Log every report of the pad.",
)


class FlickSpeedMetric:
    """Peak speed of each axis over the flicks of a recording, in throws (centre to rim) a second."""

    name = "flick_speed"

    def measure(self, view: HandView) -> MetricOutput:
        """Return the mean of the flicks' peak speeds for every axis that was flicked."""
        found = []
        for stick in view.sticks:
            flicks = [s for s in view.segments if s.kind == "flick" and s.stick == stick.stick]
            if not flicks:
                continue
            reports = stick_reports(view, stick)
            span_s = _span(view, reports)
            for axis in filter(None, (stick.x, stick.y)):
                peaks = [_peak(reports, axis, flick, span_s) for flick in flicks]
                found.append(Finding(estimate=_estimate([p for p in peaks if p is not None], span_s), axis=axis))
        return MetricOutput(findings=tuple(found))


METRIC = FlickSpeedMetric()


def _span(view: HandView, reports: StickReports) -> float:
    """Return the time over which a slope is taken: two report intervals, or 6 ms where reports come faster."""
    apart = np.diff(reports.t_s)
    usual = view.clock.interval.value or float(np.median(apart[apart > 0]))
    return max(SHORTEST_SPAN_S, 2 * usual)


def _peak(reports: StickReports, axis: str, flick: Segment, span_s: float) -> tuple[float, float] | None:
    """Return a flick's peak speed and its travel."""
    first, last = np.searchsorted(reports.t_s, (flick.start_s, min(flick.end_s, flick.start_s + MOTION_S)))
    t_s, values = reports.t_s[first:last], reports.fractions(axis)[first:last]
    travel = float(values[-1] - values[0]) if t_s.size >= 3 else 0.0
    if abs(travel) < LEAST_FLICK_FS:
        return None
    return peak_slope(t_s, values * math.copysign(1.0, travel), span_s), abs(travel)


def peak_slope(t_s: FloatArray, values: FloatArray, span_s: float) -> float:
    """Return the steepest rise over a span of time.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Instants, non-decreasing.
    values : ndarray, shape (n,)
        Values, read off linearly between instants.
    span_s : float, s
        Over how much time each slope is taken.

    Returns
    -------
    float, 1/s

    Examples
    --------
    >>> round(peak_slope(np.array([0.0, 0.01, 0.02, 0.03]), np.array([0.0, 0.0, 0.5, 0.5]), 0.01), 9)
    50.0
    """
    starts = np.arange(t_s[0], max(t_s[-1] - span_s, t_s[0]) + 1e-9, span_s / 8)
    before, after = np.interp(starts, t_s, values), np.interp(starts + span_s, t_s, values)
    return float(np.max(after - before) / span_s)


def _estimate(peaks: list[tuple[float, float]], span_s: float) -> Estimate:
    """Return the mean peak; how much a span dulls the peak of a minimum-jerk motion counts as uncertainty.

    Its speed falls off as 1 - 8 d^2 about the middle (d in durations T, peak 1.875 travels / T), so the mean over a
    span s lies lower by 2/3 (s / T)^2.
    """
    unit = "throws/s"
    if len(peaks) < FLICKS_FOR_A_PEAK:
        return Estimate.not_resolved("peak_speed", unit=unit, n=len(peaks), caveats=(FEW,)).because("FLICKS_FOR_A_PEAK")
    values, travels = np.array(peaks).T
    mean, spread = float(values.mean()), float(values.std(ddof=1)) / math.sqrt(values.size)
    shortfall = 2 / 3 * (span_s * mean / (1.875 * float(travels.mean()))) ** 2
    if shortfall > LARGEST_SHORTFALL:
        slow = Estimate.at_least("peak_speed", mean - 2 * spread, unit=unit, n=values.size, caveats=(COARSE,))
        return slow.because("LARGEST_SHORTFALL")
    dulled = mean * shortfall / math.sqrt(3)
    u, terms = combined({"scatter of the flicks": spread, "span over which speed is taken": dulled})
    n = values.size
    return Estimate.measured("peak_speed", mean, u=u, unit=unit, n=n, dof=n - 1, scale="log", terms=terms)
