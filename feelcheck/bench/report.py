"""All edges of one direction become one response."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import numpy as np

from feelcheck.bench.delays import area_estimate, dead_time, mean_delay, smoothing_delay
from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.response_times import pole_estimates, refused, second_order_extra, time_constant
from feelcheck.bench.states import level_extra, settled_fraction, transition_as_read
from feelcheck.model import BenchDirection, Estimate
from feelcheck.numerics.one_pole import transition_10_90

__all__ = ["report_direction"]


def report_direction(found: DirectionFits) -> BenchDirection:
    """Return the response of one direction as estimates with statuses."""
    slow = time_constant(found)
    smoothing = smoothing_delay(found, slow)
    dead = dead_time(found)
    area = area_estimate(found)
    extra = {} if area is None else {"area_delay": area}
    extra |= second_order_extra(found) | level_extra(found, slow)
    return BenchDirection(
        time_constant=slow,
        poles=pole_estimates(found, slow),
        transition_10_90=transition_as_read(found),
        step_transition_10_90=_step_transition(found, slow),
        dead_time=dead,
        smoothing_delay=smoothing,
        mean_delay=mean_delay(found, smoothing, dead, area),
        settled_fraction=settled_fraction(found, slow),
        saturated=any(fit.saturated for fit in found.fits),
        n_edges=found.n_edges,
        model=found.shape if found.fits_well else "unexplained",
        extra=MappingProxyType(extra),
    )


def _step_transition(found: DirectionFits, slow: Estimate) -> Estimate:
    """The 10-90 % duration that an ideal step would give."""
    name, n = "step_transition_10_90", len(found.fits)
    if not found.fits_well:
        return refused(name, found)
    if found.shape in ("one_pole", "none"):
        return _times(slow, float(np.log(9.0))).renamed(name)
    if any(fit.has_tail for fit in found.fits):
        return Estimate.not_resolved(name, unit="s", n=n)
    if found.shape == "two_pole" and slow.is_ok and slow.value and slow.u is not None:
        value = float(np.median([transition_10_90(fit.poles_s) for fit in found.fits]))
        relative = slow.u / slow.value
        return Estimate.measured(name, value, u=value * min(relative, 1.0), unit="s", n=n)
    return Estimate.not_resolved(name, unit="s", n=n)


def _times(estimate: Estimate, factor: float) -> Estimate:
    scaled = {
        key: getattr(estimate, key) * factor for key in ("value", "u", "bound") if getattr(estimate, key) is not None
    }
    return replace(estimate, **scaled)
