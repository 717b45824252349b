"""Find the best fit of one candidate: start, settle the priors of the motion at the rim, refine."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS, Batch
from feelcheck.hand.gate_stop.batches import first_contacts, trimmed, weigh
from feelcheck.hand.gate_stop.joint_fit import Fit, fit, settle_contacts
from feelcheck.hand.gate_stop.linearised import moments
from feelcheck.hand.gate_stop.models import N_MOTION, ResponseShape
from feelcheck.hand.gate_stop.rim_priors import IDEAS, OTHER_IDEAS, Rim, best_mean, best_rim, rim_of, stiff_mean
from feelcheck.model import FloatArray

__all__ = ["Found", "candidate", "everything", "pilot", "refined", "rim_ratios", "started"]

CONTACT_LEVELS = (0.96, 0.85, 1.0)
LOG_TAU_SD = 1.5
"""How far the logarithm of a time constant may lie from what is usual: from a fraction of a millisecond to hundreds."""

START_TAUS_S = (0.0005, 0.002, 0.006, 0.016, 0.045)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """A fit with the weights and the priors it was made with; `total` is -2 log marginal likelihood + constant."""

    fit: Fit
    batch: Batch
    rim: Rim
    mean_precision: FloatArray
    total: float


def _fitted(
    batch: Batch,
    at: Fit,
    rim: Rim,
    mean_precision: FloatArray,
    *,
    n_steps: int,
    n_settle: int,
) -> Found:
    found = fit(
        batch,
        at.shape,
        contact_s=at.contact_s,
        tau_s=at.tau_s,
        motion=at.motion,
        precision=rim.precision(batch.angle_rad),
        motion_precision=mean_precision,
        n_steps=n_steps,
        n_settle=n_settle,
    )
    used = batch.weight > 0
    total = (
        found.objective.sum()
        - np.log(batch.weight[used]).sum()
        + np.einsum("gi,gij,gj->", found.motion, mean_precision, found.motion)
        + _volume(found)
        - np.linalg.slogdet(mean_precision)[1].sum()
    )
    return Found(fit=found, batch=batch, rim=rim, mean_precision=mean_precision, total=float(total))


def _volume(found: Fit) -> float:
    """Return the logarithm of the posterior over the prior volume of the time constants, and that of the mean motion.

    Notes
    -----
    A pole that the readings do not determine then costs nothing and gains nothing.
    """
    m = found.shape.n_poles
    prior = np.full(len(found.information), 1e-9)
    of_tau = np.arange(len(prior)) % (m + N_MOTION) < m
    prior[of_tau] = LOG_TAU_SD**-2
    volume = np.linalg.slogdet(found.information + np.diag(prior))[1]
    return float(volume - np.log(prior[of_tau]).sum())


def _beginning(shape: ResponseShape, tau_s: FloatArray, contact_s: FloatArray) -> Fit:
    """Return a place to start from: nothing is fitted yet."""
    nothing = np.zeros(0)
    return Fit(
        shape=shape,
        tau_s=tau_s,
        contact_s=contact_s,
        motion=np.zeros((N_GROUPS, N_MOTION)),
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


def pilot(batch: Batch, onset_s: FloatArray) -> Found:
    """Return the one-pole fit of a few flicks, from several time constants and several ideas of the rim.

    Parameters
    ----------
    batch : Batch
        The flicks to look at.
    onset_s : ndarray, shape (F,), s
        Their onsets.
    """
    stiff = min((_started(batch, onset_s, tau_s) for tau_s in START_TAUS_S), key=lambda found: found.total)
    guesses = [first_contacts(batch, float(np.median(stiff.fit.tau_s)), level) for level in CONTACT_LEVELS]
    rim = rim_of(IDEAS[-1], batch.n_flicks)
    contact = _best_contacts(batch, stiff.fit, rim, [stiff.fit.contact_s, *guesses], onset_s)
    weighed = weigh(batch, batch.weight, contact, onset_s, np.ones(batch.n_flicks))
    weighed, _ = trimmed(weighed, batch.weight)
    return _from_rims(weighed, replace(stiff.fit, contact_s=contact), [rim_of(idea, batch.n_flicks) for idea in IDEAS])


def _started(batch: Batch, onset_s: FloatArray, tau_s: float) -> Found:
    """Return a few steps from one time constant with a stiff rim."""
    contact = first_contacts(batch, tau_s)
    weighed, _ = trimmed(weigh(batch, batch.weight, contact, onset_s, np.ones(batch.n_flicks)), batch.weight)
    start = _beginning(ResponseShape(n_poles=1), np.full((N_GROUPS, 1), tau_s), contact)
    rim = rim_of(IDEAS[0], batch.n_flicks)
    return _fitted(weighed, start, rim, stiff_mean(), n_steps=3, n_settle=2)


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
    first = _fitted(batch, start, rim_of(IDEAS[1], batch.n_flicks), stiff_mean(), n_steps=3, n_settle=1)
    return refined(first, batch, 3)


def _from_rims(batch: Batch, start: Fit, rims: list[Rim]) -> Found:
    """Return the best of the fits that start with one idea of the rim each."""
    tried = [_fitted(batch, start, rim, stiff_mean(), n_steps=3, n_settle=1) for rim in rims]
    return min((refined(found, batch, 3) for found in tried), key=lambda found: found.total)


def refined(found: Found, batch: Batch, n_steps: int) -> Found:
    """Return the fit with its priors chosen anew, carried on for some steps on (newly weighed) windows."""
    at = found.fit
    normal, moment = moments(batch, at.shape, at.contact_s, at.tau_s, at.motion)
    rim, _ = best_rim(normal, moment, batch.angle_rad)
    mean = best_mean(at.flick_information.sum(axis=0), at.flick_score.sum(axis=0), at.motion)
    return _fitted(batch, at, rim, mean, n_steps=n_steps, n_settle=0)


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
    shape, tau = replace(found.fit.shape, quick=False), found.fit.tau_s
    average_s = 0.5 * (shape.n_average - 1) * batch.interval_s
    delay_s = float(np.median(tau.sum(axis=1))) + average_s
    guesses = [first_contacts(batch, delay_s, level) for level in CONTACT_LEVELS]
    trust, rims = np.ones(batch.n_flicks), [rim_of(idea, batch.n_flicks) for idea in (IDEAS[0], IDEAS[-1])]
    contact = _best_contacts(batch, replace(found.fit, shape=shape), rims[1], guesses, onset_s)
    weighed, plain = trimmed(weigh(batch, batch.weight, contact, onset_s, trust), batch.weight)
    start = replace(found.fit, shape=shape, contact_s=contact)
    tried = [_fitted(weighed, start, rim, found.mean_precision, n_steps=0, n_settle=2) for rim in rims]
    here = min((refined(one, weighed, 3) for one in tried), key=lambda one: one.total)
    for n_steps in (3, 5):
        trust = _trust(here.batch, here.fit) * trust
        here = refined(here, weigh(weighed, plain, here.fit.contact_s, onset_s, trust), n_steps)
    return here


def _best_contacts(batch: Batch, at: Fit, rim: Rim, guesses: list[FloatArray], onset_s: FloatArray) -> FloatArray:
    """Settle the contact instants from several guesses and keep the best of each flick."""
    precision, best, contact = rim.precision(batch.angle_rad), np.full(batch.n_flicks, np.inf), guesses[0]
    for guess in guesses:
        weighed, _ = trimmed(weigh(batch, batch.weight, guess, onset_s, np.ones(batch.n_flicks)), batch.weight)
        settled, objective = settle_contacts(weighed, at.shape, guess, at.tau_s, at.motion, precision, 3)
        used = weighed.weight.reshape(batch.n_flicks, -1)
        objective = objective - np.sum(np.log(np.where(used > 0, used, 1.0)), axis=1)
        contact, best = np.where(objective < best, settled, contact), np.minimum(objective, best)
    return contact


def rim_ratios(found: Found) -> tuple[list[FloatArray], list[float]]:
    """Return how the delays change when every flick is given the same other idea of the rim, radially.

    Parameters
    ----------
    found : Found
        The fit of all flicks.

    Returns
    -------
    list of ndarray, shape (N_GROUPS,)
        Sum of the time constants over that of `found`; 1 for a candidate without poles.
    list of float
        -2 log marginal likelihood over that of `found`.
    """
    ratios, losses = [], []
    for k, idea in enumerate(OTHER_IDEAS):
        rim = replace(found.rim, radial=rim_of(idea, found.batch.n_flicks).radial)
        mean = stiff_mean() if k % 2 else found.mean_precision
        other = _fitted(found.batch, found.fit, rim, mean, n_steps=3, n_settle=0)
        losses.append(other.total - found.total)
        ratios.append(other.fit.tau_s.sum(axis=1) / np.maximum(found.fit.tau_s.sum(axis=1), 1e-12))
    return ratios, losses


def candidate(one_pole: Found, shape: ResponseShape, tau_s: FloatArray, shift_s: float) -> Found:
    """Return the fit of another candidate on the weights of the pilot, its priors chosen anew.

    Parameters
    ----------
    one_pole : Found
        The pilot.
    shape : ResponseShape
        The candidate.
    tau_s : ndarray, shape (N_GROUPS, m), s
        First guess.
    shift_s : float, s
        How much later contact is likely to be than in the pilot.
    """
    batch = one_pole.batch
    rims = [replace(one_pole.rim, radial=rim_of(idea, batch.n_flicks).radial) for idea in IDEAS[:2]]
    start = _beginning(shape, tau_s, one_pole.fit.contact_s + shift_s)
    precision, best = rims[0].precision(batch.angle_rad), np.full(batch.n_flicks, np.inf)
    contact = start.contact_s
    for away_s in (0.0, -3 * batch.interval_s, 3 * batch.interval_s):
        guess = start.contact_s + away_s
        settled, objective = settle_contacts(batch, shape, guess, tau_s, start.motion, precision, 2)
        contact, best = np.where(objective < best, settled, contact), np.minimum(objective, best)
    return _from_rims(batch, replace(start, contact_s=contact), rims)
