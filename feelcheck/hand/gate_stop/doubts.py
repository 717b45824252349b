"""What no fit tells apart from the response: standard uncertainties from the motion at the rim."""

from __future__ import annotations

import numpy as np

from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.models import MOTION, contact_slope
from feelcheck.hand.gate_stop.numbers import (
    GIVE_S,
    GIVE_SHARE,
    HARD,
    LARGEST_RELATIVE_U,
    LARGEST_SYSTEMATIC,
    SCATTER_SHARE,
    SOFT_U,
    SYSTEMATIC,
    SYSTEMATIC_PER_S,
    SYSTEMATIC_S,
    UNSEEN_GIVE,
)
from feelcheck.hand.gate_stop.search import Found
from feelcheck.hand.gate_stop.speed import TAIL_KNOT

__all__ = ["rim_terms", "softness_u"]


def rim_terms(chosen: Chosen, g: int, scatter_s: float) -> dict[str, float]:
    """Return relative standard uncertainties from what a rim may do with nothing to show it, by words.

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
    unseen = UNSEEN_GIVE * _crossing_s(chosen.best, g) / max(float(chosen.delay_s[g]), 1e-9)
    return {
        SYSTEMATIC.sets: SYSTEMATIC,
        SYSTEMATIC_S.sets: min((SYSTEMATIC_S / tau_s) ** 2, LARGEST_SYSTEMATIC),
        UNSEEN_GIVE.sets: min(unseen, LARGEST_RELATIVE_U),
        SCATTER_SHARE.sets: SCATTER_SHARE * scatter_s / tau_s,
        SYSTEMATIC_PER_S.sets: SYSTEMATIC_PER_S * tau_s,
        GIVE_SHARE.sets: _give_u(chosen, g),
    }


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
