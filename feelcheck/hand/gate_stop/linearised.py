"""One evaluation of the model: the linear parameters solved, the derivatives in all others projected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.models import MOTION, N_BASIS, ResponseShape, basis
from feelcheck.model import FloatArray

__all__ = ["Linearised", "Prior", "columns", "evidence", "linearise", "moments", "volume_and_square"]

RELATIVE_STEP = 1e-4
LARGE = 1e100
"""Corner of a bordered matrix: any number that keeps it positive definite."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """What is known of each flick's linear parameters beforehand.

    Parameters
    ----------
    precision : ndarray, shape (F, 2 N_BASIS, 2 N_BASIS)
        Inverse covariance, x axis first.
    expected : ndarray, shape (F, 2 N_BASIS)
        What they are expected to be.
    volume : ndarray, shape (F,)
        log det of the inverse covariance.
    """

    precision: FloatArray
    expected: FloatArray
    volume: FloatArray


@dataclass(slots=True, kw_only=True, eq=False)
class Linearised:
    """The linear solution and what a Gauss-Newton step needs.

    Parameters
    ----------
    coefficients : ndarray, shape (2 F, N_BASIS)
        Linear parameters.
    model : ndarray, shape (2 F, n)
        Fitted readings.
    objective : ndarray, shape (F,)
        -2 log marginal likelihood of each flick up to a constant.
    hessian, gradient : ndarray, shape (F, q, q) and (F, q)
        In q = 1 + 2 m parameters: contact instant; log time constants of x; of y.
    """

    coefficients: FloatArray
    model: FloatArray
    objective: FloatArray
    hessian: FloatArray
    gradient: FloatArray


def columns(
    batch: Batch, shape: ResponseShape, contact_s: FloatArray, tau_s: FloatArray, lead_s: float = 0.0
) -> FloatArray:
    """Return the basis at contact instants, shape (F,), and time constants of the rows, shape (2 F, m)."""
    return basis(
        batch.t_s,
        np.repeat(contact_s, 2) + lead_s,
        tau_s,
        lags_s=shape.lags() * batch.interval_s,
        scale_s=batch.scale_s,
    )


def _both_axes(rows: FloatArray) -> FloatArray:
    """Return (2 F, p, p) blocks as the diagonal of (F, 2 p, 2 p)."""
    p = rows.shape[1]
    full = np.zeros((len(rows) // 2, 2 * p, 2 * p))
    full[:, :p, :p], full[:, p:, p:] = rows[0::2], rows[1::2]
    return full


def moments(
    batch: Batch, shape: ResponseShape, contact_s: FloatArray, tau_s: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return normal matrices and right-hand sides of each flick's linear parameters.

    Parameters
    ----------
    batch : Batch
        The windows.
    shape : ResponseShape
        The candidate.
    contact_s : ndarray, shape (F,), s
        Contact instants.
    tau_s : ndarray, shape (N_GROUPS, m), s
        Time constants.

    Returns
    -------
    ndarray, shape (F, 2 N_BASIS, 2 N_BASIS) and (F, 2 N_BASIS)
        Without any prior.
    """
    _, normal, moment = _normal_equations(batch, columns(batch, shape, contact_s, tau_s[batch.group]))
    return normal, moment


