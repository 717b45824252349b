"""The metric "rest": noise and drift of a stick left alone, where it comes back to, and a hidden dead zone."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass

import numpy as np

from feelcheck.hand.axes import stick_reports
from feelcheck.hand.dead_zone import dead_zone
from feelcheck.hand.fast_motion import motion_on_reports
from feelcheck.hand.lattice import axis_lattice
from feelcheck.hand.numbers import (
    BOUNDED,
    LEAVE_S,
    LIMITED,
    MIN_READINGS,
    MIN_REST_S,
    MIN_RETURNS,
    NEXT_S,
    RESTS_AFTER_S,
    TOUCHED,
)
from feelcheck.model import (
    Caveat,
    Estimate,
    Finding,
    FloatArray,
    HandView,
    MetricOutput,
    Segment,
    StickAxes,
    Stream,
    Trace,
)
from feelcheck.numerics.allan import averaging_factors, oadev
from feelcheck.numerics.descriptive import describe
from feelcheck.numerics.uncertainty import combined

__all__ = ["METRIC", "RestMetric"]


NO_REST = Caveat(
    code="no_rest",
    text="The stick was never left alone long enough.",
    advice="Let go of the stick for a few seconds while recording.",
)
NO_RETURNS = Caveat(
    code="too_few_returns",
    text="The stick was let go too few times to judge where it comes back to.",
    advice="Flick and let go at least four times in each direction.",
)
HALF, ROUNDED = "half a step of the codes", "rounding of the codes"
STEPS = Caveat(
    code="step_limited",
    text="The readings at rest stay within a step or two: they tell the noise of the codes, not of the signal.",
    advice="Log at a finer resolution, or measure the noise on the bench.",
)
DRIFT = Caveat(
    code="drift",
    text="Averages at rest do not steady as white noise would: the reading drifts.",
    advice="Let the controller warm up and record a longer rest.",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rest:
    """One stretch of rest of one axis: readings on an even time grid, and the side it came back from."""

    t_s: FloatArray
    readings: FloatArray
    came_from: float | None


class RestMetric:
    """Noise, drift, offset, return error and dead zone of each axis."""

    name = "rest"

    def measure(self, view: HandView) -> MetricOutput:
        """Return the findings at rest for every axis of every stick."""
        findings: list[Finding] = []
        traces: list[Trace] = []
        for stick in view.sticks:
            reaches = stick_reports(view, stick).reach
            for name, reach in zip((stick.x, stick.y), reaches, strict=True):
                if not name:
                    continue
                stream = view.recording.stream(name)
                rests = _rests(view, stick, stream, reach)
                step = _step(view, stream)
                estimates = [*_noise(rests, stream, step, reach), *_offsets(rests, stream, step, reach)]
                estimates.append(_dead_zone(view, stream, rests, step, reach))
                findings += [Finding(estimate=e, axis=name) for e in estimates]
                traces += _traces(rests, name)
        return MetricOutput(findings=tuple(findings), traces=tuple(traces))


METRIC = RestMetric()


def _step(view: HandView, stream: Stream) -> float:
    lattice = axis_lattice(view, stream)
    if lattice.step is not None:
        return lattice.step
    return 1.0 if stream.scale.unit == "counts" else 0.0


def _rests(view: HandView, stick: StickAxes, stream: Stream, reach: float) -> list[Rest]:
    mine = [s for s in view.segments if s.stick == stick.stick]
    releases = [s for s in mine if s.kind == "release"]
    still = [s for s in mine if s.kind == "rest" and s.end_s - s.start_s > MIN_REST_S]
    found = [_rest(view, stream, segment, releases, reach) for segment in still]
    return _calm([rest for rest in found if rest is not None])


def _calm(rests: list[Rest]) -> list[Rest]:
    """Return the rests without those in which the stick was touched: far more spread than the quieter half."""
    if len(rests) < 3:
        return rests
    spreads = np.array([np.std(rest.readings) for rest in rests])
    limit = TOUCHED * float(np.median(spreads)) + float(np.ptp(np.unique(rests[int(np.argmin(spreads))].readings)[:2]))
    return [rest for rest, spread in zip(rests, spreads, strict=True) if spread <= limit]


def _rest(view: HandView, stream: Stream, segment: Segment, releases: list[Segment], reach: float) -> Rest | None:
    t_s = np.asarray(view.clock.report_t_s[stream.name])
    end_s = segment.end_s - min(LEAVE_S, (segment.end_s - segment.start_s) / 6)
    start = segment.start_s + min(RESTS_AFTER_S, (segment.end_s - segment.start_s) / 3)
    interval_s = _interval(view, t_s)
    if interval_s is None:
        return None
    if stream.reports == "on_change":
        grid = np.arange(start, end_s, interval_s)
        index = np.searchsorted(t_s, grid, side="right") - 1
        grid, index = grid[index >= 0], index[index >= 0]
    else:
        index = np.arange(np.searchsorted(t_s, start), np.searchsorted(t_s, end_s))
        grid = t_s[index]
    if index.size < MIN_READINGS:
        return None
    readings = stream.codes[index].astype(np.float64)
    return Rest(
        t_s=grid, readings=readings, came_from=_came_from(t_s, stream, segment, releases, float(readings.mean()), reach)
    )


def _came_from(
    t_s: FloatArray, stream: Stream, rest: Segment, releases: list[Segment], rest_code: float, reach: float
) -> float | None:
    """Return where on this axis the stick was let go just before a rest, in fractions of full throw, or None."""
    last = bisect_left(releases, rest.start_s + NEXT_S, key=lambda release: release.end_s) - 1
    if last < 0 or releases[last].end_s <= rest.start_s - NEXT_S:
        return None
    index = int(np.searchsorted(t_s, releases[last].start_s, side="right")) - 1
    return (float(stream.codes[index]) - rest_code) / reach if index >= 0 else None


def _dead_zone(view: HandView, stream: Stream, rests: list[Rest], step: float, reach: float) -> Estimate:
    step = step or 1e-5 * reach
    t_s = np.asarray(view.clock.report_t_s[stream.name])
    interval_s = _interval(view, t_s)
    motions = []
    if interval_s is not None:
        silent = stream.reports == "on_change"
        motions = motion_on_reports(t_s, stream.codes / step, interval_s, silent=silent)
    readings = [rest.readings for rest in rests]
    rest = float(np.median(np.concatenate(readings))) / step if readings else None
    rms = float(np.median([np.std(values) for values in readings])) / step if readings else 0.0
    return dead_zone(motions, rest, rms, reach / step)


def _interval(view: HandView, t_s: FloatArray) -> float | None:
    if view.clock.interval.value is not None:
        return view.clock.interval.value
    middle = float(np.median(np.diff(t_s))) if t_s.size > 1 else 0.0
    return middle if middle > 0 else None


def _noise(rests: list[Rest], stream: Stream, step: float, reach: float) -> list[Estimate]:
    unit = stream.scale.unit
    if not rests:
        return [Estimate.not_resolved("rest_noise", unit=unit, caveats=(NO_REST,))]
    parts = [describe(rest.readings) for rest in rests]
    n = sum(part.n for part in parts)
    dof = max(sum(part.n_effective - 1 for part in parts), 1.0)
    rms = math.sqrt(sum(part.sd**2 * (part.n - 1) for part in parts) / sum(part.n - 1 for part in parts))
    peak_to_peak = max(float(np.ptp(rest.readings)) for rest in rests)
    found = [Estimate.measured("rest_peak_to_peak", peak_to_peak, u=step / 2, unit=unit, n=n, by=HALF)]
    if rms < BOUNDED * step or rms == 0:
        bound = 1.2 * step / math.sqrt(12) if step > 0 else 1e-6 * reach
        found.append(Estimate.at_most("rest_noise", bound, unit=unit, n=n, caveats=(STEPS,)).because("BOUNDED"))
        return found
    spread = float(np.std([part.sd for part in parts])) / math.sqrt(len(parts))
    u, terms = combined({"number of independent readings": rms / math.sqrt(2 * dof), "difference of the rests": spread})
    caveats = (STEPS,) if rms < LIMITED * step else ()
    found.append(
        Estimate.measured("rest_noise", rms, u=u, unit=unit, n=n, dof=dof, scale="log", caveats=caveats, terms=terms)
    )
    return [*found, *_drift(rests, unit)]


def _drift(rests: list[Rest], unit: str) -> list[Estimate]:
    """Return how unsteady averages over the longest useful time are, and whether white noise explains it."""
    longest = max(rests, key=lambda rest: rest.readings.size)
    readings = longest.readings
    factors = averaging_factors(readings.size)
    if len(factors) < 3 or np.ptp(readings) == 0:
        return []
    m = factors[-1]
    deviation = oadev(readings, m)
    pairs = readings.size / m - 1
    white = oadev(readings, 1) / math.sqrt(m)
    # Over few pairs the ratio to white noise alone reaches 2 only rarely (chi-square, 3 degrees of freedom: 0.7 %).
    drifts = deviation > 2.0 * white
    found = Estimate.measured(
        "rest_drift",
        deviation,
        u=deviation / math.sqrt(2 * pairs),
        unit=unit,
        n=readings.size,
        dof=pairs,
        caveats=(DRIFT,) if drifts else (),
        by="number of independent averages",
    )
    time_s = m * float(longest.t_s[-1] - longest.t_s[0]) / max(readings.size - 1, 1)
    return [found, Estimate.measured("rest_drift_time", time_s, u=0.0, unit="s", n=readings.size)]


def _offsets(rests: list[Rest], stream: Stream, step: float, reach: float) -> list[Estimate]:
    if not rests:
        return [Estimate.not_resolved("return_error", unit="fraction", caveats=(NO_REST,))]
    points = np.array([float(np.mean(rest.readings)) for rest in rests])
    found = []
    offset = (float(np.median(points)) - stream.scale.centre) / reach
    scatter, rounding = float(np.std(points)) / math.sqrt(points.size), step / math.sqrt(12)
    u, by = max((scatter, "scatter of the rests"), (rounding, ROUNDED))
    found.append(Estimate.measured("rest_offset", offset, u=u / reach, unit="fraction", n=points.size, by=by))
    returned = [
        (point, rest.came_from) for point, rest in zip(points, rests, strict=True) if rest.came_from is not None
    ]
    return [*found, *_return_error(np.array([p for p, _ in returned]), np.array([c for _, c in returned]), reach, step)]


def _return_error(points: FloatArray, sides: FloatArray, reach: float, step: float) -> list[Estimate]:
    n = points.size
    if n < MIN_RETURNS:
        return [
            Estimate.not_resolved("return_error", unit="fraction", n=n, caveats=(NO_RETURNS,)).because("MIN_RETURNS")
        ]
    spread = float(np.std(points, ddof=1))
    if spread < step / math.sqrt(12) or spread == 0:
        bound = step / reach if step > 0 else 1e-6
        return [Estimate.at_most("return_error", bound, unit="fraction", n=n, caveats=(STEPS,))]
    found = [
        Estimate.measured(
            "return_error",
            spread / reach,
            u=spread / reach / math.sqrt(2 * (n - 1)),
            unit="fraction",
            n=n,
            dof=n - 1,
            scale="log",
            by="number of returns",
        )
    ]
    high, low = points[sides > 0.3], points[sides < -0.3]
    if min(high.size, low.size) >= 3:
        difference = float(high.mean() - low.mean())
        variances = {
            "scatter of the returns from high": float(high.var(ddof=1)) / high.size,
            "scatter of the returns from low": float(low.var(ddof=1)) / low.size,
            ROUNDED: step**2 / 12,
        }
        u = math.sqrt(sum(variances.values())) / reach
        terms = combined({words: math.sqrt(variance) / reach for words, variance in variances.items()})[1]
        dof = float(min(high.size, low.size) - 1)
        found.append(
            Estimate.measured("return_hysteresis", difference / reach, u=u, unit="fraction", n=n, dof=dof, terms=terms)
        )
    return found


def _traces(rests: list[Rest], name: str) -> list[Trace]:
    if not rests:
        return []
    longest = max(rests, key=lambda rest: rest.readings.size)
    factors = averaging_factors(longest.readings.size)
    interval_s = float(longest.t_s[-1] - longest.t_s[0]) / (longest.t_s.size - 1)
    points = [float(np.mean(rest.readings)) for rest in rests]
    sides = [np.nan if rest.came_from is None else rest.came_from for rest in rests]
    return [
        Trace(
            kind="rest",
            axis=name,
            arrays={
                "t_s": longest.t_s,
                "reading": longest.readings,
                "averaging_s": interval_s * np.array(factors, dtype=np.float64),
                "allan_deviation": np.array([oadev(longest.readings, m) for m in factors]),
                "rest_point": np.array(points),
                "came_from": np.array(sides),
            },
        )
    ]
