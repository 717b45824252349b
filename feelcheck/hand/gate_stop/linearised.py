"""One evaluation of the model: the linear parameters solved, the derivatives in all others projected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.elimination import APPROACH_PRECISION, Eliminated, eliminated, volume_and_square
from feelcheck.hand.gate_stop.models import MOTION, N_BASIS, N_MOTION, ResponseShape, basis
from feelcheck.model import FloatArray

__all__ = ["Linearised", "Prior", "columns", "evidence", "linearise", "moments"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """What is known of each flick's motion after contact beforehand.

    Parameters
    ----------
    precision : ndarray, shape (F, 2 N_MOTION, 2 N_MOTION)
        Inverse covariance, x axis first.
    expected : ndarray, shape (F, 2 N_MOTION)
        What it is expected to be.
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


@dataclass(slots=True, kw_only=True, eq=False)
class _Solved:
    """The linear parameters of all rows, what they leave of the readings, and the covariance of the motion."""

    coefficients: FloatArray
    residual: FloatArray
    covariance: FloatArray
    objective: FloatArray


def columns(
    batch: Batch, shape: ResponseShape, contact_s: FloatArray, tau_s: FloatArray, n_slopes: int = 0
) -> FloatArray:
    """Return the basis at contact instants, shape (F,), and time constants of the rows, shape (2 F, m).

    With `n_slopes` the derivatives that `basis` gives besides, along a leading axis.

    Parameters
    ----------
    batch : Batch
        The flicks.
    shape : ResponseShape
        Poles and average.
    contact_s : ndarray, shape (F,)
        Contact instants, s.
    tau_s : ndarray, shape (2 F, m)
        Time constants, s.
    n_slopes : int, optional
        How many derivatives are wanted besides.
    """
    found = basis(
        batch.t_s,
        np.repeat(contact_s, 2),
        tau_s,
        lags_s=shape.lags() * batch.interval_s,
        scale_s=batch.scale_s,
        n_slopes=n_slopes,
    )
    return found if n_slopes else found[0]


