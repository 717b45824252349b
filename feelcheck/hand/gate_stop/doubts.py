"""What no fit tells apart from the response: standard uncertainties from the motion at the rim."""

from __future__ import annotations

import math

import numpy as np

from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.models import MOTION, contact_slope
from feelcheck.hand.gate_stop.search import Found
from feelcheck.hand.gate_stop.speed import TAIL_KNOT

__all__ = ["LARGEST_RELATIVE_U", "SHORT_U_S", "SYSTEMATIC", "rim_u", "softness_u"]

SYSTEMATIC = 0.007
"""Relative standard uncertainty from motion at the rim that no fit tells apart; from simulated rims that bounce, give
and lead the stick along."""

SYSTEMATIC_S = 0.0003
"""The same as a time: the first milliseconds at the rim count with the square of this over the pole."""

SHORT_U_S = 0.0002
"""Standard uncertainty of any response, s: a thumb that yields, and a corner with two sides, take a part of a
millisecond to stop, whatever the electronics do; from simulated thumbs and gates."""

UNSEEN_GIVE = 0.004
"""Fraction of the reach that a rim may give in some ten milliseconds with nothing to show it; it moves a response by
that share of the time in which the stick, at its speed at contact, would cross the reach."""

SCATTER_SHARE = 2.0
"""How far stamps that scatter by one second move a time constant; they hang together, so flicks do not average it."""

LARGEST_SYSTEMATIC = 0.08

SYSTEMATIC_PER_S = 0.15
"""Growth of the same with the pole: the hand moves on while a slow response ends; from simulated plain flicks."""

GIVE_SHARE, GIVE_S = 0.5, 0.01
"""A rim that gives over 5 to 50 ms looks like a pole of that length: the share of what it gave that stays in doubt."""

HARD, SOFT_U = 0.4, 0.2
"""Contact at this share of the flick's mean speed and more is a stop at the rim (flicks driven into it come with 1 to
2.5 times that), and the relative standard uncertainty of a stick that has come to rest by then."""

LARGEST_RELATIVE_U = 0.35


def rim_u(chosen: Chosen, g: int, scatter_s: float) -> float:
    """Return the relative standard uncertainty from what a rim may do with nothing to show it.

    Parameters
    ----------
    chosen : Chosen
        The chosen fit of all flicks.
    g : int
        The group.
    scatter_s : float, s
        Standard deviation of the time stamps about a report clock that could not be recovered.
    """
    tau_s = max(float(chosen.best.fit.tau_s[g].max()), 1e-9)
    short = min((SYSTEMATIC_S / tau_s) ** 2, LARGEST_SYSTEMATIC)
    unseen = UNSEEN_GIVE * _crossing_s(chosen.best, g) / max(float(chosen.delay_s[g]), 1e-9)
    stamps = SCATTER_SHARE * scatter_s / tau_s
    slow = SYSTEMATIC_PER_S * tau_s
    return math.hypot(SYSTEMATIC, short, slow, stamps, min(unseen, LARGEST_RELATIVE_U), _give_u(chosen, g))


def softness_u(found: Found, g: int) -> float:
    """Return the relative standard uncertainty where the fit has the stick slow down by itself before it meets the rim.

    Parameters
    ----------
    found : Found
        The fit of all flicks.
    g : int
        The group.

    Notes
    -----
    Such a stop has no edge: a longer pole, or an average, with a harder stop would read alike.
    """
    fit, batch = found.fit, found.batch
    rows = batch.used_rows(g)
    scale_s = batch.scale_s[rows]
    speed = contact_slope(fit.coefficients[rows], fit.tau_s[batch.group[rows]], scale_s)
    travel = batch.y[rows, -1] - batch.y[rows, 0]
    hardness = float(np.median(speed * scale_s / np.maximum(travel, 1e-6)))
    return min(SOFT_U * max(HARD - hardness, 0.0) / HARD, 1.0)


def _crossing_s(found: Found, g: int) -> float:
    """Return how long the stick would take for the whole way at its speed at contact, s."""
    return 1.0 / max(_contact_rate(found, g), 1e-3)


def _contact_rate(found: Found, g: int) -> float:
    """Return the median speed at contact over the way, 1/s."""
    fit, batch = found.fit, found.batch
    rows = batch.used_rows(g)
    speed = contact_slope(fit.coefficients[rows], fit.tau_s[batch.group[rows]], batch.scale_s[rows])
    travel = batch.y[rows, -1] - batch.y[rows, 0]
    return float(np.median(speed / np.maximum(travel, 1e-6)))


def _give_u(chosen: Chosen, g: int) -> float:
    """Return the relative standard uncertainty from the part of the motion at the rim that a pole could be as well."""
    found, delay_s = chosen.best, float(chosen.delay_s[g])
    rows = found.batch.used_rows(g)
    gave = found.fit.coefficients[rows, MOTION.start + TAIL_KNOT]
    lag = delay_s * np.abs(found.fit.coefficients[rows, 1]) / found.batch.scale_s[rows]
    share = abs(float(np.median(gave))) / max(float(np.median(lag)), 1e-9)
    return min(GIVE_SHARE * share * delay_s / (delay_s + GIVE_S), LARGEST_RELATIVE_U)
