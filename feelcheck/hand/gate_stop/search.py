"""Find the best fit of one candidate: start, settle the priors of the motion at the rim, refine."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.batches import first_contacts, trimmed, weigh
from feelcheck.hand.gate_stop.joint_fit import Fit, fit, settle_contacts
from feelcheck.hand.gate_stop.linearised import moments
from feelcheck.hand.gate_stop.models import ResponseShape
from feelcheck.hand.gate_stop.rim_choice import best_rim
from feelcheck.hand.gate_stop.rim_priors import IDEAS, Rim, rim_of
from feelcheck.model import FloatArray

__all__ = ["Found", "everything", "pilot", "refined", "started"]

CONTACT_LEVELS = (0.96, 0.85, 1.0)
LOG_TAU_SD = 1.5
"""How far the logarithm of a time constant may lie from what is usual: from a fraction of a millisecond to hundreds."""

FEW_REPORTS, BETWEEN = 12.0, (-1.5, -1.0, -0.5, 0.5)
BESIDE = (0.85, 1.18)
"""Shares of the time constants from which the fit of all flicks is begun again."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """A fit with the weights and the priors it was made with.

    Parameters
    ----------
    total : float
        -2 log marginal likelihood + constant.
    rivals : tuple
        Other places the search ended at: sum of the time constants over this one's, shape (N_GROUPS,), and `total`
        over this one's.
    """

    fit: Fit
    batch: Batch
    rim: Rim
    total: float
    rivals: tuple[tuple[FloatArray, float], ...] = ()


def _fitted(
    batch: Batch,
    at: Fit,
    rim: Rim,
    *,
    n_steps: int,
    n_settle: int,
) -> Found:
    found = fit(
        batch,
        at.shape,
        contact_s=at.contact_s,
        tau_s=at.tau_s,
        prior=rim.prior(batch.angle_rad),
        n_steps=n_steps,
        n_settle=n_settle,
    )
    used = batch.weight > 0
    total = found.objective.sum() - np.log(batch.weight[used]).sum() + _volume(found)
    return Found(fit=found, batch=batch, rim=rim, total=float(total))


def _volume(found: Fit) -> float:
    """Return the logarithm of the posterior over the prior volume of the time constants.

    Notes
    -----
    A pole that the readings do not determine then costs nothing and gains nothing.
    """
    n = len(found.information)
    volume = np.linalg.slogdet(found.information + np.eye(n) / LOG_TAU_SD**2)[1]
    return float(volume + 2 * n * np.log(LOG_TAU_SD))


def _beginning(shape: ResponseShape, tau_s: FloatArray, contact_s: FloatArray) -> Fit:
    """Return a place to start from: nothing is fitted yet."""
    nothing = np.zeros(0)
    return Fit(
        shape=shape,
        tau_s=tau_s,
        contact_s=contact_s,
        coefficients=nothing,
        model=nothing,
        objective=nothing,
        information=nothing,
        flick_score=nothing,
        flick_information=nothing,
    )


def _trust(batch: Batch, found: Fit) -> FloatArray:
    """Weigh down flicks that fit much worse than the others do, shape (F,)."""
    used = (batch.weight > 0).reshape(batch.n_flicks, -1)
    misfit = (batch.weight * (batch.y - found.model) ** 2).reshape(batch.n_flicks, -1)
    by_flick = misfit.sum(axis=1) / np.maximum(used.sum(axis=1), 1)
    usual = max(float(np.median(by_flick)), 1.0)
    return np.asarray(np.minimum(1.0, 2.0 * usual / np.maximum(by_flick, 1e-9)) / usual)


def pilot(batch: Batch, onset_s: FloatArray, start_s: FloatArray) -> Found:
    """Return the one-pole fit of a few flicks, from several ideas of the rim.

    Parameters
    ----------
    batch : Batch
        The flicks to look at.
    onset_s : ndarray, shape (F,), s
        Their onsets.
    start_s : ndarray, shape (N_GROUPS,), s
        Time constants to start from, inside what the rim allows.
    """
    stiff = _started(batch, onset_s, start_s)
    guesses = _contact_guesses(batch, float(np.median(stiff.fit.tau_s)))
    rim = rim_of(IDEAS[-1], batch.n_flicks)
    contact = _best_contacts(batch, stiff.fit, rim, [stiff.fit.contact_s, *guesses], onset_s)
    weighed = weigh(batch, batch.weight, contact, onset_s, np.ones(batch.n_flicks))
    weighed, _ = trimmed(weighed, batch.weight)
    return _from_rims(
        weighed, replace(stiff.fit, contact_s=contact), [rim_of(idea, batch.n_flicks) for idea in (IDEAS[1], IDEAS[3])]
    )


def _started(batch: Batch, onset_s: FloatArray, start_s: FloatArray) -> Found:
    """Return a few steps from time constants with a stiff rim."""
    contact = first_contacts(batch, start_s[batch.group])
    weighed, _ = trimmed(weigh(batch, batch.weight, contact, onset_s, np.ones(batch.n_flicks)), batch.weight)
    start = _beginning(ResponseShape(n_poles=1), start_s[:, None], contact)
    rim = rim_of(IDEAS[0], batch.n_flicks)
    return _fitted(weighed, start, rim, n_steps=3, n_settle=2)


def started(batch: Batch, shape: ResponseShape, tau_s: FloatArray, contact_s: FloatArray) -> Found:
    """Return the fit of another candidate from a place that is close already, its priors chosen anew.

    Parameters
    ----------
    batch : Batch
        The windows.
    shape : ResponseShape
        The candidate.
    tau_s : ndarray, shape (N_GROUPS, m), s
        Time constants to start from.
    contact_s : ndarray, shape (F,), s
        Contact instants to start from.
    """
    start = _beginning(shape, tau_s, contact_s)
    first = _fitted(batch, start, rim_of(IDEAS[1], batch.n_flicks), n_steps=3, n_settle=1)
    return refined(first, batch, 3)


def _from_rims(batch: Batch, start: Fit, rims: list[Rim]) -> Found:
    """Return the best of the fits that start with one idea of the rim each."""
    tried = [_fitted(batch, start, rim, n_steps=3, n_settle=1) for rim in rims]
    return min((refined(found, batch, 3) for found in tried), key=lambda found: found.total)


def refined(found: Found, batch: Batch, n_steps: int) -> Found:
    """Return the fit with its priors chosen anew, carried on for some steps on (newly weighed) windows."""
    at = found.fit
    normal, moment = moments(batch, at.shape, at.contact_s, at.tau_s)
    rim = best_rim(normal, moment, batch.angle_rad, found.rim.tangential)
    return _fitted(batch, at, rim, n_steps=n_steps, n_settle=0)


def everything(found: Found, batch: Batch, onset_s: FloatArray) -> Found:
    """Return the fit of all flicks, started from that of a few.

    Parameters
    ----------
    found : Found
        The fit of a few.
    batch : Batch
        All flicks.
    onset_s : ndarray, shape (F,), s
        Their onsets.
    """
    shape, tau = found.fit.shape, found.fit.tau_s
    average_s = 0.5 * (shape.n_average - 1) * batch.interval_s
    delay_s = float(np.median(tau.sum(axis=1))) + average_s
    guesses = _contact_guesses(batch, delay_s)
    trust, at = np.ones(batch.n_flicks), found.fit
    rims = [found.rim.usual(batch.n_flicks), rim_of(IDEAS[-1], batch.n_flicks)]
    starts = [replace(at, contact_s=_best_contacts(batch, at, rim, guesses, onset_s)) for rim in rims]
    weighed, plain = trimmed(weigh(batch, batch.weight, starts[-1].contact_s, onset_s, trust), batch.weight)
    tried = [_fitted(weighed, *start, n_steps=0, n_settle=2) for start in zip(starts, rims, strict=True)]
    here = min((refined(one, weighed, 3) for one in tried), key=lambda one: one.total)
    best = here = _with_rivals(here)
    for n_steps in (3, 5):
        trust = _trust(here.batch, here.fit) * trust
        here = refined(here, weigh(weighed, plain, here.fit.contact_s, onset_s, trust), n_steps)
    return replace(here, rivals=best.rivals)


def _with_rivals(found: Found) -> Found:
    """Return the best of the fit and of fits begun from shorter and longer poles; how the others compare goes with it.

    Bounce and give can stand in for a part of the response, and each flick chooses among many manners, so that there
    are several hollows.
    """
    fit, usual_s = found.fit, float(np.median(found.fit.tau_s))
    begun = [
        replace(fit, tau_s=share * fit.tau_s, contact_s=fit.contact_s + (1.0 - share) * usual_s) for share in BESIDE
    ]
    tried = [found] + [_fitted(found.batch, start, found.rim, n_steps=0, n_settle=2) for start in begun]
    tried = [refined(one, found.batch, 3) for one in tried]
    best = min(tried, key=lambda one: one.total)
    rivals = tuple(
        (one.fit.tau_s.sum(axis=1) / best.fit.tau_s.sum(axis=1), one.total - best.total)
        for one in tried
        if one is not best
    )
    return replace(best, rivals=rivals)


def _contact_guesses(batch: Batch, delay_s: float) -> list[FloatArray]:
    """Return first guesses of the contact instants; where a flick is a few reports, between the reports as well."""
    guesses = [first_contacts(batch, np.full(len(batch.y), delay_s), level) for level in CONTACT_LEVELS]
    if float(np.median(batch.scale_s)) > FEW_REPORTS * batch.interval_s:
        return guesses
    return guesses + [guesses[0] + share * batch.interval_s for share in BETWEEN]


def _best_contacts(batch: Batch, at: Fit, rim: Rim, guesses: list[FloatArray], onset_s: FloatArray) -> FloatArray:
    """Settle the contact instants from several guesses and keep the best of each flick."""
    prior, best, contact = rim.prior(batch.angle_rad), np.full(batch.n_flicks, np.inf), guesses[0]
    for guess in guesses:
        weighed, _ = trimmed(weigh(batch, batch.weight, guess, onset_s, np.ones(batch.n_flicks)), batch.weight)
        settled, objective = settle_contacts(weighed, at.shape, guess, at.tau_s, prior, 3)
        used = weighed.weight.reshape(batch.n_flicks, -1)
        objective = objective - np.sum(np.log(np.where(used > 0, used, 1.0)), axis=1)
        contact, best = np.where(objective < best, settled, contact), np.minimum(objective, best)
    return contact