def _normal_equations(batch: Batch, phi: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the weighted columns, shape (2 F, N_BASIS, n), and each flick's normal matrix and right-hand side."""
    weighted = (phi * batch.weight[..., None]).transpose(0, 2, 1)
    moment = np.matmul(weighted, batch.y[..., None])[..., 0]
    return weighted, _both_axes(np.matmul(weighted, phi)), moment.reshape(-1, 2 * N_BASIS)


def evidence(batch: Batch, phi: FloatArray, prior: Prior) -> FloatArray:
    """Return -2 log marginal likelihood of each flick, shape (F,).

    Parameters
    ----------
    batch : Batch
        The windows.
    phi : ndarray, shape (2 F, n, N_BASIS)
        From `columns`.
    prior : Prior
        Of each flick's linear parameters; nothing may be expected of them.

    Notes
    -----
    Up to a constant of the readings and the prior.
    """
    _, normal, moment = _normal_equations(batch, phi)
    normal += prior.precision
    measured = np.sum((batch.weight * batch.y**2).reshape(batch.n_flicks, -1), axis=1)
    volume, explained = volume_and_square(normal, moment)
    volume -= np.linalg.slogdet(_of_approach(normal))[1].sum(axis=1)
    return np.asarray(measured - explained + volume)


def volume_and_square(matrix: FloatArray, vector: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return log det A and b' inv(A) b of positive definite matrices.

    Parameters
    ----------
    matrix : ndarray, shape (..., p, p)
        A.
    vector : ndarray, shape (..., p)
        b.

    Returns
    -------
    ndarray, ndarray, shape (...)
        Both.

    Notes
    -----
    One Cholesky factor of the matrix bordered with the vector holds the determinant and, in its last row, the square.

    Examples
    --------
    >>> volume, square = volume_and_square(np.diag([2.0, 4.0]), np.array([1.0, 2.0]))
    >>> round(float(np.exp(volume)), 9), round(float(square), 9)
    (8.0, 1.5)
    """
    p = vector.shape[-1]
    bordered = np.empty((*vector.shape[:-1], p + 1, p + 1))
    bordered[..., :-1, :-1] = matrix
    bordered[..., :-1, -1] = bordered[..., -1, :-1] = vector
    bordered[..., -1, -1] = LARGE
    factor = np.linalg.cholesky(bordered)
    volume = 2.0 * np.log(np.diagonal(factor, axis1=-2, axis2=-1)[..., :-1]).sum(axis=-1)
    return volume, np.sum(factor[..., -1, :-1] ** 2, axis=-1)


def _of_approach(normal: FloatArray) -> FloatArray:
    """Return the part of the normal matrices that belongs to everything but the motion after contact, by axis.

    Shape (F, 2, MOTION.start, MOTION.start).

    Notes
    -----
    Level, approach and initial states have no prior worth the name, so that the volume they leave would depend on the
    units they are written in; it is taken off, and candidates compare by misfit and motion at the rim alone.
    """
    n = MOTION.start
    return np.stack([normal[:, k : k + n, k : k + n] for k in (0, N_BASIS)], axis=1)


def linearise(
    batch: Batch,
    shape: ResponseShape,
    contact_s: FloatArray,
    tau_s: FloatArray,
    prior: Prior,
    *,
    contacts_only: bool = False,
) -> Linearised:
    """Solve the linear parameters and project the derivatives.

    Parameters
    ----------
    batch, shape, contact_s, tau_s
        As for `moments`.
    prior : Prior
        Of each flick's linear parameters.
    contacts_only : bool
        Leave derivatives in the time constants out.

    Notes
    -----
    The linear parameters are integrated out under their prior, so that the objective holds the logarithm of the volume
    they leave. The Hessian is Gauss-Newton: the projected derivatives' products and the prior's share, squares alike.
    The gradient uses the projected derivatives too, so that errors of the solution enter it to second order only.
    """
    rows_tau = tau_s[batch.group]
    phi = columns(batch, shape, contact_s, rows_tau)
    weighted, normal, moment = _normal_equations(batch, phi)
    precision = prior.precision
    normal += precision
    moment += np.matmul(precision, prior.expected[..., None])[..., 0]
    inverse: FloatArray = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    found = np.matmul(inverse, moment[..., None])
    found = (found + np.matmul(inverse, moment[..., None] - np.matmul(normal, found)))[..., 0]
    off = found - prior.expected
    coefficients = found.reshape(-1, N_BASIS)
    model = np.matmul(phi, coefficients[..., None])[..., 0]
    residual = batch.y - model
    objective = np.sum((batch.weight * residual**2).reshape(batch.n_flicks, -1), axis=1)
    objective += np.sum(off * np.matmul(precision, off[..., None])[..., 0], axis=1)
    approach = _of_approach(normal)
    objective += np.linalg.slogdet(normal)[1] - prior.volume
    objective -= np.linalg.slogdet(approach)[1].sum(axis=1)
    jacobian, volume_slope = _derivatives(
        batch, shape, contact_s, rows_tau, phi, coefficients, inverse, approach, contacts_only=contacts_only
    )
    wide, shed = _projected(batch, phi, weighted, jacobian, inverse)
    heavy = (batch.weight[..., None] * wide).transpose(0, 2, 1)
    kept = np.matmul(shed.transpose(0, 2, 1), precision)
    hessian = _pairs(np.matmul(heavy, wide)) + np.matmul(kept, shed)
    gradient = _pairs(np.matmul(heavy, residual[..., None])[..., 0]) + np.matmul(kept, off[..., None])[..., 0]
    return Linearised(
        coefficients=coefficients,
        model=model,
        objective=objective,
        hessian=hessian,
        gradient=gradient - _by_flick(volume_slope),
    )


def _by_flick(slopes: FloatArray) -> FloatArray:
    """Gather (2 F, 1 + k) row gradients into (F, 1 + 2 k): the contact instant is common to both."""
    return np.concatenate([slopes[0::2, :1] + slopes[1::2, :1], slopes[0::2, 1:], slopes[1::2, 1:]], axis=1)


def _derivatives(
    batch: Batch,
    shape: ResponseShape,
    contact_s: FloatArray,
    rows_tau: FloatArray,
    phi: FloatArray,
    coefficients: FloatArray,
    inverse: FloatArray,
    approach: FloatArray,
    *,
    contacts_only: bool,
) -> tuple[FloatArray, FloatArray]:
    """Return each row's derivatives in its own parameters, and the slope of the logarithm of the volume."""
    m = shape.n_poles
    jacobian = np.zeros((*batch.y.shape, 1 + m))
    slope = np.zeros((len(phi), 1 + m))
    own = np.empty((len(phi), N_BASIS, N_BASIS))
    own[0::2], own[1::2] = inverse[:, :N_BASIS, :N_BASIS], inverse[:, N_BASIS:, N_BASIS:]
    own[:, : MOTION.start, : MOTION.start] -= np.linalg.inv(approach).reshape(len(phi), MOTION.start, MOTION.start)
    spread = np.matmul(phi, own) * batch.weight[..., None]
    step_s = RELATIVE_STEP * batch.interval_s
    for i in range(1 if contacts_only else 1 + m):
        moved = rows_tau.copy()
        if i:
            moved[:, i - 1] *= 1.0 + RELATIVE_STEP
        change = columns(batch, shape, contact_s, moved, 0.0 if i else step_s) - phi
        change /= RELATIVE_STEP if i else step_s
        jacobian[..., i] = np.matmul(change, coefficients[..., None])[..., 0]
        slope[:, i] = np.einsum("bnp,bnp->b", spread, change)
    return jacobian, slope


def _pairs(rows: FloatArray) -> FloatArray:
    return np.asarray(rows[0::2] + rows[1::2])


def _projected(
    batch: Batch, phi: FloatArray, weighted: FloatArray, jacobian: FloatArray, inverse: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the derivatives with the linear parameters of both axes projected out, and what was taken off.

    Shapes (2 F, n, q) and (F, 2 N_BASIS, q).
    """
    k = jacobian.shape[2] - 1
    cross = np.matmul(weighted, jacobian)
    full = np.zeros((batch.n_flicks, 2 * N_BASIS, 1 + 2 * k))
    wide = np.zeros((*batch.y.shape, 1 + 2 * k))
    for axis in range(2):
        block, place = slice(axis * N_BASIS, (axis + 1) * N_BASIS), slice(1 + axis * k, 1 + (axis + 1) * k)
        full[:, block, 0], full[:, block, place] = cross[axis::2, :, 0], cross[axis::2, :, 1:]
        wide[axis::2, :, 0], wide[axis::2, :, place] = jacobian[axis::2, :, 0], jacobian[axis::2, :, 1:]
    shed = np.matmul(inverse, full)
    wide -= np.matmul(phi, shed.reshape(len(phi), N_BASIS, -1))
    return wide, shed
