"""Contact instants and smoothing of one stick's flicks, as the gate stop fits them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.joint_fit import shared_covariances
from feelcheck.hand.gate_stop.linearised import linearise
from feelcheck.hand.gate_stop.numbers import (
    CONTACT_FLICKS,
    LEAST_BOUND_INTERVALS,
    RIM_SLOW,
    RIM_SLOW_S,
    RIM_TO_INTERVALS,
    SLOW_SHARE,
)
from feelcheck.hand.gate_stop.speed import creeps_on
from feelcheck.hand.gate_stop.stick_fit import stick_flicks
from feelcheck.model import FloatArray, HandView, StickAxes

__all__ = ["N_GROUPS", "Contacts", "rim_contacts"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contacts:
    """The flicks of one stick that ran into the rim.

    Parameters
    ----------
    contact_s : ndarray, shape (F,), s
        When the reported signal begins to stop: contact, later by all dead time.
    group : ndarray of int, shape (F, 2)
        Group of the x and of the y axis: x rising, x falling, y rising, y falling.
    used : ndarray of bool, shape (F, 2)
        Whether the axis says anything in that flick.
    smoothing_s : ndarray, shape (4,), s
        Smoothing delay of each group.
    rim_s : ndarray, shape (4,), s
        Standard deviation of a group's smoothing delay over other motions at the rim that fit about as well.
    shape_s : ndarray, shape (4,), s
        The same over other candidates for the electronics.
    moved_s : ndarray, shape (F, p), s
        How a contact instant moves with each parameter that flicks share.
    smoothing_moved_s : ndarray, shape (4, p), s
        The same of the smoothing delays.
    covariance : tuple of ndarray, shape (p, p)
        Of the shared parameters: from the fit's curvature, and from the flicks' own scores.
    report_t_s : ndarray, s
        The stick's report instants.
    interval_s : float, s
        Report interval.
    creeps : bool
        Whether the readings go on after contact further than a rim gives.
    n_set_aside : int
        How many further flicks had something to say and were not fitted.
    """

    contact_s: FloatArray
    group: NDArray[np.int64]
    used: NDArray[np.bool_]
    smoothing_s: FloatArray
    rim_s: FloatArray
    shape_s: FloatArray
    moved_s: FloatArray
    smoothing_moved_s: FloatArray
    covariance: tuple[FloatArray, FloatArray]
    report_t_s: FloatArray
    interval_s: float
    creeps: bool
    n_set_aside: int = 0

    def terms_s(
        self, flicks: Sequence[NDArray[np.intp]], groups: Sequence[int], *, smoothing: bool = True
    ) -> dict[str, float]:
        """Return what makes up u of contact plus smoothing, on average over groups and each one's flicks, s, by words.

        Parameters
        ----------
        flicks : sequence of ndarray of int, shape (n,)
            The flicks of each group.
        groups : sequence of int
            The groups.
        smoothing : bool
            Whether the smoothing counts, or contact alone.

        Notes
        -----
        A longer pole goes with an earlier contact, so their sum is known better than the smoothing; so it is with two
        poles for one. Rebounds can hide a pole of about a report interval, so what is missing there counts. What the
        flicks have by themselves is not in it: that is seen in their spread.
        """
        n = np.array([rows.size for rows in flicks])
        share, at = n / n.sum(), list(groups)
        moved = np.array([self.moved_s[rows].mean(axis=0) for rows in flicks])
        moved = share @ (moved + self.smoothing_moved_s[at] if smoothing else moved)
        own = max(math.sqrt(max(float(moved @ matrix @ moved), 0.0)) for matrix in self.covariance)
        delay_s, rim_s, shape_s = (float(share @ row[at]) for row in (self.smoothing_s, self.rim_s, self.shape_s))
        if not smoothing:
            return {"fit of the flicks": own, "motion at the rim": rim_s, "other shapes of response": shape_s}
        slow = RIM_SLOW * rim_s * min(1.0, delay_s / RIM_SLOW_S) ** 2
        hidden = max(LEAST_BOUND_INTERVALS * self.interval_s - delay_s, 0.0)
        return {
            "fit of the flicks": own,
            SLOW_SHARE.sets: SLOW_SHARE * delay_s,
            RIM_TO_INTERVALS.sets: min(rim_s, RIM_TO_INTERVALS * self.interval_s),
            RIM_SLOW.sets: slow,
            "pole that rebounds can hide": hidden,
        }


def rim_contacts(view: HandView, stick: StickAxes) -> Contacts | None:
    """Return the contacts of a stick's flicks; None where there are fewer than four.

    Parameters
    ----------
    view : HandView
        The recording with its clock, its segments and what was found before.
    stick : StickAxes
        Which axes are one stick.
    """
    flicks = stick_flicks(view, stick)
    fitted = flicks.fitted
    if fitted is None or len(fitted.windows) < CONTACT_FLICKS:
        return None
    chosen, best = fitted.chosen, fitted.chosen.best
    return Contacts(
        contact_s=np.array([window.late_s for window in fitted.windows]) + best.fit.contact_s,
        group=best.batch.group.reshape(-1, 2),
        used=np.any(best.batch.weight > 0, axis=1).reshape(-1, 2),
        smoothing_s=chosen.delay_s,
        rim_s=np.array([chosen.rim_spread(g) for g in range(N_GROUPS)]) * chosen.delay_s,
        shape_s=np.array([chosen.spread(chosen.delay_ratios, g) for g in range(N_GROUPS)]) * chosen.delay_s,
        moved_s=_moved(chosen),
        smoothing_moved_s=_smoothing_moved(chosen),
        covariance=shared_covariances(best.fit, len(best.fit.flick_score)),
        report_t_s=fitted.reports.t_s,
        interval_s=fitted.reports.interval_s,
        creeps=creeps_on(best),
        n_set_aside=flicks.n_set_aside,
    )


def _moved(chosen: Chosen) -> FloatArray:
    """Return how each contact instant follows the shared parameters, shape (F, p)."""
    found, fit = chosen.best, chosen.best.fit
    batch, per = found.batch, fit.shape.n_poles
    prior = found.rim.prior(batch.angle_rad)
    hessian = linearise(batch, fit.shape, fit.contact_s, fit.tau_s, prior).hessian
    own = (batch.group.reshape(-1, 2)[..., None] * per + np.arange(per)).reshape(batch.n_flicks, -1)
    moved = np.zeros((batch.n_flicks, N_GROUPS * per))
    moved[np.arange(batch.n_flicks)[:, None], own] = -hessian[:, 0, 1:] / (hessian[:, 0, :1] + 1e-12)
    return moved


def _smoothing_moved(chosen: Chosen) -> FloatArray:
    """Return the derivatives of the smoothing delays in the logs of the poles."""
    tau_s = chosen.best.fit.tau_s
    m = tau_s.shape[1]
    moved = np.zeros((N_GROUPS, N_GROUPS, m))
    for g in range(N_GROUPS):
        moved[g, g] = tau_s[g]
    return moved.reshape(N_GROUPS, -1)
