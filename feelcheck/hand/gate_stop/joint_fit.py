"""Separable least squares over all flicks at once: shared time constants, a contact instant for every flick."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.contact import motion_covariance
from feelcheck.hand.gate_stop.models import MOTION, N_BASIS, N_MOTION, ResponseShape, basis
from feelcheck.model import FloatArray

__all__ = ["Batch", "Fit", "Prior", "fit", "moments", "settle_contacts"]


_RELATIVE_STEP = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Batch:
    """Windows of readings, one row an axis of a flick.

    Parameters
    ----------
    t_s, y, weight : ndarray, shape (B, n)
        Report instants, readings in fractions turned so that outward is positive, and 1 / variance (0: not used).
    contact : ndarray of int, shape (B,)
        Which rows share a contact instant.
    group : ndarray of int, shape (B,)
        Which rows share time constants (one group an axis and electrical direction).
    scale_s : ndarray, shape (B,), s
        Length of the window before contact.
    interval_s : float, s
        Report interval.
    """

    t_s: FloatArray
    y: FloatArray
    weight: FloatArray
    contact: NDArray[np.int64]
    group: NDArray[np.int64]
    scale_s: FloatArray
    interval_s: float

    @property
    def n_groups(self) -> int:
        """Number of groups."""
        return int(self.group.max()) + 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Standard deviations of the linear parameters, fractions of full throw."""

    level: float = 3.0
    powers: tuple[float, ...] = (3.0, 2.0, 1.0, 0.5)
    states: tuple[float, float] = (0.1, 0.03)
    settle: float = 0.01
    bounce: float = 0.005
    creep: float = 0.004

    def precision(self) -> FloatArray:
        """Inverse covariance, shape (N_BASIS, N_BASIS)."""
        matrix = np.zeros((N_BASIS, N_BASIS))
        sd = np.array([self.level, *self.powers, *self.states])
        matrix[: MOTION.start, : MOTION.start] = np.diag(1.0 / sd**2)
        matrix[MOTION, MOTION] = np.linalg.inv(motion_covariance(self.settle, self.bounce, self.creep))
        return matrix


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """What one candidate came to.

    Parameters
    ----------
    shape : ResponseShape
        The candidate.
    tau_s : ndarray, shape (G, m), s
        Time constants of each group.
    contact_s : ndarray, shape (B,), s
        Contact instants (equal for the rows of a flick when shared).
    coefficients : ndarray, shape (B, N_BASIS)
        Linear parameters.
    model : ndarray, shape (B, n)
        Fitted readings.
    objective : ndarray, shape (B,)
        Penalised weighted sum of squares of each row.
    motion : ndarray, shape (G, N_MOTION)
        Mean motion after contact of each group's flicks at the knots.
    information : ndarray, shape (G p, G p)
        Gauss-Newton Hessian in each group's p = m + N_MOTION shared parameters (log tau, mean motion), contact instants
        eliminated, with the prior of the mean motion.
    flick_score, flick_information : ndarray, shape (C, G p) and (C, G p, G p)
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
class _Linearised:
    """One evaluation: linear solution and projected derivatives."""

    coefficients: FloatArray
    model: FloatArray
    objective: FloatArray
    hessian: FloatArray
    gradient: FloatArray


def _solve(
    batch: Batch, phi: FloatArray, precision: FloatArray, motion: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return normal matrix, coefficients and objective of the penalised linear problem; motion is (B, N_MOTION)."""
    weighted = phi * batch.weight[..., None]
    normal = np.matmul(weighted.transpose(0, 2, 1), phi)
    normal += precision
    expected = np.zeros((len(phi), N_BASIS))
    expected[:, MOTION] = motion
    moment = np.matmul(weighted.transpose(0, 2, 1), batch.y[..., None])[..., 0]
    moment += np.matmul(precision, expected[..., None])[..., 0]
    coefficients = np.linalg.solve(normal, moment[..., None])[..., 0]
    residual = batch.y - np.matmul(phi, coefficients[..., None])[..., 0]
    off = coefficients - expected
    penalty = np.sum(off * np.matmul(precision, off[..., None])[..., 0], axis=1)
    volume = np.linalg.slogdet(normal)[1] - np.linalg.slogdet(precision)[1]
    objective = np.sum(batch.weight * residual**2, axis=1) + penalty + volume
    return normal, coefficients, objective


