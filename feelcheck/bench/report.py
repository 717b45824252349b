"""All edges of one direction become one response."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from feelcheck.bench.delays import area_estimate, dead_time, mean_delay, smoothing_delay
from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.numbers import SETTLED, VAGUE
from feelcheck.bench.pooling import NOISE_OVER_EDGES, pool
from feelcheck.bench.response_times import part_at_once, pole_estimates, refused, second_order_extra, time_constant
from feelcheck.model import BenchDirection, Caveat, Estimate, Status, Term
from feelcheck.numerics.one_pole import LN9, transition_10_90
from feelcheck.numerics.uncertainty import NORMAL_95, combined, coverage_interval, scaled_estimate

__all__ = ["held_direction", "level_extra", "limited_by_hold", "report_direction"]

AVERAGE_SHARE = 1.6
"""10-90 % of the straight line that an average makes of a step, in its mean delays."""
MAY_HOLD = Caveat(
    code="may_hold",
    text="A sensor that samples internally and holds its values would look about the same here as this pole: the time"
    " constant is an upper limit.",
    advice="Zoom the scope in on the edge, step the field over several milliseconds, and lift the capacitors.",
)


TOGETHER = Caveat(
    code="known_together",
    text="What the smoothing is made of is hardly told apart here: the time constant of the slowest part is an upper"
    " limit, while their sum, the smoothing delay, is known.",
    advice="Compare smoothing delays; a faster drive and more samples in the edge tell the parts apart.",
)


def report_direction(found: DirectionFits) -> BenchDirection:
    """Return the response of one direction as estimates with statuses.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    """
    slow = time_constant(found)
    smoothing = smoothing_delay(found, slow)
    dead = dead_time(found)
    area = area_estimate(found)
    extra = {} if area is None else {"area_delay": area}
    extra |= second_order_extra(found) | level_extra(found, slow) | part_at_once(found)
    if slow.status is Status.AT_MOST and smoothing.is_ok and found.shape in ("two_pole", "pole_and_average"):
        slow = replace(slow, caveats=(*slow.caveats, TOGETHER))
    return BenchDirection(
        time_constant=slow,
        poles=pole_estimates(found, slow),
        transition_10_90=_transition_as_read(found),
        step_transition_10_90=_step_transition(found, slow, smoothing),
        dead_time=dead,
        smoothing_delay=smoothing,
        mean_delay=mean_delay(found, smoothing, dead, area),
        settled_fraction=_settled_fraction(found, slow),
        saturated=any(fit.saturated for fit in found.fits),
        n_edges=found.n_edges,
        model=found.shape if found.fits_well else "unexplained",
        extra=MappingProxyType(extra),
    )


def limited_by_hold(direction: BenchDirection) -> BenchDirection:
    """Return a response whose pole may be a sensor that holds its values: its time constants are upper limits.

    Then what reads as dead time may be smoothing, too.

    Parameters
    ----------
    direction : BenchDirection
        The response to be limited.
    """
    _, whole = coverage_interval(direction.mean_delay)
    _, smooth = coverage_interval(direction.smoothing_delay)
    return replace(
        direction,
        poles=(),
        time_constant=_at_most(direction.time_constant, smooth or 0.0),
        smoothing_delay=_at_most(direction.smoothing_delay, whole or 0.0),
        step_transition_10_90=_at_most(direction.step_transition_10_90),
    )


def held_direction(direction: BenchDirection, interval_s: float) -> BenchDirection:
    """Return a response behind a held drive: the instants of the hold are known to a sample, and so is a pole.

    Parameters
    ----------
    direction : BenchDirection
        The response to be limited.
    interval_s : float, s
        Time between two samples of the capture.
    """
    slow, u_s = direction.time_constant, interval_s / math.sqrt(12)
    direction = replace(
        direction, dead_time=_wider(direction.dead_time, u_s), mean_delay=_wider(direction.mean_delay, u_s)
    )
    if not slow.is_ok or slow.value is None or slow.value > interval_s:
        return replace(
            direction,
            poles=tuple(_wider(pole, u_s) for pole in direction.poles),
            time_constant=_wider(slow, u_s),
            smoothing_delay=_wider(direction.smoothing_delay, u_s),
        )

    def limit(estimate: Estimate, least_s: float = interval_s) -> Estimate:
        if not estimate.is_ok:
            return estimate
        bound = max(coverage_interval(estimate)[1] or 0.0, least_s)
        return Estimate.at_most(estimate.quantity, bound, unit=estimate.unit, n=estimate.n, caveats=estimate.caveats)

    return replace(
        direction,
        poles=(),
        time_constant=limit(slow),
        smoothing_delay=limit(direction.smoothing_delay),
        step_transition_10_90=limit(direction.step_transition_10_90, LN9 * interval_s),
    )


def _wider(estimate: Estimate, u_s: float) -> Estimate:
    if not estimate.is_ok or estimate.u is None:
        return estimate
    own = estimate.terms or (Term("without the hold", estimate.u),)
    return replace(estimate, u=math.hypot(estimate.u, u_s), terms=(*own, Term("instants of the hold", u_s)))


def _at_most(estimate: Estimate, least: float = 0.0) -> Estimate:
    _, high = coverage_interval(estimate)
    if not estimate.is_ok or high is None:
        return estimate
    high = max(high, least)
    caveats = (*estimate.caveats, MAY_HOLD)
    return Estimate.at_most(estimate.quantity, high, unit=estimate.unit, n=estimate.n, caveats=caveats)


def _step_transition(found: DirectionFits, slow: Estimate, smoothing: Estimate) -> Estimate:
    """The 10-90 % duration that an ideal step would give."""
    name, n = "step_transition_10_90", len(found.fits)
    if not found.fits_well:
        return refused(name, found)
    if found.shape in ("one_pole", "none"):
        return scaled_estimate(slow, _step_factor(found), quantity=name, unit="s")
    if found.has_zero or any(fit.has_tail for fit in found.fits):
        return Estimate.not_resolved(name, unit="s", n=n)
    if found.shape == "average":
        return scaled_estimate(smoothing, AVERAGE_SHARE, quantity=name, unit="s")
    if found.shape == "two_pole" and slow.is_ok and slow.value and slow.u is not None:
        value = float(np.median([transition_10_90(fit.poles_s) for fit in found.fits]))
        u, terms = combined({"time constant of the slower pole": value * min(slow.u / slow.value, 1.0)})
        return Estimate.measured(name, value, u=u, unit="s", n=n, terms=terms)
    return Estimate.not_resolved(name, unit="s", n=n)


def _step_factor(found: DirectionFits) -> float:
    """Time constants that the 10-90 % way of an ideal step takes: ln 9, less where a part follows at once."""
    at_once = float(np.median([fit.beside_share for fit in found.fits]))
    return float(np.log((1 - at_once) / 0.1) - max(np.log((1 - at_once) / 0.9), 0.0))


def _transition_as_read(found: DirectionFits) -> Estimate:
    """The 10-90 % duration as it was read; at_least where the edge was not seen to its end."""
    name, n = "transition_10_90", len(found.fits)
    complete = [reading for reading in found.readings if reading.transition is not None]
    if len(complete) < 0.5 * len(found.readings) or found.settled_fraction < SETTLED or found.shape.endswith("_open"):
        longest = float(np.median([reading.longest_s for reading in found.readings]))
        return Estimate.at_least(name, longest, unit="s", n=n)
    durations = [reading.transition.duration for reading in complete if reading.transition]
    value, u = pool(durations, [reading.u_duration_s for reading in complete])
    u, terms = combined({"instants where the levels are crossed, over edges": u})
    return Estimate.measured(name, value, u=u, unit="s", n=len(complete), terms=terms)


def _settled_fraction(found: DirectionFits, slow: Estimate) -> Estimate:
    """The way covered when the window ends."""
    name, n = "settled_fraction", len(found.fits)
    if found.shape == "ramp_open" or not found.fits_well:
        return Estimate.not_resolved(name, unit="fraction", n=n)
    u = float(np.median([reading.u_settled for reading in found.readings]))
    if not np.isfinite(u) or u > VAGUE or _is_open(found, slow):
        return Estimate.not_resolved(name, unit="fraction", n=n)
    low, high = found.settled_fraction - NORMAL_95 * u, min(found.settled_fraction + NORMAL_95 * u, 1.0)
    if high == 1.0 and low < SETTLED:
        return Estimate.at_least(name, max(low, 0.0), unit="fraction", n=n)
    u, terms = combined({"level after": (high - low) / (2 * NORMAL_95)})
    return Estimate.measured(name, (low + high) / 2, u=u, unit="fraction", n=n, terms=terms)


def _is_open(found: DirectionFits, slow: Estimate) -> bool:
    """Whether the edges end so early that the fit cannot say where they would go."""
    return found.shape.endswith("_open") or (slow.status is Status.AT_LEAST and found.settled_fraction < SETTLED)


def level_extra(found: DirectionFits, slow: Estimate) -> dict[str, Estimate]:
    """Return state levels before and after, and for a weak sink the shape's own numbers.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    slow : Estimate
        The slowest pole's time constant.
    """
    extra = {"level_before": _level_before(found)}
    if found.settled_fraction > SETTLED or found.fits_well:
        extra["level_after"] = _level_after(found, slow)
    fit = found.fits[0]
    if fit.spec.weak and found.shape != "ramp_open" and fit.window.swing:
        length = float(np.median([np.exp(one.fit.theta[0]) for one in found.fits]))
        u, terms = combined({NOISE_OVER_EDGES: length * float(np.median([one.u_log[0] for one in found.fits]))})
        name = "sink_time_constant" if found.shape.startswith("to_ground") else "ramp_duration"
        extra[name] = Estimate.measured(name, length, u=u, unit="s", n=len(found.fits), terms=terms)
    return extra


def _level_before(found: DirectionFits) -> Estimate:
    """The state before; a bound where the capture begins after the edge did."""
    seen = [fit for fit in found.fits if fit.window.stimulus is not None or fit.window.level_before is not None]
    if seen:
        return _level("level_before", [fit.states[0] for fit in seen], found)
    first = float(np.median([fit.window.y[0] for fit in found.fits]))
    return _beyond("level_before", first, not found.fits[0].window.rising, len(found.fits))


def _level_after(found: DirectionFits, slow: Estimate) -> Estimate:
    """The state after; a bound where the fit reaches far beyond what was seen."""
    if _is_open(found, slow):
        last = float(np.median([np.mean(fit.window.y[-3:]) for fit in found.fits]))
        return _beyond("level_after", last, found.fits[0].window.rising, len(found.fits))
    return _level("level_after", [fit.states[1] for fit in found.fits], found)


def _beyond(name: str, level: float, above: bool, n: int) -> Estimate:
    return (Estimate.at_least if above else Estimate.at_most)(name, level, unit="V", n=n)


def _level(name: str, values: Sequence[float], found: DirectionFits) -> Estimate:
    u = float(np.median([fit.u_last for fit in found.fits])) / np.sqrt(len(values))
    swing = float(np.median([abs(fit.window.swing) for fit in found.fits]))
    if not u < VAGUE * swing:
        return Estimate.not_resolved(name, unit="V")
    u, terms = combined({"level after, over edges": u})
    return Estimate.measured(name, float(np.median(values)), u=u, unit="V", n=len(values), terms=terms)
