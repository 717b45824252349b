"""State levels, the transition between them as read, and how far it came."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.bench.direction import DirectionFits
from feelcheck.bench.pooling import pool
from feelcheck.model import Estimate

__all__ = ["level_extra", "settled_fraction", "transition_as_read"]

SETTLED = 0.9


def transition_as_read(found: DirectionFits) -> Estimate:
    """Return the 10-90 % duration as it was read; at_least where the edge was not seen to its end."""
    name, n = "transition_10_90", len(found.fits)
    complete = [reading for reading in found.readings if reading.transition is not None]
    if len(complete) < 0.5 * len(found.readings) or found.settled_fraction < SETTLED:
        longest = float(np.median([reading.longest_s for reading in found.readings]))
        return Estimate.at_least(name, longest, unit="s", n=n)
    durations = [reading.transition.duration for reading in complete if reading.transition]
    value, u = pool(durations, [reading.u_duration_s for reading in complete])
    return Estimate.measured(name, value, u=u, unit="s", n=len(complete))


def settled_fraction(found: DirectionFits) -> Estimate:
    """Return the way covered when the window ends."""
    name, n = "settled_fraction", len(found.fits)
    if found.shape == "ramp_open" or not found.fits_well:
        return Estimate.not_resolved(name, unit="fraction", n=n)
    u = float(np.median([reading.u_settled for reading in found.readings]))
    if not np.isfinite(u) or u > 0.25:
        return Estimate.not_resolved(name, unit="fraction", n=n)
    return Estimate.measured(name, found.settled_fraction, u=u, unit="fraction", n=n)


def level_extra(found: DirectionFits) -> dict[str, Estimate]:
    """Return state levels before and after, and for a weak sink the shape's own numbers."""
    firsts, lasts = zip(*(fit.levels for fit in found.fits), strict=True)
    extra = {"level_before": _level("level_before", firsts, found)}
    if found.settled_fraction > SETTLED or found.fits_well:
        extra["level_after"] = _level("level_after", lasts, found)
    fit = found.fits[0]
    if fit.spec.weak and found.shape != "ramp_open" and fit.window.swing:
        length = float(np.median([np.exp(one.fit.theta[0]) for one in found.fits]))
        u = length * float(np.median([one.u_log[0] for one in found.fits]))
        name = "sink_time_constant" if found.shape.startswith("to_ground") else "ramp_duration"
        extra[name] = Estimate.measured(name, length, u=u, unit="s", n=len(found.fits))
    return extra


def _level(name: str, values: Sequence[float], found: DirectionFits) -> Estimate:
    u = float(np.median([fit.u_last for fit in found.fits])) / np.sqrt(len(values))
    if not np.isfinite(u):
        return Estimate.not_resolved(name, unit="V")
    return Estimate.measured(name, float(np.median(values)), u=u, unit="V", n=len(values))
