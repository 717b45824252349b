"""Separable least squares over all flicks at once: shared time constants, a contact instant for every flick."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS, Batch
from feelcheck.hand.gate_stop.linearised import Linearised, Prior, linearise
from feelcheck.hand.gate_stop.models import ResponseShape
from feelcheck.model import FloatArray

__all__ = ["Fit", "fit", "settle_contacts", "shared_covariances"]

LEAST_TAU_S, LARGEST_TAU_S = 2e-5, 1.0
"""Ends of the search, far beyond what is answered."""


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
    information : ndarray, shape (G m, G m)
        Gauss-Newton Hessian in each group's m logarithms of time constants, contact instants eliminated.
    flick_score, flick_information : ndarray, shape (F, G m) and (F, G m, G m)
        Every flick's share of gradient and Hessian.
    """

    shape: ResponseShape
    tau_s: FloatArray
    contact_s: FloatArray
    coefficients: FloatArray
    model: FloatArray
    objective: FloatArray
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
    prior: Prior,
    n_steps: int,
) -> tuple[FloatArray, FloatArray]:
    """Move the contact instants alone towards their optimum, each with its own damping.

    Parameters
    ----------
    batch, shape, contact_s, tau_s, prior
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
    at = linearise(batch, shape, contact, tau_s, prior, contacts_only=True)
    best, slope, bend = at.objective, at.gradient[:, 0], at.hessian[:, 0, 0]
    for _ in range(n_steps):
        step = np.clip(slope / ((bend + 1e-12) * (1 + damping)), -limit, limit)
        tried = linearise(batch, shape, contact + step, tau_s, prior, contacts_only=True)
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
    prior: Prior,
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
    prior : Prior
        Of each flick's linear parameters.
    n_steps, n_settle : int
        Joint steps, and steps of the contact instants alone before them.

    Notes
    -----
    Variable projection with a Gauss-Newton step in contact instants and log time constants on the marginal likelihood.
    The contact instants are eliminated flick by flick, so the cost is linear in the number of flicks.

    References
    ----------
    G. H. Golub and V. Pereyra, SIAM Journal on Numerical Analysis 10 (1973) 413-432 (from memory).
    """

    def look(contact: FloatArray, tau: FloatArray) -> _Point:
        at = linearise(batch, shape, contact, tau, prior)
        system = _assemble(batch, at, shape.n_poles)
        return _Point(contact=contact, tau=tau, at=at, system=system, total=float(at.objective.sum()))

    if n_settle:
        contact_s, _ = settle_contacts(batch, shape, contact_s, tau_s, prior, n_settle)
    here = look(contact_s, tau_s)
    damping = 1e-3
    for _ in range(n_steps):
        new = look(*_step(batch, here, damping))
        # Contacts trade with time constants: settled at the new ones, a step that seemed to fail may be a good one.
        if new.total > here.total:
            settled_s, _ = settle_contacts(batch, shape, here.contact, new.tau, prior, 2)
            new = look(settled_s, new.tau)
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
        information=here.system.by_flick.sum(axis=0),
        flick_score=here.system.score,
        flick_information=here.system.by_flick,
    )


def shared_covariances(found: Fit, n_flicks: int) -> tuple[FloatArray, FloatArray]:
    """Return two covariances of the parameters that flicks share, shape (G m, G m) each.

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
    spread = found.flick_score.T @ found.flick_score * (n_flicks / max(n_flicks - 1, 1))
    return np.asarray(inverse, dtype=np.float64), np.asarray(inverse @ spread @ inverse, dtype=np.float64)


def _step(batch: Batch, here: _Point, damping: float) -> tuple[FloatArray, FloatArray]:
    """Return the next contact instants and time constants."""
    system = here.system
    full = system.by_flick.sum(axis=0)
    full = full + np.diag(damping * np.diag(full) + 1e-9)
    moved = np.clip(np.linalg.solve(full, system.score.sum(axis=0)), -0.7, 0.7)
    limit = 2.0 * batch.interval_s
    step = (system.gc - system.hct @ moved) / (system.hcc * (1 + damping))
    tau = np.clip(here.tau * np.exp(moved.reshape(here.tau.shape)), LEAST_TAU_S, LARGEST_TAU_S)
    return here.contact + np.clip(step, -limit, limit), tau
