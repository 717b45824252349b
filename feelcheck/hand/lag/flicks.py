"""Contact instants and smoothing of one stick's flicks, as the gate stop fits them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.batches import lay_out, subset
from feelcheck.hand.gate_stop.choice import choose
from feelcheck.hand.gate_stop.pooling import pool_direction
from feelcheck.hand.gate_stop.readings import stick_readings
from feelcheck.hand.gate_stop.search import everything, pilot
from feelcheck.hand.gate_stop.windows import cut_flick, find_limits, noise_variance
from feelcheck.model import FloatArray, HandView, StickAxes

__all__ = ["Contacts", "fit_contacts"]

HOLD_TAIL_S = 0.15
N_TO_CHOOSE = 5
LEAST_FLICKS = 4
UNRESOLVED_SHARE = 0.25


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
    smoothing_s, u_smoothing_s : ndarray, shape (4,), s
        Smoothing delay of each group and its standard uncertainty.
    report_t_s : ndarray, s
        The stick's report instants.
    interval_s : float, s
        Report interval.
    """

    contact_s: FloatArray
    group: NDArray[np.int64]
    used: NDArray[np.bool_]
    smoothing_s: FloatArray
    u_smoothing_s: FloatArray
    report_t_s: FloatArray
    interval_s: float


def fit_contacts(view: HandView, stick: StickAxes) -> Contacts | None:
    """Return the contacts of a stick's flicks; None where there are fewer than four."""
    segments = [s for s in view.segments if s.kind == "flick" and s.stick == stick.stick]
    if len(segments) < LEAST_FLICKS:
        return None
    reports = stick_readings(view, stick)
    holds = [(max(s.start_s, s.end_s - HOLD_TAIL_S), s.end_s) for s in segments]
    variance = noise_variance(reports, holds)
    limits, radius = find_limits(reports, holds, variance)
    windows = [cut_flick(reports, s.start_s, s.end_s, limits, radius) for s in segments]
    usable = [window for window in windows if not window.why_not]
    if len(usable) < LEAST_FLICKS:
        return None
    batch, onset = lay_out(usable, variance, reports.interval_s)
    few = subset(batch, onset, N_TO_CHOOSE)
    chosen = choose(pilot(batch.of_flicks(few), onset[few]))
    chosen = chosen.carried_to(everything(chosen.best, batch, onset))
    best = chosen.best.batch
    u = np.full(4, np.nan)
    for g in range(4):
        if best.used_rows(g).size >= 2:
            pooled = pool_direction(chosen, g, "axis", "rising", both=bool(stick.x and stick.y)).smoothing_delay
            # below a report interval there is only a limit; the fitted value still places the contact
            u[g] = pooled.u if pooled.u is not None else UNRESOLVED_SHARE * reports.interval_s
    return Contacts(
        contact_s=np.array([window.late_s for window in usable]) + chosen.best.fit.contact_s,
        group=best.group.reshape(-1, 2),
        used=np.any(best.weight > 0, axis=1).reshape(-1, 2),
        smoothing_s=chosen.delay_s,
        u_smoothing_s=u,
        report_t_s=reports.t_s,
        interval_s=reports.interval_s,
    )
