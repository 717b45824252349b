"""The metric "refresh": how often the sensor or converter behind the reports brings a new value."""

from __future__ import annotations

import math

import numpy as np

from feelcheck.hand.fast_motion import Motion, fast_stretches, motion_on_reports
from feelcheck.hand.holds import HoldPattern, find_holds
from feelcheck.hand.interpolated import is_interpolated
from feelcheck.hand.lattice import Lattice, axis_lattice, number_grid
from feelcheck.hand.numbers import (
    ABOVE_NOISE,
    CLOSE_STEPS,
    LONGEST_FALL,
    LONGEST_PERIOD,
    MIN_HELD,
    PAST_END,
    ROUNDING,
    STILL_REPORTS,
    STOP_S,
)
from feelcheck.hand.ripple import Ripple, find_ripple, longest_hidden
from feelcheck.hand.slow_updates import find_slow_updates
from feelcheck.model import Caveat, Estimate, Finding, FloatArray, HandView, MetricOutput, Stream, Trace

__all__ = ["METRIC", "RefreshMetric", "longest_average", "smoothing_limit", "update_interval"]

SPEEDS = (2.5, 1.5)  # steps per report; the slower is tried where the steps are coarse
REPEATS, CHANGES, RIPPLE = "spacing of the repeats", "spacing of the changes", "frequency of the ripple"
QUIET = MIN_HELD  # share of repeats that loss and noise may leave

BENCH = "Measure the sensor on the bench: a scope sees steps that are shorter than a report."
NO_CLOCK = Caveat(
    code="no_report_clock",
    text="Repeated values cannot be told from silence because the report interval is not known.",
    advice="Record with time stamps of the device or the kernel.",
)
NO_MOTION = Caveat(
    code="too_little_fast_motion",
    text="No motion was fast enough to change the value with every report.",
    advice="Record quick flicks over the whole range.",
)
IRREGULAR = Caveat(
    code="irregular_repeats",
    text="Reports repeat values during motion, but in no regular pattern: lost or doubled reports, or a busy host.",
    advice="Record again on a quiet machine with a cable.",
)
SMOOTHED = Caveat(
    code="smoothing_hides_refresh",
    text="The signal is smoothed so much that steps of the source would not show.",
    advice=BENCH,
)
INTERPOLATED = Caveat(
    code="interpolated",
    text="The motion runs in straight pieces of several rows: the log was interpolated between reports.",
    advice="Log the reports themselves, with their own time stamps.",
)
FASTER = Caveat(
    code="faster_than_reports",
    text="Every report in fast motion brings a new value; up to the limit smoothing may hide a slower source.",
    advice=BENCH,
)


class RefreshMetric:
    """Update interval of each axis from repeats and ripple in fast motion."""

    name = "refresh"

    def measure(self, view: HandView) -> MetricOutput:
        """Return the update interval of every axis, as a value, a bound, or the reason why it cannot be told."""
        findings: list[Finding] = []
        traces: list[Trace] = []
        for stream in view.recording.streams:
            t_s = view.clock.report_t_s[stream.name]
            findings.append(Finding(estimate=view.once(update_interval, stream), axis=stream.name))
            traces.append(_trace(stream, np.asarray(t_s), _report_interval(view, stream)))
        return MetricOutput(findings=tuple(findings), traces=tuple(traces))


METRIC = RefreshMetric()


def _report_interval(view: HandView, stream: Stream) -> float | None:
    clock = view.clock
    if clock.trusted and clock.interval.value is not None:
        return clock.interval.value
    return stream.time.regular_interval_s


