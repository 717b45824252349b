"""Find the best fit of one candidate: start, settle the prior of the contact motion, refine."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from feelcheck.hand.gate_stop.batches import first_contacts, trimmed, weigh
from feelcheck.hand.gate_stop.joint_fit import Batch, Fit, Prior, fit, moments, settle_contacts
from feelcheck.hand.gate_stop.models import MOTION, N_MOTION, ResponseShape
from feelcheck.model import FloatArray

__all__ = ["Found", "candidate", "everything", "glance", "pilot", "refined"]

START_TAUS_S = (0.0005, 0.002, 0.006, 0.016, 0.045)
SETTLE_FS = (0.0004, 0.0015, 0.005, 0.016)
BOUNCE_FS = (0.0002, 0.001, 0.004, 0.015)
IDEAS = (
    Prior(settle=0.0004, bounce=0.0002, creep=0.001),
    Prior(settle=0.0004, bounce=0.008, creep=0.001),
    Prior(settle=0.006, bounce=0.0005, creep=0.001),
    Prior(settle=0.006, bounce=0.008, creep=0.001),
)
NO_MOTION = Prior(settle=1e-5, bounce=1e-5, creep=1e-5)
MEAN_MOTION = True
MEAN_SETTLE_FS = (0.0015, 0.006)
MEAN_BOUNCE_FS = (0.0015, 0.006)
CREEP_FS = (0.0003, 0.0015, 0.006)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """A fit with the weights and the priors it was made with; `total` is -2 log marginal likelihood + constant."""

    fit: Fit
    batch: Batch
    precision: FloatArray
    motion_precision: FloatArray
    total: float


def _total(batch: Batch, found: Fit, motion_precision: FloatArray) -> float:
    used = batch.weight > 0
    return float(
        found.objective.sum()
        - np.log(batch.weight[used]).sum()
        + np.einsum("gi,gij,gj->", found.motion, motion_precision, found.motion)
        + np.linalg.slogdet(found.information)[1]
        - np.linalg.slogdet(motion_precision)[1].sum()
    )


@cache
def _priors() -> FloatArray:
    """Inverse prior covariances to choose from, shape (K, N_BASIS, N_BASIS)."""
    return np.array(
        [
            Prior(settle=settle, bounce=bounce, creep=creep).precision()
            for settle in SETTLE_FS
            for bounce in BOUNCE_FS
            for creep in CREEP_FS
        ]
    )


@cache
def _mean_priors() -> FloatArray:
    """Inverse prior covariances of a mean motion to choose from, shape (K, N_MOTION, N_MOTION)."""
    return np.array(
        [
            Prior(settle=settle, bounce=bounce, creep=0.003).precision()[MOTION, MOTION]
            for settle in MEAN_SETTLE_FS
            for bounce in MEAN_BOUNCE_FS
        ]
    )


def _prior_totals(
    batch: Batch, shape: ResponseShape, contact_s: FloatArray, tau_s: FloatArray, motion: FloatArray
) -> FloatArray:
    """Return -2 log marginal likelihood of each flick under each prior, shape (C, K), up to its own constant."""
    normal, moment = moments(batch, shape, contact_s[batch.contact], tau_s, motion)
    priors = _priors()
    totals = np.empty((int(batch.contact.max()) + 1, len(priors)))
    for k, precision in enumerate(priors):
        full = normal + precision
        explained = np.einsum("bi,bi->b", moment, np.linalg.solve(full, moment[..., None])[..., 0])
        volume = np.linalg.slogdet(full)[1] - np.linalg.slogdet(precision)[1]
        totals[:, k] = np.bincount(batch.contact, volume - explained)
    return totals


def _best_priors(batch: Batch, found: Fit) -> FloatArray:
    """Choose how much the stick moves after contact, flick by flick, by marginal likelihood; the rest held.

    Returns the inverse prior covariance of each row, shape (B, N_BASIS, N_BASIS).
    """
    totals, priors = _prior_totals(batch, found.shape, found.contact_s, found.tau_s, found.motion), _priors()
    share = np.full(len(priors), 1.0 / len(priors))
    for _ in range(3):
        score = -0.5 * (totals - totals.min(axis=1, keepdims=True)) + np.log(share)
        likely = np.exp(score - score.max(axis=1, keepdims=True))
        likely /= likely.sum(axis=1, keepdims=True)
        share = (likely.sum(axis=0) + 0.5 / len(priors)) / (len(likely) + 0.5)
    return priors[np.argmax(likely, axis=1)][batch.contact]


def glance(found: Found, shape: ResponseShape, tau_s: FloatArray, shift_s: float) -> float:
    """Return about what a candidate would come to at given time constants, comparable among glances only.

    Parameters
    ----------
    found : Found
        A fit.
    shape : ResponseShape
        The candidate.
    tau_s : ndarray, shape (G, m), s
        Its time constants.
    shift_s : float, s
        How much later contact is likely to be than in `found`.
    """
    still = np.zeros_like(found.fit.motion)
    contact = settle_contacts(found.batch, shape, found.fit.contact_s + shift_s, tau_s, still, IDEAS[0].precision(), 2)
    return float(_prior_totals(found.batch, shape, contact, tau_s, still).min(axis=1).sum())


def _best_motion_priors(found: Fit, motion_precision: FloatArray) -> FloatArray:
    """Choose how large the mean motion of each group may be, its share in time constants eliminated."""
    n_groups, m = len(found.motion), found.shape.n_poles
    per = m + N_MOTION
    bare = found.flick_information.sum(axis=0).reshape(n_groups, per, n_groups, per)
    score = found.flick_score.sum(axis=0).reshape(n_groups, per)
    chosen = motion_precision.copy()
    for g in range(n_groups):
        own = bare[g, :, g, :]
        pull = score[g] + own[:, m:] @ found.motion[g]
        shed = own[m:, :m] @ np.linalg.pinv(own[:m, :m]) if m else np.zeros((N_MOTION, 0))
        info, pull = own[m:, m:] - shed @ own[:m, m:], pull[m:] - shed @ pull[:m]
        best = np.inf
        for precision in _mean_priors():
            full = info + precision
            total = np.linalg.slogdet(full)[1] - np.linalg.slogdet(precision)[1] - pull @ np.linalg.solve(full, pull)
            if total < best:
                best, chosen[g] = total, precision
    return chosen


def _trust(batch: Batch, found: Fit) -> FloatArray:
    """Weigh down flicks that fit much worse than the others do."""
    used = batch.weight > 0
    misfit = np.sum(np.where(used, batch.weight * (batch.y - found.model) ** 2, 0.0), axis=1)
    by_flick = np.bincount(batch.contact, misfit) / np.maximum(np.bincount(batch.contact, used.sum(axis=1)), 1)
    usual = max(float(np.median(by_flick)), 1.0)
    return np.minimum(1.0, 2.0 * usual / np.maximum(by_flick, 1e-9))[batch.contact] / usual


def pilot(batch: Batch, onset_s: FloatArray) -> Found:
    """Return the one-pole fit of a few flicks, from several time constants and several ideas of the rim.

    Parameters
    ----------
    batch : Batch
        The flicks to look at.
    onset_s : ndarray, shape (B,), s
        Their onsets.
    """
    stiff = min((_started(batch, onset_s, tau_s) for tau_s in START_TAUS_S), key=lambda found: found.total)
    weighed = weigh(batch, batch.weight, stiff.fit.contact_s, onset_s, np.ones(len(batch.y)))
    weighed, _ = trimmed(weighed, batch.weight)
    ideas = [_continued(stiff, weighed, prior, 3) for prior in IDEAS]
    return min((refined(idea, weighed, 2) for idea in ideas), key=lambda found: found.total)


def everything(found: Found, batch: Batch, onset_s: FloatArray) -> Found:
    """Return the fit of all flicks, started from that of a few.

    Parameters
    ----------
    found : Found
        The fit of a few.
    batch : Batch
        All flicks.
    onset_s : ndarray, shape (B,), s
        Their onsets.
    """
    shape, tau = replace(found.fit.shape, quick=False), found.fit.tau_s
    average_s = 0.5 * (shape.n_average - 1) * batch.interval_s
    contact = first_contacts(batch, float(np.median(tau.sum(axis=1))) + average_s)
    trust = np.ones(len(batch.y))
    weighed, plain = trimmed(weigh(batch, batch.weight, contact, onset_s, trust), batch.weight)
    start = replace(found, precision=IDEAS[-1].precision(), fit=replace(found.fit, shape=shape, contact_s=contact))
    here = _continued(start, weighed, IDEAS[-1], 0, n_settle=3)
    for _ in range(2):
        weighed = weigh(weighed, plain, here.fit.contact_s, onset_s, trust)
        here = refined(here, weighed, 3)
        trust = _trust(here.batch, here.fit) * trust
    return refined(here, weigh(weighed, plain, here.fit.contact_s, onset_s, trust), 5)


def _started(batch: Batch, onset_s: FloatArray, tau_s: float) -> Found:
    """Return a few steps from one time constant with a stiff rim."""
    contact = first_contacts(batch, tau_s)
    weighed = weigh(batch, batch.weight, contact, onset_s, np.ones(len(batch.y)))
    motion_precision = np.tile(NO_MOTION.precision()[MOTION, MOTION], (batch.n_groups, 1, 1))
    found = fit(
        weighed,
        ResponseShape(n_poles=1),
        contact_s=contact,
        tau_s=np.full((batch.n_groups, 1), tau_s),
        motion=np.zeros((batch.n_groups, N_MOTION)),
        precision=IDEAS[0].precision(),
        motion_precision=motion_precision,
        n_steps=3,
    )
    return Found(
        fit=found,
        batch=weighed,
        precision=IDEAS[0].precision(),
        motion_precision=motion_precision,
        total=_total(weighed, found, motion_precision),
    )


def _continued(found: Found, batch: Batch, prior: Prior, n_steps: int, n_settle: int = 1) -> Found:
    """Return the fit carried on under one prior for all flicks."""
    at = found.fit
    new = fit(
        batch,
        at.shape,
        contact_s=at.contact_s,
        tau_s=at.tau_s,
        motion=at.motion,
        precision=prior.precision(),
        motion_precision=found.motion_precision,
        n_steps=n_steps,
        n_settle=n_settle,
    )
    return Found(
        fit=new,
        batch=batch,
        precision=prior.precision(),
        motion_precision=found.motion_precision,
        total=_total(batch, new, found.motion_precision),
    )


def refined(found: Found, batch: Batch, n_steps: int, *, mean_motion: bool = MEAN_MOTION) -> Found:
    """Return the fit with its priors chosen anew, carried on for some steps on (newly weighed) windows."""
    at = found.fit
    precision = _best_priors(batch, at)
    motion_precision = _best_motion_priors(at, found.motion_precision) if mean_motion else found.motion_precision
    new = fit(
        batch,
        at.shape,
        contact_s=at.contact_s,
        tau_s=at.tau_s,
        motion=at.motion,
        precision=precision,
        motion_precision=motion_precision,
        n_steps=n_steps,
        n_settle=0,
    )
    return Found(
        fit=new,
        batch=batch,
        precision=precision,
        motion_precision=motion_precision,
        total=_total(batch, new, motion_precision),
    )


def candidate(one_pole: Found, shape: ResponseShape, tau_s: FloatArray, shift_s: float) -> Found:
    """Return the fit of another candidate on the weights of the pilot, its priors chosen anew.

    Parameters
    ----------
    one_pole : Found
        The pilot.
    shape : ResponseShape
        The candidate.
    tau_s : ndarray, shape (G, m), s
        First guess.
    shift_s : float, s
        How much later contact is likely to be than in the pilot.
    """
    at = one_pole.fit
    still = np.zeros_like(at.motion)
    start = replace(one_pole, fit=replace(at, shape=shape, tau_s=tau_s, contact_s=at.contact_s + shift_s, motion=still))
    tried = [_continued(start, one_pole.batch, prior, 3, n_settle=2) for prior in IDEAS[:2]]
    return min((refined(found, one_pole.batch, 3) for found in tried), key=lambda found: found.total)
