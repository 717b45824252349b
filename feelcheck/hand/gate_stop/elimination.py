"""Level, approach and initial states of each row, eliminated: what is left is the motion after contact."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.models import MOTION, N_MOTION
from feelcheck.model import FloatArray

__all__ = ["APPROACH_PRECISION", "Eliminated", "eliminated", "volume_and_square"]

LEVEL_FS = 3.0
POWERS_FS = (3.0, 2.0, 1.0, 0.5)
STATES_FS = (1.0, 1.0)
APPROACH_PRECISION = np.array([LEVEL_FS, *POWERS_FS, *STATES_FS]) ** -2.0
"""Inverse prior variances of level, powers and initial states: no knowledge worth the name."""

LARGE = 1e100
"""Corner of a bordered matrix: any number that keeps it positive definite."""


@dataclass(slots=True, kw_only=True, eq=False)
class Eliminated:
    """The weighted columns of each row, and the normal equations with everything but the motion eliminated.

    Parameters
    ----------
    weighted : ndarray, shape (2 F, N_BASIS, n)
        Columns times weights.
    inverse : ndarray, shape (2 F, MOTION.start, MOTION.start)
        Covariance of everything but the motion, the motion known.
    gain : ndarray, shape (2 F, MOTION.start, N_MOTION)
        How that follows the motion, with the opposite sign.
    alone : ndarray, shape (2 F, MOTION.start)
        That without any motion.
    info, pull : ndarray, shape (F, 2 N_MOTION, 2 N_MOTION) and (F, 2 N_MOTION)
        Normal matrix and right-hand side of each flick's motion, x axis first, without any prior of it.
    unexplained : ndarray, shape (F,)
        Squares that the approach alone leaves.
    """

    weighted: FloatArray
    inverse: FloatArray
    gain: FloatArray
    alone: FloatArray
    info: FloatArray
    pull: FloatArray
    unexplained: FloatArray


def eliminated(batch: Batch, phi: FloatArray) -> Eliminated:
    """Return the normal equations of the motion after contact.

    Parameters
    ----------
    batch : Batch
        The windows.
    phi : ndarray, shape (2 F, n, N_BASIS)
        From `columns`.
    """
    weighted = (phi * batch.weight[..., None]).transpose(0, 2, 1)
    normal = np.matmul(weighted, phi)
    moment = np.matmul(weighted, batch.y[..., None])[..., 0]
    n = MOTION.start
    normal[:, np.arange(n), np.arange(n)] += APPROACH_PRECISION
    inverse: FloatArray = np.asarray(np.linalg.inv(normal[:, :n, :n]), dtype=np.float64)
    gain = np.matmul(inverse, normal[:, :n, MOTION])
    alone = np.matmul(inverse, moment[:, :n, None])[..., 0]
    left = normal[:, MOTION, MOTION] - np.matmul(normal[:, MOTION, :n], gain)
    pull = moment[:, MOTION] - np.matmul(normal[:, MOTION, :n], alone[..., None])[..., 0]
    squares = np.sum(batch.weight * batch.y**2, axis=1) - np.sum(moment[:, :n] * alone, axis=1)
    return Eliminated(
        weighted=weighted,
        inverse=inverse,
        gain=gain,
        alone=alone,
        info=_both_axes(left),
        pull=pull.reshape(-1, 2 * N_MOTION),
        unexplained=squares[0::2] + squares[1::2],
    )


def _both_axes(rows: FloatArray) -> FloatArray:
    """Return (2 F, p, p) blocks as the diagonal of (F, 2 p, 2 p)."""
    p = rows.shape[1]
    full = np.zeros((len(rows) // 2, 2 * p, 2 * p))
    full[:, :p, :p], full[:, p:, p:] = rows[0::2], rows[1::2]
    return full


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
