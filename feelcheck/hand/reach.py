"""The metric "reach": how far each axis gets, whether it stops short of the rim; how round, skewed and straight."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from feelcheck.hand.axes import StickReports, stick_reports
from feelcheck.hand.numbers import (
    AT_EXTREME,
    AT_RIM,
    CORRELATED_SECTORS,
    FLICKS_ALONG,
    MIN_IN_QUADRANT,
    MIN_SECTORS,
    N_SECTORS,
    STRAIGHT_DEG,
)
from feelcheck.model import Caveat, Estimate, Finding, FloatArray, HandView, MetricOutput, Trace
from feelcheck.numerics.uncertainty import NORMAL_95

__all__ = ["METRIC", "ReachMetric", "clipped_share", "rim_profile", "rim_skew"]

MAX_TRACE = 4000

HALF = "half a step of the codes"
WIDTH = "width of a sector"
NEIGHBOURS = "difference of neighbouring sectors"
SCATTER = "scatter of the flicks"

NO_ROLL = Caveat(
    code="rim_not_rolled",
    text="The stick was not rolled all the way round its rim.",
    advice="Roll the stick once slowly round the rim.",
)
AIM = Caveat(code="includes_aim", text="The thumb's own aim is part of it.", advice="Repeat with the stick guided.")
UNSEEN = Caveat(
    code="turn_unseen",
    text="Of a round rim only the skew is seen; a sensor turned as a whole shows in straight guided flicks alone.",
    advice="Flick straight along each axis, guided by a ruler, to see a turn.",
)
CLIPPED = Caveat(
    code="clipped_at_rim",
    text="The code stops at its extreme before the stick reaches the rim.",
    advice="Judge full throws by diagonal flicks, which stay below the extreme.",
)


class ReachMetric:
    """Reach, clipping, roundness and cross-axis response."""

    name = "reach"

    def measure(self, view: HandView) -> MetricOutput:
        """Return what the rim tells about every axis of every stick."""
        findings: list[Finding] = []
        traces: list[Trace] = []
        for stick in view.sticks:
            reports = stick_reports(view, stick)
            if reports.t_s.size < 10:
                continue
            if stick.x and stick.y:
                profile = rim_profile(*_rim(view, reports))
                traces.append(_trace(reports, profile))
            else:
                profile = np.full((2, N_SECTORS), np.nan)
            for row, axis in enumerate((stick.x, stick.y)):
                if axis:
                    estimates = [*_reach(view, reports, axis), *_clipping(reports, row, profile), *_round(profile)]
                    estimates += rim_skew(profile)
                    estimates += _straightness(view, reports, row)
                    findings += [Finding(estimate=e, axis=axis) for e in estimates]
        return MetricOutput(findings=tuple(findings), traces=tuple(traces))


METRIC = ReachMetric()


def _rim(view: HandView, reports: StickReports) -> tuple[FloatArray, FloatArray]:
    """Return the reports at the rim, those of a slow roll where there is one."""
    radius = np.hypot(reports.x_fs, reports.y_fs)
    rolls = [s for s in view.segments if s.stick == reports.stick.stick and s.kind in ("roll", "circle")]
    chosen = np.zeros(radius.size, dtype=bool)
    for roll in rolls:
        chosen |= (reports.t_s >= roll.start_s) & (reports.t_s < roll.end_s)
    if not rolls:
        chosen[:] = True
    chosen &= radius > AT_RIM * float(np.quantile(radius, 0.999))
    return reports.x_fs[chosen], reports.y_fs[chosen]


def rim_profile(x_fs: FloatArray, y_fs: FloatArray) -> FloatArray:
    """Return the median position in every 5 degrees round the rim.

    Parameters
    ----------
    x_fs, y_fs : ndarray, shape (n,), fraction
        Reports at the rim about the centre.

    Returns
    -------
    ndarray, shape (2, 72), fraction
        Median x and y for each sector, counter-clockwise from -180 degrees; NaN where no report fell.
    """
    profile = np.full((2, N_SECTORS), np.nan)
    sector = np.floor((np.degrees(np.arctan2(y_fs, x_fs)) + 180) * N_SECTORS / 360).astype(np.int64) % N_SECTORS
    for k in np.unique(sector):
        here = sector == k
        profile[:, k] = np.median(x_fs[here]), np.median(y_fs[here])
    return profile


def clipped_share(profile: FloatArray, row: int, extreme: float) -> float:
    """Return the share of the sectors round the rim in which one axis stands at an extreme.

    Parameters
    ----------
    profile : ndarray, shape (2, n)
        Farthest place of both axes in each sector, full throws; NaN where unseen.
    row : int
        The axis, 0 or 1.
    extreme : float
        Its farthest value, full throws.

    Examples
    --------
    >>> angle = np.radians(np.arange(-177.5, 180, 5))
    >>> round(clipped_share(np.clip([np.cos(angle), np.sin(angle)], -0.8, 0.8), 0, 0.8), 2)
    0.19
    """
    seen = np.isfinite(profile[row])
    if not seen.any():
        return 0.0
    return float(np.mean(np.abs(profile[row][seen] - extreme) <= 1e-6 * max(abs(extreme), 1.0)))


def _reach(view: HandView, reports: StickReports, axis: str) -> list[Estimate]:
    stream = view.recording.stream(axis)
    row = 0 if axis == reports.stick.x else 1
    centre, scale = reports.centre[row], stream.scale.reach
    apart = np.diff(np.unique(stream.codes))
    half_step = 0.5 * float(apart.min()) if apart.size else 0.5
    n, u = stream.codes.size, half_step / scale
    found = []
    for name, code in (("reach_high", stream.codes.max()), ("reach_low", stream.codes.min())):
        reach = abs(float(code) - centre) / scale
        found.append(Estimate.measured(name, reach, u=u, unit="fraction", n=n, by=HALF))
    return found


def _clipping(reports: StickReports, row: int, profile: FloatArray) -> list[Estimate]:
    values = reports.y_fs if row else reports.x_fs
    n = int(np.sum(np.isfinite(profile[row])))
    found = []
    for name, extreme in (("clipped_high", float(values.max())), ("clipped_low", float(values.min()))):
        if n < MIN_SECTORS:
            found.append(Estimate.not_resolved(name, unit="fraction", n=n, caveats=(NO_ROLL,)).because("MIN_SECTORS"))
            continue
        share = clipped_share(profile, row, extreme)
        # An unclipped round rim touches an extreme only in the sector or two about the axis.
        if share * n <= 2.5:
            found.append(Estimate.not_present(name, unit="fraction", n=n))
        else:
            u = 1 / N_SECTORS / math.sqrt(3)
            found.append(Estimate.measured(name, share, u=u, unit="fraction", n=n, caveats=(CLIPPED,), by=WIDTH))
    return found


def _round(profile: FloatArray) -> list[Estimate]:
    """Return how far the rim is from round once each axis is taken in its own full throws."""
    radius = np.hypot(*profile)
    radius = radius[np.isfinite(radius)]
    if radius.size < MIN_SECTORS:
        nothing = Estimate.not_resolved("circularity", unit="fraction", n=int(radius.size), caveats=(NO_ROLL,))
        return [nothing.because("MIN_SECTORS")]
    spread = float(np.ptp(radius) / radius.mean())
    u = float(np.median(np.abs(np.diff(radius)))) / float(radius.mean())
    return [Estimate.measured("circularity", spread, u=u, unit="fraction", n=int(radius.size), by=NEIGHBOURS)]


def _straightness(view: HandView, reports: StickReports, row: int) -> list[Estimate]:
    """Return how much the other axis shows in flicks along this one, and how far their direction is off."""
    slopes = []
    for flick in view.segments:
        if flick.kind != "flick" or flick.stick != reports.stick.stick or flick.direction_deg is None:
            continue
        off = (flick.direction_deg - 90 * row + 90) % 180 - 90
        if abs(off) <= STRAIGHT_DEG:
            slopes.append(math.tan(math.radians(off)) * (1 if row == 0 else -1))
    if len(slopes) < FLICKS_ALONG:
        return []
    values = np.array(slopes)
    u = float(values.std(ddof=1)) / math.sqrt(values.size)
    dof = values.size - 1
    middle = float(values.mean())
    angle = math.degrees(math.atan(middle))
    return [
        Estimate.measured(name, value, u=u_value, unit=unit, n=values.size, dof=dof, caveats=(AIM,), by=SCATTER)
        for name, value, u_value, unit in (
            ("cross_axis", middle, u, "fraction"),
            ("direction_error", angle, math.degrees(u), "deg"),
        )
    ]


def _trace(reports: StickReports, profile: FloatArray) -> Trace:
    every = max(reports.t_s.size // MAX_TRACE, 1)
    angles = (np.arange(N_SECTORS) + 0.5) * 360 / N_SECTORS - 180
    return Trace(
        kind="reach",
        axis=reports.stick.x,
        arrays={
            "x_fs": reports.x_fs[::every],
            "y_fs": reports.y_fs[::every],
            "angle_deg": angles,
            "rim_x_fs": profile[0],
            "rim_y_fs": profile[1],
        },
        marks={
            "x_high_fs": float(reports.x_fs.max()),
            "x_low_fs": float(reports.x_fs.min()),
            "y_high_fs": float(reports.y_fs.max()),
            "y_low_fs": float(reports.y_fs.min()),
        },
        labels={"x": reports.stick.x, "y": reports.stick.y, "stick": reports.stick.stick},
    )


def rim_skew(profile: FloatArray) -> tuple[Estimate, Estimate]:
    """Return how much each axis shows of the other, and the largest error of direction round the rim.

    Parameters
    ----------
    profile : ndarray, shape (2, n), fraction
        Position at the rim for each sector, NaN where none was seen.

    Returns
    -------
    tuple of Estimate
        ``rim_skew`` (signed, fraction of the other axis; 0.05 lets x show x + 0.05 y and y show y + 0.05 x) and
        ``rim_direction_error`` (deg, without sign).

    Notes
    -----
    A conic a x^2 + b x y + c y^2 = 1 is fitted to the sectors that do not stand at an extreme, each axis in its own
    reach. For a small skew s of a round rim b = -4 s. Neighbouring sectors share the rim's own shape, so six of them
    count as one.
    """
    x, y = profile[:, np.isfinite(profile).all(axis=0)]
    n_seen = int(x.size)
    kept = np.ones(x.size, dtype=bool)
    for values in (x, y):
        for extreme in (values.max(initial=-np.inf), values.min(initial=np.inf)):
            at = np.abs(values - extreme) <= AT_EXTREME * abs(extreme)
            if at.sum() > 5:
                kept &= ~at
    x, y = x[kept], y[kept]
    quadrants = np.bincount(2 * (x > 0) + (y > 0), minlength=4)
    if n_seen < MIN_SECTORS or quadrants.min() < MIN_IN_QUADRANT:
        unknown = Estimate.not_resolved("rim_skew", unit="fraction", n=int(x.size), caveats=(NO_ROLL,))
        unknown = unknown.because("MIN_SECTORS" if n_seen < MIN_SECTORS else "MIN_IN_QUADRANT")
        return unknown, replace(unknown, quantity="rim_direction_error", unit="deg")
    skew, u = _fitted(x, y)
    size, widest = abs(skew), NORMAL_95 * u
    caveats, by = (UNSEEN,), CORRELATED_SECTORS.sets
    found = Estimate.measured("rim_skew", skew, u=u, unit="fraction", n=int(x.size), caveats=caveats, by=by)
    if size <= widest:
        bound = math.degrees(math.atan(size + widest))
        return found, Estimate.at_most("rim_direction_error", bound, unit="deg", n=int(x.size), caveats=caveats)
    error = math.degrees(math.atan(size))
    return found, Estimate.measured(
        "rim_direction_error", error, u=math.degrees(u), unit="deg", n=int(x.size), caveats=caveats, by=by
    )


def _fitted(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    design = np.stack([x**2, x * y, y**2], axis=1)
    solution, *_ = np.linalg.lstsq(design, np.ones(x.size), rcond=None)
    # the symmetric root of the conic's inverse takes a round rim to the one seen: its mixed part is the skew
    square = np.linalg.inv(np.array([[solution[0], solution[1] / 2], [solution[1] / 2, solution[2]]]))
    levels, turns = np.linalg.eigh(square)
    stretch = turns @ np.diag(np.sqrt(np.maximum(levels, 0.0))) @ turns.T
    skew = float(stretch[0, 1] / math.sqrt(stretch[0, 0] * stretch[1, 1]))
    left = 1 - design @ solution
    variance = float(left @ left) / (x.size - 3) * CORRELATED_SECTORS
    u_mixed = math.sqrt(variance * float(np.linalg.inv(design.T @ design)[1, 1]))
    return skew, u_mixed / (4 * math.sqrt(abs(solution[0] * solution[2])))
