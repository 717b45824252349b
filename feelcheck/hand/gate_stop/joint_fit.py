"""Separable least squares over all flicks at once: shared time constants, a contact instant for every flick."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS, Batch
from feelcheck.hand.gate_stop.linearised import Linearised, linearise
from feelcheck.hand.gate_stop.models import N_MOTION, ResponseShape
from feelcheck.model import FloatArray

__all__ = ["Fit", "fit", "settle_contacts", "shared_covariances"]

LEAST_TAU_S, LARGEST_TAU_S = 2e-5, 1.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """What one candidate came to.

    Parameters
    ----------
    shape : ResponseShape
        The candidate.
    tau_s : ndarray, shape (N_GROUPS, m), s
        Time constants of each group.
    contact_s : ndarray, shape (F,), s
        Contact instants.
    coefficients : ndarray, shape (2 F, N_BASIS)
        Linear parameters.
    model : ndarray, shape (2 F, n)
        Fitted readings.
    objective : ndarray, shape (F,)
        -2 log marginal likelihood of each flick up to a constant.
    motion : ndarray, shape (N_GROUPS, N_MOTION)
        Mean motion after contact of each group's flicks at the knots.
    information : ndarray, shape (G p, G p)
        Gauss-Newton Hessian in each group's p = m + N_MOTION shared parameters (log tau, mean motion), contact instants
        eliminated, with the prior of the mean motion.
    flick_score, flick_information : ndarray, shape (F, G p) and (F, G p, G p)
        Every flick's share of gradient and Hessian, without that prior.
    """

    shape: ResponseShape
    tau_s: FloatArray
    contact_s: FloatArray
    coefficients: FloatArray
    model: FloatArray
    objective: FloatArray
    motion: FloatArray
    information: FloatArray
    flick_score: FloatArray
    flick_information: FloatArray


@dataclass(slots=True, kw_only=True, eq=False)
class _System:
    """The normal equations with the contact instants eliminated."""

    hcc: FloatArray
    hct: FloatArray
    gc: FloatArray
    score: FloatArray
    by_flick: FloatArray


@dataclass(slots=True, kw_only=True, eq=False)
class _Point:
    """Where the search stands."""

    contact: FloatArray
    tau: FloatArray
    motion: FloatArray
    at: Linearised
    system: _System
    total: float


def _assemble(batch: Batch, at: Linearised, per_group: int) -> _System:
    flick = np.arange(batch.n_flicks)[:, None]
    own = (batch.group.reshape(-1, 2)[..., None] * per_group + np.arange(per_group)).reshape(batch.n_flicks, -1)
    n_shared = N_GROUPS * per_group
    hcc, gc = at.hessian[:, 0, 0] + 1e-12, at.gradient[:, 0]
    hct, score = np.zeros((batch.n_flicks, n_shared)), np.zeros((batch.n_flicks, n_shared))
    by_flick = np.zeros((batch.n_flicks, n_shared, n_shared))
    hct[flick, own] = at.hessian[:, 0, 1:]
    score[flick, own] = at.gradient[:, 1:]
    by_flick[flick[..., None], own[:, :, None], own[:, None, :]] = at.hessian[:, 1:, 1:]
    by_flick -= hct[:, :, None] * (hct / hcc[:, None])[:, None, :]
    score -= hct * (gc / hcc)[:, None]
    return _System(hcc=hcc, hct=hct, gc=gc, score=score, by_flick=by_flick)


def settle_contacts(
    batch: Batch,
    shape: ResponseShape,
    contact_s: FloatArray,
    tau_s: FloatArray,
    motion: FloatArray,
    precision: FloatArray,
    n_steps: int,
) -> tuple[FloatArray, FloatArray]:
    """Move the contact instants alone towards their optimum, each with its own damping.

    Parameters
    ----------
    batch, shape, contact_s, tau_s, motion, precision
        As for `linearise`.
    n_steps : int
        Steps.

    Returns
    -------
    ndarray, shape (F,), s
        Contact instants.
    ndarray, shape (F,)
        Each flick's objective there.
    """
    contact, damping = contact_s, np.full(contact_s.shape, 1e-2)
    limit = 3.0 * batch.interval_s
    at = linearise(batch, shape, contact, tau_s, motion, precision, contacts_only=True)
    best, slope, bend = at.objective, at.gradient[:, 0], at.hessian[:, 0, 0]
    for _ in range(n_steps):
        step = np.clip(slope / ((bend + 1e-12) * (1 + damping)), -limit, limit)
        tried = linearise(batch, shape, contact + step, tau_s, motion, precision, contacts_only=True)
        better = tried.objective <= best
        contact, best = np.where(better, contact + step, contact), np.minimum(tried.objective, best)
        slope = np.where(better, tried.gradient[:, 0], slope)
        bend = np.where(better, tried.hessian[:, 0, 0], bend)
        damping = np.where(better, damping * 0.2, damping * 8 + 0.1)
    return contact, best


def fit(
    batch: Batch,
    shape: ResponseShape,
    *,
    contact_s: FloatArray,
    tau_s: FloatArray,
    motion: FloatArray,
    precision: FloatArray,
    motion_precision: FloatArray,
    n_steps: int = 8,
    n_settle: int = 2,
) -> Fit:
    """Fit one candidate to all flicks.

    Parameters
    ----------
    batch : Batch
        The windows.
    shape : ResponseShape
        The candidate.
    contact_s : ndarray, shape (F,), s
        First guess of the contact instants.
    tau_s : ndarray, shape (N_GROUPS, m), s
        First guess of the time constants.
    motion : ndarray, shape (N_GROUPS, N_MOTION)
        First guess of the mean motion after contact.
    precision : ndarray, shape (F, 2 N_BASIS, 2 N_BASIS)
        Inverse prior covariance of each flick's linear parameters about the mean motion.
    motion_precision : ndarray, shape (N_GROUPS, N_MOTION, N_MOTION)
        Inverse prior covariance of the mean motion.
    n_steps, n_settle : int
        Joint steps, and steps of the contact instants alone before them.

    Notes
    -----
    Variable projection with a Gauss-Newton step in (contact instants, log time constants, mean motion) on the marginal
    likelihood. The contact instants are eliminated flick by flick, so the cost is linear in the number of flicks.

    References
    ----------
    G. H. Golub and V. Pereyra, SIAM Journal on Numerical Analysis 10 (1973) 413-432 (from memory).
    """
    per_group = shape.n_poles + N_MOTION
    prior = _mean_prior(motion_precision, per_group)

    def look(contact: FloatArray, tau: FloatArray, mean: FloatArray) -> _Point:
        at = linearise(batch, shape, contact, tau, mean, precision)
        total = float(at.objective.sum() + np.einsum("gi,gij,gj->", mean, motion_precision, mean))
        return _Point(contact=contact, tau=tau, motion=mean, at=at, system=_assemble(batch, at, per_group), total=total)

    if n_settle:
        contact_s, _ = settle_contacts(batch, shape, contact_s, tau_s, motion, precision, n_settle)
    here = look(contact_s, tau_s, motion)
    damping = 1e-3
    for _ in range(n_steps):
        new = look(*_step(batch, here, prior, damping))
        if new.total > here.total:
            settled_s, _ = settle_contacts(batch, shape, here.contact, new.tau, new.motion, precision, 2)
            new = look(settled_s, new.tau, new.motion)
        if new.total <= here.total:
            settled = here.total - new.total < 1e-2 and np.all(np.abs(np.log(new.tau / here.tau)) < 3e-4)
            here, damping = new, damping * 0.1
            if settled:
                break
        else:
            damping = damping * 10 + 1e-3
    return Fit(
        shape=shape,
        tau_s=here.tau,
        contact_s=here.contact,
        coefficients=here.at.coefficients,
        model=here.at.model,
        objective=here.at.objective,
        motion=here.motion,
        information=here.system.by_flick.sum(axis=0) + prior,
        flick_score=here.system.score,
        flick_information=here.system.by_flick,
    )


def shared_covariances(found: Fit, n_flicks: int) -> tuple[FloatArray, FloatArray]:
    """Return two covariances of the parameters that flicks share, shape (G p, G p) each.

    Parameters
    ----------
    found : Fit
        The fit.
    n_flicks : int
        How many flicks the scores come from, for the loss of one degree of freedom.

    Returns
    -------
    ndarray, ndarray
        From the fit's own curvature, and from the spread of the flicks' scores (a sandwich, flicks as clusters).
    """
    inverse = np.linalg.inv(found.information + 1e-6 * np.eye(len(found.information)))
    prior = found.information - found.flick_information.sum(axis=0)
    spread = found.flick_score.T @ found.flick_score * (n_flicks / max(n_flicks - 1, 1))
    return np.asarray(inverse, dtype=np.float64), np.asarray(inverse @ (spread + prior) @ inverse, dtype=np.float64)


def _mean_prior(motion_precision: FloatArray, per_group: int) -> FloatArray:
    m = per_group - N_MOTION
    prior = np.zeros((N_GROUPS, per_group, N_GROUPS, per_group))
    for g in range(N_GROUPS):
        prior[g, m:, g, m:] = motion_precision[g]
    return prior.reshape(N_GROUPS * per_group, N_GROUPS * per_group)


def _step(batch: Batch, here: _Point, prior: FloatArray, damping: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the next contact instants, time constants and mean motions."""
    system, m = here.system, here.tau.shape[1]
    mean = np.concatenate([np.zeros_like(here.tau), here.motion], axis=1)
    score = system.score.sum(axis=0) - prior @ mean.ravel()
    full = system.by_flick.sum(axis=0) + prior
    full = full + np.diag(damping * np.diag(full) + 1e-9)
    moved = np.linalg.solve(full, score).reshape(mean.shape)
    moved[:, :m] = np.clip(moved[:, :m], -0.7, 0.7)
    limit = 2.0 * batch.interval_s
    step = (system.gc - system.hct @ moved.ravel()) / (system.hcc * (1 + damping))
    tau = np.clip(here.tau * np.exp(moved[:, :m]), LEAST_TAU_S, LARGEST_TAU_S)
    return here.contact + np.clip(step, -limit, limit), tau, here.motion + moved[:, m:]