def moments(
    batch: Batch, shape: ResponseShape, contact_s: FloatArray, tau_s: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return normal matrices and right-hand sides of each flick's motion, everything else eliminated.

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
    ndarray, shape (F, 2 N_MOTION, 2 N_MOTION) and (F, 2 N_MOTION)
        Without any prior of the motion.
    """
    found = eliminated(batch, columns(batch, shape, contact_s, tau_s[batch.group]))
    return found.info, found.pull


def evidence(batch: Batch, phi: FloatArray, prior: Prior) -> FloatArray:
    """Return -2 log marginal likelihood of each flick, shape (F,), as `linearise` does.

    Parameters
    ----------
    batch : Batch
        The windows.
    phi : ndarray, shape (2 F, n, N_BASIS)
        From `columns`.
    prior : Prior
        Of each flick's motion.
    """
    found = eliminated(batch, phi)
    drawn = np.matmul(prior.precision, prior.expected[..., None])[..., 0]
    volume, explained = volume_and_square(found.info + prior.precision, found.pull + drawn)
    expected = np.sum(prior.expected * drawn, axis=1)
    return np.asarray(found.unexplained + expected - explained + volume - prior.volume)


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
        Of each flick's motion.
    contacts_only : bool
        Leave derivatives in the time constants out.

    Notes
    -----
    The linear parameters are integrated out under their prior, so that the objective holds the logarithm of the volume
    they leave. Level, approach and initial states have no prior worth the name, so that the volume they leave would
    depend on the units they are written in; it is left out, and candidates compare by misfit and motion at the rim
    alone. The Hessian is Gauss-Newton: the projected derivatives' products and the prior's share, squares alike.
    """
    n_slopes = 1 if contacts_only else 1 + shape.n_poles
    phi, *changes = columns(batch, shape, contact_s, tau_s[batch.group], n_slopes)
    found = eliminated(batch, phi)
    solved = _solved(batch, phi, found, prior)
    hessian, gradient = _projected(batch, phi, changes, found, solved, prior)
    return Linearised(
        coefficients=solved.coefficients,
        model=batch.y - solved.residual,
        objective=solved.objective,
        hessian=_all_parameters(hessian, shape.n_poles),
        gradient=_all_parameters(gradient, shape.n_poles),
    )


def _all_parameters(some: FloatArray, n_poles: int) -> FloatArray:
    """Return derivatives with zeros for time constants that were left out."""
    missing = 1 + 2 * n_poles - some.shape[1]
    return np.pad(some, [(0, 0), *[(0, missing)] * (some.ndim - 1)]) if missing else some


def _solved(batch: Batch, phi: FloatArray, found: Eliminated, prior: Prior) -> _Solved:
    """Solve for the linear parameters; once more for what rounding left."""
    total = found.info + prior.precision
    covariance: FloatArray = np.asarray(np.linalg.inv(total), dtype=np.float64)
    coefficients, residual = np.zeros((len(phi), N_BASIS)), batch.y
    off = -prior.expected
    for _ in range(2):
        asked = np.matmul(found.weighted, residual[..., None])[..., 0]
        of_approach = asked[:, : MOTION.start] - APPROACH_PRECISION * coefficients[:, : MOTION.start]
        alone = np.matmul(found.inverse, of_approach[..., None])[..., 0]
        of_motion = asked[:, MOTION] - np.matmul(of_approach[:, None], found.gain)[:, 0]
        of_motion = of_motion.reshape(-1, 2 * N_MOTION) - np.matmul(prior.precision, off[..., None])[..., 0]
        step = np.matmul(covariance, of_motion[..., None])[..., 0]
        off = off + step
        motion = step.reshape(-1, N_MOTION)
        coefficients[:, MOTION] += motion
        coefficients[:, : MOTION.start] += alone - np.matmul(found.gain, motion[..., None])[..., 0]
        residual = batch.y - np.matmul(phi, coefficients[..., None])[..., 0]
    misfit = np.sum(batch.weight * residual**2, axis=1)
    misfit += coefficients[:, : MOTION.start] ** 2 @ APPROACH_PRECISION
    unlikely = np.sum(off * np.matmul(prior.precision, off[..., None])[..., 0], axis=1)
    volume = np.linalg.slogdet(total)[1] - prior.volume
    return _Solved(
        coefficients=coefficients,
        residual=residual,
        covariance=covariance,
        objective=misfit[0::2] + misfit[1::2] + unlikely + volume,
    )


def _projected(
    batch: Batch,
    phi: FloatArray,
    changes: list[FloatArray],
    found: Eliminated,
    solved: _Solved,
    prior: Prior,
) -> tuple[FloatArray, FloatArray]:
    """Return the Gauss-Newton Hessian and the gradient, the linear parameters of both axes projected out.

    Notes
    -----
    First the approach of each row, then the motion, which the axes share. The approach's prior counts as readings.
    """
    n = MOTION.start
    jacobian = np.stack([np.matmul(change, solved.coefficients[..., None])[..., 0] for change in changes], axis=2)
    taken = np.matmul(found.inverse, np.matmul(found.weighted[:, :n], jacobian))
    jacobian = jacobian - np.matmul(phi[..., :n], taken)
    motion = phi[..., MOTION] - np.matmul(phi[..., :n], found.gain)
    heavy = motion * batch.weight[..., None]
    prior_gain = found.gain.transpose(0, 2, 1) * APPROACH_PRECISION
    cross = np.matmul(heavy.transpose(0, 2, 1), jacobian) + np.matmul(prior_gain, taken)
    shed = np.matmul(solved.covariance, _wide(cross).reshape(batch.n_flicks, 2 * N_MOTION, -1))
    by_row = shed.reshape(len(phi), N_MOTION, -1)
    wide = _wide(jacobian) - np.matmul(motion, by_row)
    taken = _wide(taken) - np.matmul(found.gain, by_row)
    heavy_wide = (wide * batch.weight[..., None]).transpose(0, 2, 1)
    prior_taken = taken.transpose(0, 2, 1) * APPROACH_PRECISION
    hessian = _pairs(np.matmul(heavy_wide, wide) + np.matmul(prior_taken, taken))
    hessian += np.matmul(np.matmul(shed.transpose(0, 2, 1), prior.precision), shed)
    left = np.matmul(heavy_wide, solved.residual[..., None])
    left += np.matmul(prior_taken, solved.coefficients[:, :n, None])
    off = solved.coefficients[:, MOTION].reshape(-1, 2 * N_MOTION) - prior.expected
    gradient = _pairs(left[..., 0])
    gradient += np.matmul(shed.transpose(0, 2, 1), np.matmul(prior.precision, off[..., None]))[..., 0]
    return hessian, gradient - _volume_slope(heavy, changes, found, solved.covariance)


def _wide(rows: FloatArray) -> FloatArray:
    """Spread (2 F, p, 1 + k) over the (2 F, p, 1 + 2 k) parameters of a flick: both axes have the contact in common."""
    k = rows.shape[2] - 1
    wide = np.zeros((*rows.shape[:2], 1 + 2 * k))
    wide[..., 0] = rows[..., 0]
    wide[0::2, :, 1 : 1 + k], wide[1::2, :, 1 + k :] = rows[0::2, :, 1:], rows[1::2, :, 1:]
    return wide


def _volume_slope(
    heavy: FloatArray, changes: list[FloatArray], found: Eliminated, covariance: FloatArray
) -> FloatArray:
    """Return half the slope of the logarithm of the volume that the motion leaves, shape (F, 1 + 2 k)."""
    own = np.empty((len(heavy), N_MOTION, N_MOTION))
    own[0::2], own[1::2] = covariance[:, :N_MOTION, :N_MOTION], covariance[:, N_MOTION:, N_MOTION:]
    spread = np.matmul(heavy, own)
    of_approach = np.matmul(spread, found.gain.transpose(0, 2, 1))
    slopes = np.stack(
        [
            np.einsum("bnp,bnp->b", spread, change[..., MOTION])
            - np.einsum("bnp,bnp->b", of_approach, change[..., : MOTION.start])
            for change in changes
        ],
        axis=1,
    )
    return np.concatenate([slopes[0::2, :1] + slopes[1::2, :1], slopes[0::2, 1:], slopes[1::2, 1:]], axis=1)


def _pairs(rows: FloatArray) -> FloatArray:
    return np.asarray(rows[0::2] + rows[1::2])
