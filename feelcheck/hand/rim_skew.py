"""How far a round rim is drawn out along a diagonal: what a badly seated sensor does to directions."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from feelcheck.hand.numbers import AT_EXTREME, CORRELATED_SECTORS, MIN_IN_QUADRANT, MIN_SECTORS
from feelcheck.model import Caveat, Estimate, FloatArray
from feelcheck.numerics.uncertainty import NORMAL_95

__all__ = ["rim_skew"]

UNSEEN = Caveat(
    code="turn_unseen",
    text="Of a round rim only the skew is seen; a sensor turned as a whole shows in straight guided flicks alone.",
    advice="Flick straight along each axis, guided by a ruler, to see a turn.",
)
NO_ROLL = Caveat(
    code="rim_not_rolled",
    text="The stick was not rolled all the way round its rim.",
    advice="Roll the stick once slowly round the rim.",
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
