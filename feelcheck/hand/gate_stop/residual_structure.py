"""What the fit leaves of the flicks: where it hangs together, the response may be another by as much again."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.elimination import APPROACH_PRECISION
from feelcheck.hand.gate_stop.models import MOTION, N_BASIS, N_MOTION, basis
from feelcheck.hand.gate_stop.numbers import (
    COMMON_FROM,
    COMMON_TO,
    FEWEST_ALIKE,
    FEWEST_AT,
    LARGEST_RELATIVE_U,
    MOST_CORRELATED,
)
from feelcheck.hand.gate_stop.search import Found
from feelcheck.model import FloatArray

__all__ = ["ENDS_APART", "HANG_TOGETHER", "common_u", "ends_u", "residual_terms"]

ENDS_APART = "beginning and end of the response that disagree"
HANG_TOGETHER = "residuals that hang together"


def residual_terms(found: Found, g: int) -> dict[str, float]:
    """Return relative standard uncertainties of the time constant from the structure of residuals, by words.

    Parameters
    ----------
    found : Found
        The fit of all flicks.
    g : int
        The axis and direction.
    """
    rows = found.batch.used_rows(g)
    if rows.size < FEWEST_ALIKE:
        return {ENDS_APART: 0.0, HANG_TOGETHER: 0.0}
    delay_s = float(found.fit.tau_s[g].sum()) + 0.5 * (found.fit.shape.n_average - 1) * found.batch.interval_s
    root = np.sqrt(found.batch.weight[rows])
    slope = root * _slopes(found, rows)
    left = root * (found.batch.y - found.fit.model)[rows]
    since_s = found.batch.t_s[rows] - found.fit.contact_s[rows // 2][:, None]
    place = g * found.fit.shape.n_poles + int(np.argmax(found.fit.tau_s[g]))
    information = float(np.median(found.fit.flick_information[rows // 2, place, place]))
    at = np.where(root > 0, np.round(since_s / found.batch.interval_s), COMMON_TO).astype(np.int64)
    return {
        ENDS_APART: min(ends_u(left, slope, since_s < delay_s), LARGEST_RELATIVE_U),
        HANG_TOGETHER: min(common_u(left, information, at, COMMON_TO), LARGEST_RELATIVE_U),
    }


def ends_u(left: FloatArray, slope: FloatArray, early: NDArray[np.bool_]) -> float:
    """Return by how much the response's beginning asks for another time constant than its end, as an uncertainty.

    Parameters
    ----------
    left, slope : ndarray, shape (k, n)
        Residuals of k flicks, and slopes by the time constant's logarithm, all else fitted, both in standard
        deviations of a reading.
    early : ndarray of bool, shape (k, n)
        The beginning.

    Notes
    -----
    One Newton step each from the joint fit. Half of what they differ by, less twice its variance over the flicks.
    """
    steps = np.zeros(len(left))
    for part, sign in ((early, 1.0), (~early, -1.0)):
        steps += sign * np.sum(slope * left * part, axis=1) / max(float(np.sum(slope**2 * part)), 1e-9)
    excess = float(steps.sum()) ** 2 - 2.0 * steps.size * float(np.var(steps, ddof=1))
    return 0.5 * math.sqrt(max(excess, 0.0))


def common_u(left: FloatArray, information: float, at: NDArray[np.int64], last: int) -> float:
    """Return what residuals that all flicks have in common may hide, as an uncertainty.

    Parameters
    ----------
    left : ndarray, shape (k, n)
        Residuals in standard deviations of a reading.
    information : float
        What one flick tells of the time constant: the inverse of its variance.
    at : ndarray of int, shape (k, n)
        Reports after contact.
    last : int
        First that is not looked at any more.

    Notes
    -----
    Residuals are at right angles to what was fitted. Their mean over the flicks, beyond chance, is structure; along
    the time constant's slope there may be as much of it as along any other direction, and more flicks do not make it
    less. Neighbours that hang together count as one direction.
    """
    seen = (at >= COMMON_FROM) & (at < last)
    place = (at - COMMON_FROM)[seen]
    count = np.bincount(place, minlength=last - COMMON_FROM).astype(float)
    told = count >= FEWEST_AT
    sums, squares = (
        np.bincount(place, values, minlength=last - COMMON_FROM)[told] for values in (left[seen], left[seen] ** 2)
    )
    n = count[told]
    mean = sums / n
    chance = (squares / n - mean**2) / (n - 1)
    energy = max(float(np.mean(mean**2 - chance)), 0.0) if n.size else 0.0
    alike = float(np.mean(mean[1:] * mean[:-1])) / max(energy, 1e-12)
    alike = min(max(alike, 0.0), MOST_CORRELATED)
    return math.sqrt(energy * (1 + alike) / (1 - alike) / max(information, 1e-9))


def _slopes(found: Found, rows: NDArray[np.intp]) -> FloatArray:
    """Return how readings go with the logarithm of the slowest pole, everything else about a flick fitted, (k, n)."""
    batch, fit, axis = found.batch, found.fit, int(rows[0] % 2)
    slowest = int(np.argmax(fit.tau_s[batch.group[rows[0]]]))
    columns, of_contact, *of_poles = basis(
        batch.t_s[rows],
        fit.contact_s[rows // 2],
        fit.tau_s[batch.group[rows]],
        lags_s=fit.shape.lags() * batch.interval_s,
        scale_s=batch.scale_s[rows],
        n_slopes=1 + fit.shape.n_poles,
    )
    size = fit.coefficients[rows][..., None]
    slope, contact = np.matmul(of_poles[slowest], size), np.matmul(of_contact, size)
    known = np.zeros((rows.size, N_BASIS + 1, N_BASIS + 1))
    known[:, range(MOTION.start), range(MOTION.start)] = APPROACH_PRECISION
    own = slice(axis * N_MOTION, (axis + 1) * N_MOTION)
    known[:, MOTION, MOTION] = found.rim.prior(batch.angle_rad).precision[rows // 2, own, own]
    columns = np.concatenate([columns, contact], axis=2)
    heavy = (columns * batch.weight[rows][..., None]).transpose(0, 2, 1)
    normal = np.matmul(heavy, columns) + known + 1e-12 * np.eye(N_BASIS + 1)
    return np.asarray((slope - np.matmul(columns, np.linalg.solve(normal, np.matmul(heavy, slope))))[..., 0])