def update_interval(view: HandView, stream: Stream) -> Estimate:
    """Return how often the source of an axis brings a new value: a value, a bound, or the reason why it is not told.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    stream : Stream
        One of its axes.
    """
    interval_s = _report_interval(view, stream)
    if stream.codes.size < 3:
        return Estimate.not_resolved("update_interval", unit="s", caveats=(NO_CLOCK,))
    step, unit = _step_and_unit(stream, axis_lattice(view, stream))
    codes = stream.codes / step
    t_s = np.asarray(view.clock.report_t_s[stream.name])
    if interval_s is None:
        return _slow_or(Estimate.not_resolved("update_interval", unit="s", caveats=(NO_CLOCK,)), t_s, codes)
    motions = motion_on_reports(t_s, codes, interval_s, silent=stream.reports == "on_change")
    holds, min_speed = HoldPattern(held_fraction=0.0, n_reports=0, n_stretches=0), SPEEDS[-1]
    noise = _noise(motions)
    least = ABOVE_NOISE * noise if noise > ROUNDING else 0.0
    for speed in SPEEDS:
        min_speed = max(speed, least)
        holds = find_holds(motions, min_speed)
        if holds.n_reports >= 60:
            break
    if holds.n_reports < 30:
        nothing = Estimate.not_resolved("update_interval", unit="s", n=holds.n_reports, caveats=(NO_MOTION,))
        return _slow_or(nothing, t_s, codes)
    if holds.interval_s is not None and holds.u_s is not None:
        return Estimate.measured(
            "update_interval", holds.interval_s, u=holds.u_s, unit="s", n=holds.n_stretches, scale="log", by=REPEATS
        )
    if holds.held_fraction > QUIET:
        nothing = Estimate.not_resolved("update_interval", unit="s", n=holds.n_reports, caveats=(IRREGULAR,))
        return _slow_or(nothing, t_s, codes)
    return _without_holds(motions, min_speed, holds, interval_s, unit)


def _slow_or(nothing: Estimate, t_s: FloatArray, codes: FloatArray) -> Estimate:
    """Return the interval of a source far slower than the rows, or what else there is to say."""
    slow = find_slow_updates(t_s, codes)
    if slow is None:
        return nothing
    return Estimate.measured(
        "update_interval", slow.interval_s, u=slow.u_s, unit="s", n=slow.n, scale="log", by=CHANGES
    )


def _step_and_unit(stream: Stream, lattice: Lattice) -> tuple[float, float]:
    """Return the step between codes in the log's own numbers, and the smallest difference written, in steps."""
    step = lattice.finer or lattice.step
    if step is not None:
        return step, 1.0
    grid = number_grid(stream.codes, 0.0)
    if grid.kind != "float":
        return grid.unit_step, 1.0
    gaps = np.diff(np.unique(stream.codes))
    step = float(max(np.median(gaps), 1e-6 * np.ptp(stream.codes))) if gaps.size else 1.0
    return step, grid.unit_step / step


def _without_holds(
    motions: list[Motion], min_speed: float, holds: HoldPattern, interval_s: float, unit: float
) -> Estimate:
    n = holds.n_reports
    if is_interpolated(motions, min_speed, unit):
        return Estimate.not_resolved("update_interval", unit="s", n=n, caveats=(INTERPOLATED,))
    ripple = find_ripple(motions, min_speed)
    if ripple.frequency is not None:
        return _from_ripple(ripple, interval_s, n)
    smoothing = smoothing_limit(motions, min_speed)
    hidden = longest_hidden(ripple, smoothing)
    average = longest_average(motions, min_speed)
    if hidden is not None and smoothing >= 0.5:
        hidden = max(hidden, average or 3 * smoothing)
    if hidden is None or hidden > LONGEST_PERIOD:
        return Estimate.not_resolved("update_interval", unit="s", n=n, caveats=(SMOOTHED,))
    return Estimate.at_most("update_interval", hidden * interval_s, unit="s", n=n, caveats=(FASTER,))


def _noise(motions: list[Motion]) -> float:
    """Return the noise of one report in steps, from stretches in which the stick stays; 0 where it never does."""
    found: list[FloatArray] = []
    for motion in motions:
        n = motion.codes.size // STILL_REPORTS
        blocks = motion.codes[: n * STILL_REPORTS].reshape(n, STILL_REPORTS)
        half = STILL_REPORTS // 2
        moved = np.abs(blocks[:, half:].mean(axis=1) - blocks[:, :half].mean(axis=1))
        bends = np.sqrt(np.mean(np.diff(blocks, 2, axis=1) ** 2, axis=1) / 6)
        found.append(bends[moved < 2])
    still = np.concatenate(found) if found else np.zeros(0)
    return float(np.quantile(still, 0.75)) if still.size >= 5 else 0.0


