"""Whether the time constant depends on how fast the stick met the rim, as behind a speed-adaptive filter."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.models import MOTION, N_MOTION, contact_slope
from feelcheck.hand.gate_stop.numbers import CLEAR_CHANGE, CLEAR_SLOPE, FLICKS_FOR_SPEED, LARGEST_GIVE_FS
from feelcheck.hand.gate_stop.search import Found
from feelcheck.model import Caveat, Estimate

__all__ = ["DEPENDS_ON_SPEED", "TAIL_KNOT", "SpeedLaw", "creeps_on", "speed_law"]

TAIL_KNOT = 7
"""Column of the motion at 35 ms after contact: rebounds are over, creep has hardly begun."""


DEPENDS_ON_SPEED = Caveat(
    code="tau_depends_on_speed",
    text="The smoothing changes with the speed of the stick, as behind an adaptive filter: there is no single value.",
    advice="Compare it at like speeds only, and measure the sensor itself on the bench.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedLaw:
    """How the time constant goes with the speed at contact.

    Parameters
    ----------
    slow, fast : Estimate or None
        The time constant at the slow and the fast end of the flicks; None where there is no dependence.
    """

    slow: Estimate | None = None
    fast: Estimate | None = None

    def estimates(self, caveats: tuple[Caveat, ...]) -> list[Estimate]:
        """Return the time constants at both ends, with the remarks.

        Parameters
        ----------
        caveats : tuple of Caveat
            Remarks that hold for every flick.
        """
        return [e.with_caveats(DEPENDS_ON_SPEED, *caveats) for e in (self.slow, self.fast) if e is not None]


def creeps_on(found: Found) -> bool:
    """Tell whether the readings go on after contact further than a rim gives.

    Parameters
    ----------
    found : Found
        The fit of all flicks.

    Notes
    -----
    Smoothing that grows as the stick slows leaves a tail that looks like a rim that gives by many per cent of the
    throw. Rims give 1 or 2 per cent.
    """
    motion = found.fit.coefficients[:, MOTION].reshape(-1, 2, N_MOTION)[:, :, TAIL_KNOT]
    angle = found.batch.angle_rad
    radial = np.sort(np.abs(np.cos(angle) * motion[:, 0] + np.sin(angle) * motion[:, 1]))
    return bool(radial.size >= FLICKS_FOR_SPEED and radial[-max(2, radial.size // 10)] > LARGEST_GIVE_FS)


def speed_law(chosen: Chosen, g: int) -> SpeedLaw:
    """Regress the flicks' own log time constants on log speed.

    Parameters
    ----------
    chosen : Chosen
        The chosen fit.
    g : int
        The group.

    Notes
    -----
    Each flick's own value is one Newton step from the joint fit with its own share of gradient and curvature.
    """
    found, m = chosen.best, chosen.shape.n_poles
    rows = found.batch.used_rows(g)
    if rows.size < FLICKS_FOR_SPEED:
        return SpeedLaw()
    at = g * m
    flicks = rows // 2
    info = found.fit.flick_information[flicks, at, at]
    score = found.fit.flick_score[flicks, at]
    fit, batch = found.fit, found.batch
    speed = np.abs(contact_slope(fit.coefficients[rows], fit.tau_s[batch.group[rows]], batch.scale_s[rows]))
    keep = (info > 0.02 * np.median(info)) & (speed > 0)
    if keep.sum() < FLICKS_FOR_SPEED or np.ptp(np.log(speed[keep])) < 0.3:
        return SpeedLaw()
    own = np.clip(score[keep] / info[keep], -1.5, 1.5)
    weight = np.minimum(info[keep], np.median(info[keep]))
    return _regress(own, np.log(speed[keep]), weight, float(found.fit.tau_s[g, 0]))


def _regress(own: np.ndarray, log_speed: np.ndarray, weight: np.ndarray, tau_s: float) -> SpeedLaw:
    n = own.size
    design = np.stack([np.ones(n), log_speed - np.average(log_speed, weights=weight)], axis=1)
    normal = design.T @ (weight[:, None] * design)
    offset, slope = np.linalg.solve(normal, design.T @ (weight * own))
    residual = own - design @ np.array([offset, slope])
    variance = float(np.sum(weight * residual**2) / max(n - 2, 1))
    u_slope = math.sqrt(variance / float(normal[1, 1]))
    low, high = np.percentile(design[:, 1], [10, 90])
    change = abs(slope) * float(high - low)
    if abs(slope) < CLEAR_SLOPE * u_slope or change < CLEAR_CHANGE:
        return SpeedLaw()

    def at(quantity: str, place: float) -> Estimate:
        value = tau_s * math.exp(offset + slope * place)
        u = value * math.sqrt(variance / float(normal[0, 0]) + (place * u_slope) ** 2)
        by = "scatter of the flicks about the line over speed"
        return Estimate.measured(quantity, value, u=u, unit="s", n=n, dof=float(n - 2), scale="log", by=by)

    return SpeedLaw(
        slow=at("time_constant_slow_flicks", float(low)),
        fast=at("time_constant_fast_flicks", float(high)),
    )
