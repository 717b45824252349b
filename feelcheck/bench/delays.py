"""Smoothing, dead time and mean delay of one direction."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from feelcheck.bench.area import area_delay
from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.fit import ModelFit
from feelcheck.bench.nuisance import bent_spread, nuisance_spread
from feelcheck.bench.numbers import ARRIVED, CONVERSION_STEP, CURVED
from feelcheck.bench.pooling import NOISE_OVER_EDGES, OTHER_MODELS, degrees_of_freedom, model_spread, pool, start_terms
from feelcheck.bench.response_times import refused
from feelcheck.model import Estimate, Status, Term
from feelcheck.numerics.uncertainty import NORMAL_95, combined, coverage_factor

__all__ = ["area_estimate", "dead_time", "mean_delay", "smoothing_delay", "with_hold"]


def smoothing_delay(found: DirectionFits, slow: Estimate) -> Estimate:
    """Return the mean delay of the shape alone, s.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    slow : Estimate
        The slowest pole's time constant.
    """
    name, n = "smoothing_delay", len(found.fits)
    if not found.fits_well:
        return refused(name, found)
    if found.shape in ("one_pole", "none") and not found.has_zero:
        return _over_models(slow.renamed(name), found, lambda fit: fit.smoothing_s, lambda fit: fit.main_pole_s)
    if found.shape.endswith("_open"):
        floor = 0.5 * float(np.median([reading.longest_s for reading in found.readings]))
        return Estimate.at_least(name, floor, unit="s", n=n)
    value, u = pool([fit.smoothing_s for fit in found.fits], [fit.u_smoothing_s for fit in found.fits])
    beside = nuisance_spread(found.fits, lambda fit: fit.smoothing_slope, delays=True)
    u, terms = combined(
        {
            NOISE_OVER_EDGES: u,
            OTHER_MODELS: model_spread(found, lambda fit: fit.smoothing_s),
            **start_terms(found),
            "drift and other effects beside the edge": beside,
            CURVED.sets: bent_spread(found.fits, lambda fit: fit.smoothing_slope),
        }
    )
    if not np.isfinite(u):
        return Estimate.not_resolved(name, unit="s", n=n)
    if value - NORMAL_95 * u <= 0:
        return Estimate.at_most(name, value + NORMAL_95 * u, unit="s", n=n)
    return Estimate.measured(name, value, u=u, unit="s", n=n, dof=degrees_of_freedom(found), terms=terms)


def dead_time(found: DirectionFits) -> Estimate:
    """Return the dead time behind the drive, s; not_resolved without one.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    """
    name, n, window = "dead_time", len(found.fits), found.fits[0].window
    if not window.driven or not found.fits_well:
        return Estimate.not_resolved(name, unit="s", n=n)
    resolution = window.interval_s / np.sqrt(12)
    if not found.fits[0].spec.dead:
        tried = [fits for _, fits in found.choice.rivals if fits[0].spec == replace(found.fits[0].spec, dead=True)]
        reach = [fit.dead_s + NORMAL_95 * fit.u_dead_s for fits in tried for fit in fits]
        bound = max([*reach, 2 * resolution]) if reach else window.interval_s
        return (
            Estimate.at_most(name, bound, unit="s", n=n)
            if np.isfinite(bound)
            else Estimate.not_resolved(name, unit="s")
        )
    value, u = pool([fit.dead_s for fit in found.fits], [fit.u_dead_s for fit in found.fits])
    unresolved = 0.0 if window.drive_is_resolved else 2 * resolution
    others = model_spread(found, lambda fit: fit.dead_s)
    u, terms = combined({NOISE_OVER_EDGES: u, OTHER_MODELS: others, "drive between samples": unresolved})
    if not np.isfinite(u):
        return Estimate.not_resolved(name, unit="s", n=n)
    if value - NORMAL_95 * u <= 0:
        return Estimate.at_most(name, max(value + NORMAL_95 * u, resolution), unit="s", n=n)
    return Estimate.measured(name, value, u=u, unit="s", n=n, dof=degrees_of_freedom(found), terms=terms)


def area_estimate(found: DirectionFits) -> Estimate | None:
    """Return the mean delay by area, s; None where an end was not at rest.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    """
    window, arrives = found.fits[0].window, found.settled_fraction >= ARRIVED and not found.shape.endswith("_open")
    if not (window.driven and window.settled_start and arrives):
        return None
    value, u = pool(*zip(*(area_delay(fit, found.fits_well) for fit in found.fits), strict=True))
    bent = float(np.median([CURVED * fit.window.bent_delay_s for fit in found.fits]))
    u, terms = combined({NOISE_OVER_EDGES: u, CURVED.sets: bent})
    return Estimate.measured("area_delay", value, u=u, unit="s", n=len(found.fits), terms=terms)


def mean_delay(found: DirectionFits, smoothing: Estimate, dead: Estimate, area: Estimate | None) -> Estimate:
    """Return dead time plus smoothing where a model explains the edge, the area where none does.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    smoothing : Estimate
        The delay of the shape alone.
    dead : Estimate
        Dead time behind the drive.
    area : Estimate or None
        The mean delay by area.
    """
    if not found.fits_well or not smoothing.is_ok:
        return _by_area(found, smoothing, area)
    late = dead if dead.is_ok else None
    if late is None or late.value is None or late.u is None or smoothing.value is None or smoothing.u is None:
        return _or_late(found, smoothing)
    both = [fit.dead_s + fit.smoothing_s for fit in found.fits]
    value, u = pool(both, [_u_sum(fit) for fit in found.fits])
    beside = nuisance_spread(found.fits, lambda fit: fit.smoothing_slope + fit.dead_slope, delays=True)
    bent = bent_spread(found.fits, lambda fit: fit.smoothing_slope + fit.dead_slope)
    parts = {NOISE_OVER_EDGES: u, "drift and other effects beside the edge": beside, CURVED.sets: bent}
    u, terms = combined(parts | {OTHER_MODELS: model_spread(found, _whole)})
    return Estimate.measured("mean_delay", value, u=u, unit="s", n=smoothing.n, dof=smoothing.dof, terms=terms)


def _whole(fit: ModelFit) -> float:
    return fit.dead_s + fit.smoothing_s


def _or_late(found: DirectionFits, smoothing: Estimate) -> Estimate:
    """The smoothing delay where no dead time was found: what other models hold of one is part of its uncertainty."""
    return _over_models(smoothing.renamed("mean_delay"), found, _whole, lambda fit: fit.smoothing_s)


def _over_models(
    estimate: Estimate, found: DirectionFits, other: Callable[[ModelFit], float], counted: Callable[[ModelFit], float]
) -> Estimate:
    """An estimate that the chosen candidate has in common with another quantity, with its own spread over rivals."""
    spread = model_spread(found, other)
    if not estimate.is_ok or spread <= model_spread(found, counted):
        return estimate
    u, terms = combined({term.words: term.u for term in estimate.terms} | {OTHER_MODELS: spread})
    return replace(estimate, u=u, terms=terms)


def with_hold(delay: Estimate, interval: Estimate, conversion_s: float = 0.0) -> Estimate:
    """Return a mean delay that was measured behind the sensor's own instants with half the update interval added, s.

    Parameters
    ----------
    delay : Estimate, s
        Dead time and smoothing behind the held drive.
    interval : Estimate, s
        How long the sensor holds a value.
    conversion_s : float, s
        How much earlier than its output changes it looks.

    Examples
    --------
    >>> held = Estimate.measured("update_interval", 0.65e-3, u=1e-6, unit="s")
    >>> round(with_hold(Estimate.at_most("mean_delay", 10e-6, unit="s"), held).value * 1e3, 3)
    0.33
    """
    if interval.value is None or interval.u is None:
        return delay
    half = interval.value / 2 + conversion_s
    u_half, of_half = combined(
        {
            "half the update interval": interval.u / 2,
            CONVERSION_STEP.sets: CONVERSION_STEP * interval.value if conversion_s else 0.0,
        }
    )
    if delay.value is not None and delay.u is not None:
        own = delay.terms or (Term("the delay without the hold", delay.u),)
        return replace(delay, value=delay.value + half, u=math.hypot(delay.u, u_half), terms=(*own, *of_half))
    if delay.bound is None:
        return delay
    if delay.status is Status.AT_LEAST:
        return replace(delay, bound=delay.bound + half)
    u_below = delay.bound / (2 * coverage_factor(np.inf))
    return replace(
        Estimate.measured(delay.quantity, half + delay.bound / 2, u=math.hypot(u_below, u_half), unit="s", n=delay.n),
        caveats=delay.caveats,
        terms=(Term("anything up to the limit of the rest", u_below), *of_half),
    )


def _by_area(found: DirectionFits, smoothing: Estimate, area: Estimate | None) -> Estimate:
    if area is None or area.value is None or area.u is None:
        return smoothing.renamed("mean_delay")
    if found.fits_well and area.value - NORMAL_95 * area.u <= 0:
        bound = max(area.value + NORMAL_95 * area.u, smoothing.bound or 0.0)
        return Estimate.at_most("mean_delay", bound, unit="s", n=area.n)
    return area.renamed("mean_delay")


def _u_sum(fit: ModelFit) -> float:
    """Standard uncertainty of dead time plus smoothing, which are known better together than apart."""
    if fit.spec.weak or fit.spec.shape == "second_order":
        return float(np.hypot(fit.u_dead_s, fit.u_smoothing_s))
    return fit.u_along(fit.smoothing_slope + fit.dead_slope)