def _from_ripple(ripple: Ripple, interval_s: float, n: int) -> Estimate:
    slow = interval_s / (ripple.frequency or 0.5)
    # No source faster than half the report rate can ripple by more than this (a bare staircase at its alias).
    if ripple.amplitude > 1.25 / (math.pi * (1 - (ripple.frequency or 0.5))):
        return Estimate.measured("update_interval", slow, u=0.005 * slow, unit="s", n=n, scale="log", by=RIPPLE)
    fast = interval_s / (1 - (ripple.frequency or 0.5))
    caveat = Caveat(
        code="ambiguous_ripple",
        text=f"The motion ripples as from a source refreshed every {slow * 1e3:.3g} ms, every {fast * 1e3:.3g} ms or "
        "faster; reports this far apart cannot tell which.",
        advice=BENCH,
    )
    return Estimate.at_most("update_interval", 1.02 * slow, unit="s", n=n, caveats=(caveat,))


def _trace(stream: Stream, t_s: FloatArray, interval_s: float | None) -> Trace:
    changes = t_s[np.flatnonzero(np.diff(stream.codes) != 0) + 1]
    marks = {} if interval_s is None else {"report_interval_s": interval_s}
    return Trace(
        kind="intervals",
        axis=stream.name,
        arrays={"report_interval_s": np.diff(stream.time.t_hi_s), "change_interval_s": np.diff(changes)},
        marks=marks,
    )


def smoothing_limit(motions: list[Motion], min_speed: float) -> float:
    """Return an upper bound of the smoothing time constant in reports, infinite where no stop shows one.

    Parameters
    ----------
    motions : list of Motion
        One axis, all parts.
    min_speed : float
        Steps per report from which motion counts as fast.

    Notes
    -----
    Behind one pole the distance to the final value cannot shrink faster than exp(-t / tau), however hard the stop.
    Stops that swing past their end say nothing and are left out.
    """
    rates = []
    for motion in motions:
        ahead = max(4, round(STOP_S / motion.interval_s))
        speed = motion.speed()
        for a, b in fast_stretches(speed, min_speed):
            x = motion.codes[a : b + ahead]
            distance = (x - x[-1]) * np.sign(x[0] - x[-1])
            near = distance[: int(np.argmax(distance <= CLOSE_STEPS))]
            if near.size > 2 and np.min(distance) > -PAST_END:
                rates.append(float(np.max(np.log(near[:-1] / near[1:]))))
    fastest = float(np.quantile(rates, 0.75)) if len(rates) >= 3 else 0.0
    return 1 / fastest if fastest > 1e-3 else math.inf


def longest_average(motions: list[Motion], min_speed: float) -> float | None:
    """Return the longest moving average, in reports, that the sharpest stops leave room for; None where none is seen.

    Parameters
    ----------
    motions : list of Motion
        One axis, all parts.
    min_speed : float
        Steps per report from which motion counts as fast.

    Notes
    -----
    An average lets the speed fall evenly to nothing, one pole ever more slowly: a stop that spends longer between 40
    and 15 % of its speed than between 75 and 40 % shows a pole, and 1 is returned.
    """
    falls = []
    for motion in motions:
        pace = np.abs(np.diff(motion.codes, append=motion.codes[-1:]))
        speed = motion.speed()
        for a, b in fast_stretches(speed, max(min_speed, 6.0)):
            before = pace[max(a, b - LONGEST_FALL) : b]
            level = float(np.quantile(before, 0.75))
            full = b - 1 - int(np.argmax(before[::-1] >= level))
            after = pace[full : b + LONGEST_FALL] / level
            passed = [_first_below(after, share) for share in (0.75, 0.4, 0.15)]
            if passed[-1] is not None:
                falls.append(np.diff(np.array(passed, dtype=np.float64)))
    if len(falls) < 4:
        return None
    early, late = np.quantile(np.array(falls), 0.25, axis=0)
    return 1.0 if late > early else float((early + late) / 0.6)


def _first_below(values: FloatArray, share: float) -> float | None:
    """Return where a falling series first passes a share, by a straight line between neighbours."""
    index = int(np.argmax(values < share))
    if values.size == 0 or not values[index] < share:
        return None
    if index == 0:
        return 0.0
    return index - 1 + float((values[index - 1] - share) / (values[index - 1] - values[index]))
