"""The motion of a flick against the rim, passed through poles and a discrete average: a linear basis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.contact import KNOTS_S, hat_from_ramps
from feelcheck.model import FloatArray
from feelcheck.numerics import one_pole

__all__ = ["MOTION", "N_BASIS", "N_MOTION", "ResponseShape", "basis", "contact_slope"]

_N_POWERS = 4
LARGEST_RESIDUE = 3.0
"""Ratio; two poles closer than 2 to 3 share one state, so their residues say nothing of its size."""

N_MOTION = len(KNOTS_S) - 1
N_BASIS = 3 + _N_POWERS + N_MOTION
"""Columns of the basis: level, powers before contact, initial states, motion after contact at its knots."""

POWERS = slice(1, 1 + _N_POWERS)
STATES = slice(1 + _N_POWERS, 3 + _N_POWERS)
MOTION = slice(3 + _N_POWERS, N_BASIS)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResponseShape:
    """A candidate for the electronics: how many poles, and a firmware average over how many reports.

    Examples
    --------
    >>> ResponseShape(n_poles=1, n_average=4).name
    'pole_average'
    """

    n_poles: int
    n_average: int = 1

    def lags(self) -> FloatArray:
        """Return the ages of the readings that are averaged, in reports."""
        return np.arange(self.n_average, dtype=float)

    @property
    def name(self) -> str:
        """The name in results."""
        if self.n_average > 1:
            return "pole_average" if self.n_poles else "average"
        return ("none", "one_pole", "two_pole")[self.n_poles]


def basis(
    t_s: FloatArray,
    contact_s: FloatArray,
    tau_s: FloatArray,
    *,
    lags_s: FloatArray,
    scale_s: FloatArray,
) -> FloatArray:
    """Return the columns that a flick's readings are made of.

    Parameters
    ----------
    t_s : ndarray, shape (B, n), s
        Report instants of each window.
    contact_s : ndarray, shape (B,), s
        Contact instants.
    tau_s : ndarray, shape (B, m), s
        Time constants; m = 0, 1, 2.
    lags_s : ndarray, s
        Ages of the readings that the firmware averages; only 0 for none.
    scale_s : ndarray, shape (B,), s
        Length of each window before contact; makes the powers comparable.

    Returns
    -------
    ndarray, shape (B, n, N_BASIS)
        Level; powers of time before contact with their exponential after it; the initial states of the poles; motion
        after contact at its knots.
    """
    s = t_s - contact_s[:, None]
    total = _basis_of_poles(s - lags_s[0], tau_s, scale_s)
    for lag_s in lags_s[1:].tolist():
        total += _basis_of_poles(s - lag_s, tau_s, scale_s)
    return total / lags_s.size


def _basis_of_poles(s: FloatArray, tau_s: FloatArray, scale_s: FloatArray) -> FloatArray:
    rows = np.zeros((len(s), N_BASIS, s.shape[1]))
    columns = rows.transpose(0, 2, 1)
    rows[:, 0] = 1.0
    m = tau_s.shape[1]
    if m == 0:
        _add_pole(columns, s, np.zeros(len(s)), np.ones(len(s)), scale_s)
        return columns
    tau = _kept_apart(tau_s)
    weights = one_pole.residues(tau)
    rows[:, STATES][:, :m] = _left_of_the_past(s, tau, weights, scale_s)
    for i in range(m):
        _add_pole(columns, s, tau[:, i], weights[:, i], scale_s)
    _see_as_powers(columns[..., POWERS], tau / scale_s[:, None])
    return columns


def _see_as_powers(filtered: FloatArray, tau: FloatArray) -> None:
    """Turn filtered powers into sums of them that are plain powers again before contact, in place.

    Notes
    -----
    With slow poles the filtered powers 1 to 4 all look alike, which no least squares survives. Applying the inverse of
    the poles, ``(1 + tau_1 d/ds) (1 + tau_2 d/ds)``, to a filtered power takes neighbours in, since the derivative of
    the k-th is k times the one below; the space they span stays the same.
    """
    first, second = (part[:, None] for part in _inverse_filter(tau))
    for k in range(_N_POWERS, 1, -1):
        filtered[..., k - 1] += k * first * filtered[..., k - 2]
        if k > 2 and tau.shape[1] == 2:
            filtered[..., k - 1] += k * (k - 1) * second * filtered[..., k - 3]


def _inverse_filter(tau: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the coefficients of d/ds and its square in the inverse of the poles, shape (B,) each."""
    return tau.sum(axis=1), np.prod(tau, axis=1) if tau.shape[1] == 2 else np.zeros(len(tau))


def contact_slope(coefficients: FloatArray, tau_s: FloatArray, scale_s: FloatArray) -> FloatArray:
    """Return how fast the stick itself went at contact, shape (B,), 1/s.

    Parameters
    ----------
    coefficients : ndarray, shape (B, N_BASIS)
        Of the columns of `basis`.
    tau_s : ndarray, shape (B, m), s
        Time constants.
    scale_s : ndarray, shape (B,), s
        As for `basis`.
    """
    first, second = _inverse_filter(tau_s / scale_s[:, None])
    linear, square, cube = (coefficients[:, POWERS.start + k] for k in range(3))
    return np.asarray((linear + 2.0 * first * square + 6.0 * second * cube) / scale_s)


def _left_of_the_past(s: FloatArray, tau_s: FloatArray, weight: FloatArray, scale_s: FloatArray) -> FloatArray:
    """Return what each pole still holds of the time before the powers describe the motion, shape (B, m, n).

    Notes
    -----
    The stick rested until the onset, a length of `scale_s` before contact, while the powers go on backwards. The state
    of a pole at the onset is off by that difference, some 2 (tau / length)^2 of the throw for an even acceleration, and
    has decayed since. A column of free size and of another time constant than the pole's own would be a response by
    itself: behind a pole 2.5 times too long it once stood in for the true one.
    """
    ratio = tau_s / scale_s[:, None]
    size = np.minimum(2.0 * ratio**2 * np.minimum(np.abs(weight), LARGEST_RESIDUE), 1.0)
    since_onset = np.maximum(s + scale_s[:, None], 0.0)
    return np.asarray(size[..., None] * np.exp(-since_onset[:, None] / tau_s[..., None]))


def _kept_apart(tau_s: FloatArray) -> FloatArray:
    tau = np.maximum(tau_s, 1e-7)
    if tau.shape[1] == 2:
        close = np.abs(tau[:, 1] / tau[:, 0] - 1) < 1e-3
        tau[:, 1] = np.where(close, tau[:, 0] * (1 - 1e-3), tau[:, 1])
    return tau


def _add_pole(columns: FloatArray, s: FloatArray, tau_s: FloatArray, weight: FloatArray, scale_s: FloatArray) -> None:
    """Add one pole's share to the columns, in units of each window's own length."""
    powers = one_pole.kinked_powers(s / scale_s[:, None], tau_s / scale_s, _N_POWERS)
    motion = np.matmul(hat_from_ramps().T, one_pole.one_sided_ramps(s, tau_s, KNOTS_S).transpose(0, 2, 1))
    for part, response in ((POWERS, powers), (MOTION, motion.transpose(0, 2, 1))):
        columns[..., part] += response if np.all(weight == 1.0) else response * weight[:, None, None]