def moments(
    batch: Batch, shape: ResponseShape, contact_s: FloatArray, tau_s: FloatArray, motion: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return normal matrices, shape (B, N_BASIS, N_BASIS), and moments, (B, N_BASIS), about the mean motion.

    `contact_s` has shape (B,), `tau_s` (G, m), both in s; `motion` (G, N_MOTION).
    """
    phi = basis(
        batch.t_s,
        contact_s,
        tau_s[batch.group],
        lags_s=shape.lags() * batch.interval_s,
        scale_s=batch.scale_s,
    )
    weighted = (phi * batch.weight[..., None]).transpose(0, 2, 1)
    rest = batch.y - np.matmul(phi[..., MOTION], motion[batch.group][..., None])[..., 0]
    return np.matmul(weighted, phi), np.matmul(weighted, rest[..., None])[..., 0]


def _linearise(
    batch: Batch,
    shape: ResponseShape,
    contact: FloatArray,
    tau: FloatArray,
    motion: FloatArray,
    precision: FloatArray,
    *,
    contacts_only: bool = False,
) -> _Linearised:
    def columns(c: FloatArray, rows_tau: FloatArray) -> FloatArray:
        return basis(batch.t_s, c, rows_tau, lags_s=shape.lags() * batch.interval_s, scale_s=batch.scale_s)

    rows_tau = tau[batch.group]
    phi = columns(contact, rows_tau)
    normal, coefficients, objective = _solve(batch, phi, precision, motion[batch.group])
    model = np.matmul(phi, coefficients[..., None])[..., 0]
    m = shape.n_poles
    jacobian = np.zeros((*model.shape, 1 + m + N_MOTION))
    jacobian[..., 1 + m :] = phi[..., MOTION]
    step = 1e-4 * batch.interval_s
    inverse = np.linalg.inv(normal)
    spread = np.matmul(phi, inverse) * batch.weight[..., None]
    volume_slope = np.zeros((len(model), 1 + m + N_MOTION))
    for i in range(1 if contacts_only else 1 + m):
        moved = rows_tau.copy()
        if i:
            moved[:, i - 1] *= 1.0 + _RELATIVE_STEP
        width = _RELATIVE_STEP if i else step
        change = (columns(contact + (0.0 if i else step), moved) - phi) / width
        jacobian[..., i] = np.matmul(change, coefficients[..., None])[..., 0]
        volume_slope[:, i] = np.einsum("bnp,bnp->b", spread, change)
    residual = batch.y - model
    gradient = np.matmul((batch.weight[..., None] * jacobian).transpose(0, 2, 1), residual[..., None])[..., 0]
    shed = np.matmul(inverse, np.matmul((phi * batch.weight[..., None]).transpose(0, 2, 1), jacobian))
    jacobian -= np.matmul(phi, shed)
    hessian = np.matmul((batch.weight[..., None] * jacobian).transpose(0, 2, 1), jacobian)
    hessian += np.matmul(shed.transpose(0, 2, 1), np.matmul(precision, shed))
    gradient -= volume_slope
    return _Linearised(coefficients=coefficients, model=model, objective=objective, hessian=hessian, gradient=gradient)


@dataclass(slots=True, kw_only=True, eq=False)
class _System:
    """The normal equations with the contact instants eliminated."""

    hcc: FloatArray
    hct: FloatArray
    gc: FloatArray
    schur: FloatArray
    score: FloatArray
    by_contact: FloatArray


def _assemble(batch: Batch, at: _Linearised, per_group: int) -> _System:
    n_contacts, n_shared = int(batch.contact.max()) + 1, batch.n_groups * per_group
    row, own = batch.contact, batch.group[:, None] * per_group + np.arange(per_group)
    hcc = np.bincount(row, at.hessian[:, 0, 0]) + 1e-12
    gc = np.bincount(row, at.gradient[:, 0])
    hct, gt = np.zeros((n_contacts, n_shared)), np.zeros((n_contacts, n_shared))
    by_contact = np.zeros((n_contacts, n_shared, n_shared))
    np.add.at(hct, (row[:, None], own), at.hessian[:, 0, 1:])
    np.add.at(gt, (row[:, None], own), at.gradient[:, 1:])
    np.add.at(by_contact, (row[:, None, None], own[:, :, None], own[:, None, :]), at.hessian[:, 1:, 1:])
    by_contact -= hct[:, :, None] * (hct / hcc[:, None])[:, None, :]
    score = gt - hct * (gc / hcc)[:, None]
    return _System(hcc=hcc, hct=hct, gc=gc, schur=by_contact.sum(axis=0), score=score, by_contact=by_contact)


def settle_contacts(
    batch: Batch,
    shape: ResponseShape,
    contact: FloatArray,
    tau: FloatArray,
    motion: FloatArray,
    precision: FloatArray,
    n_steps: int,
) -> FloatArray:
    """Move the contact instants alone to their optimum, each with its own damping; contact is (C,)."""
    rows = batch.contact
    damping, limit = np.full(contact.shape, 1e-2), 3.0 * batch.interval_s
    at = _linearise(batch, shape, contact[rows], tau, motion, precision, contacts_only=True)
    best = np.bincount(rows, at.objective)
    slope, bend = (np.bincount(rows, part) for part in (at.gradient[:, 0], at.hessian[:, 0, 0]))
    for _ in range(n_steps):
        step = np.clip(slope / ((bend + 1e-12) * (1 + damping)), -limit, limit)
        tried = _linearise(batch, shape, (contact + step)[rows], tau, motion, precision, contacts_only=True)
        objective = np.bincount(rows, tried.objective)
        better = objective <= best
        contact, best = np.where(better, contact + step, contact), np.minimum(objective, best)
        slope = np.where(better, np.bincount(rows, tried.gradient[:, 0]), slope)
        bend = np.where(better, np.bincount(rows, tried.hessian[:, 0, 0]), bend)
        damping = np.where(better, damping * 0.2, damping * 8 + 0.1)
    return contact


@dataclass(slots=True, kw_only=True, eq=False)
class _Point:
    """Where the search stands."""

    contact: FloatArray
    tau: FloatArray
    motion: FloatArray
    at: _Linearised
    system: _System
    total: float


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
    contact_s : ndarray, shape (C,), s
        First guess of the contact instants.
    tau_s : ndarray, shape (G, m), s
        First guess of the time constants.
    motion : ndarray, shape (G, N_MOTION)
        First guess of the mean motion after contact.
    precision : ndarray, shape (N_BASIS, N_BASIS) or (B, N_BASIS, N_BASIS)
        Inverse prior covariance of the linear parameters about the mean motion.
    motion_precision : ndarray, shape (G, N_MOTION, N_MOTION)
        Inverse prior covariance of the mean motion.
    n_steps, n_settle : int
        Joint steps, and steps of the contact instants alone before them.

    Notes
    -----
    Variable projection with a Gauss-Newton step in (contact instants, log time constants, mean motion) on the marginal
    likelihood: the linear parameters are integrated out under their prior. The contact instants are eliminated flick by
    flick, so the cost is linear in the number of flicks.

    References
    ----------
    G. H. Golub and V. Pereyra, SIAM Journal on Numerical Analysis 10 (1973) 413-432 (from memory).
    """
    m = shape.n_poles
    prior = np.zeros((batch.n_groups, m + N_MOTION, batch.n_groups, m + N_MOTION))
    for g in range(batch.n_groups):
        prior[g, m:, g, m:] = motion_precision[g]
    prior = prior.reshape(batch.n_groups * (m + N_MOTION), -1)

    def look(contact: FloatArray, tau: FloatArray, mean: FloatArray) -> _Point:
        at = _linearise(batch, shape, contact[batch.contact], tau, mean, precision)
        total = float(at.objective.sum() + np.einsum("gi,gij,gj->", mean, motion_precision, mean))
        return _Point(
            contact=contact, tau=tau, motion=mean, at=at, system=_assemble(batch, at, m + N_MOTION), total=total
        )

    if n_settle:
        contact_s = settle_contacts(batch, shape, contact_s, tau_s, motion, precision, n_settle)
    here = look(contact_s, tau_s, motion)
    damping = 1e-3
    for _ in range(n_steps):
        new = look(*_step(batch, here, prior, damping, m))
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
        information=here.system.schur + prior,
        flick_score=here.system.score,
        flick_information=here.system.by_contact,
    )


def _step(
    batch: Batch, here: _Point, prior: FloatArray, damping: float, m: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the next contact instants, time constants and mean motions."""
    system, shared = here.system, (batch.n_groups, m + N_MOTION)
    mean = np.zeros(shared)
    mean[:, m:] = here.motion
    score = system.score.sum(axis=0) - prior @ mean.ravel()
    full = system.schur + prior
    full = full + np.diag(damping * np.diag(full) + 1e-9)
    moved = np.linalg.solve(full, score).reshape(shared)
    moved[:, :m] = np.clip(moved[:, :m], -0.7, 0.7)
    limit = 2.0 * batch.interval_s
    step = (system.gc - system.hct @ moved.ravel()) / (system.hcc * (1 + damping))
    tau = np.clip(here.tau * np.exp(moved[:, :m]), 2e-5, 1.0)
    return here.contact + np.clip(step, -limit, limit), tau, here.motion + moved[:, m:]
