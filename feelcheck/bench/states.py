"""State levels, the transition between them as read, and how far it came."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.numbers import SETTLED, VAGUE
from feelcheck.bench.pooling import NOISE_OVER_EDGES, pool
from feelcheck.model import Estimate, Status
from feelcheck.numerics.uncertainty import NORMAL_95, combined

__all__ = ["level_extra", "settled_fraction", "transition_as_read"]


def transition_as_read(found: DirectionFits) -> Estimate:
    """Return the 10-90 % duration as it was read; at_least where the edge was not seen to its end.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    """
    name, n = "transition_10_90", len(found.fits)
    complete = [reading for reading in found.readings if reading.transition is not None]
    if len(complete) < 0.5 * len(found.readings) or found.settled_fraction < SETTLED or found.shape.endswith("_open"):
        longest = float(np.median([reading.longest_s for reading in found.readings]))
        return Estimate.at_least(name, longest, unit="s", n=n)
    durations = [reading.transition.duration for reading in complete if reading.transition]
    value, u = pool(durations, [reading.u_duration_s for reading in complete])
    u, terms = combined({"instants where the levels are crossed, over edges": u})
    return Estimate.measured(name, value, u=u, unit="s", n=len(complete), terms=terms)


def settled_fraction(found: DirectionFits, slow: Estimate) -> Estimate:
    """Return the way covered when the window ends.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    slow : Estimate
        The slowest pole's time constant.
    """
    name, n = "settled_fraction", len(found.fits)
    if found.shape == "ramp_open" or not found.fits_well:
        return Estimate.not_resolved(name, unit="fraction", n=n)
    u = float(np.median([reading.u_settled for reading in found.readings]))
    if not np.isfinite(u) or u > 0.25 or is_open(found, slow):
        return Estimate.not_resolved(name, unit="fraction", n=n)
    low, high = found.settled_fraction - NORMAL_95 * u, min(found.settled_fraction + NORMAL_95 * u, 1.0)
    if high == 1.0 and low < SETTLED:
        return Estimate.at_least(name, max(low, 0.0), unit="fraction", n=n)
    u, terms = combined({"level after": (high - low) / (2 * NORMAL_95)})
    return Estimate.measured(name, (low + high) / 2, u=u, unit="fraction", n=n, terms=terms)


def is_open(found: DirectionFits, slow: Estimate) -> bool:
    """Return whether the edges end so early that the fit cannot say where they would go.

    Parameters
    ----------
    found : DirectionFits
        The fits of one direction, the chosen candidate first.
    slow : Estimate
        The slowest pole's time constant.
    """
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
    if is_open(found, slow):
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
