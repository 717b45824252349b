"""The motion of a flick against the rim, passed through poles and a discrete average: a linear basis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.hand.gate_stop.contact import KNOTS_S, hat_from_ramps
from feelcheck.model import FloatArray
from feelcheck.numerics import one_pole

__all__ = ["MOTION", "N_BASIS", "N_MOTION", "ResponseShape", "basis", "contact_slope"]

_N_POWERS = 4
"""Of time before contact: a movement that speeds up and slows down; what they leave is a misfit of the readings."""

LARGEST_RESIDUE = 3.0
"""Ratio; two poles closer than 2 to 3 share one state, so their residues say nothing of its size."""

LARGEST_EXPONENT = 600.0
"""Of an exponential that does not overflow, with room for a factor."""

RELATIVE_STEP = 1e-4
"""Of numerical slopes: half of the digits are left."""

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
    n_slopes: int = 0,
) -> FloatArray:
    """Return the columns that a flick's readings are made of, and their slopes.

    Parameters
    ----------
    t_s : ndarray, shape (B, n), s
        Report instants of each window.
    contact_s : ndarray, shape (B,), s
        Contact instants.
    tau_s : ndarray, shape (B, m), s
        Time constants; m = 1, 2.
    lags_s : ndarray, shape (k,), s
        Ages of the readings that the firmware averages; only 0 for none.
    scale_s : ndarray, shape (B,), s
        Length of each window before contact; makes the powers comparable.
    n_slopes : int
        How many derivatives: in the contact instant (1/s), then in the logarithm of each time constant.

    Returns
    -------
    ndarray, shape (1 + n_slopes, B, n, N_BASIS)
        Level; powers of time before contact with the poles' decay after it; the initial states of the poles; motion
        after contact at its knots. Then the derivatives.

    Notes
    -----
    Behind slow poles the filtered powers of time all look alike, which no least squares survives. The inverse of the
    poles, ``(1 + tau_1 d/ds) (1 + tau_2 d/ds)``, applied to them spans the same space with plain powers before contact;
    after it the poles' state at contact decays, which is 0 from the power m + 1 on.
    """
    s = t_s - contact_s[:, None]
    tau_s = _kept_apart(tau_s)
    total = _responses(s - lags_s[0], tau_s, scale_s, n_slopes)
    for lag_s in lags_s[1:].tolist():
        total += _responses(s - lag_s, tau_s, scale_s, n_slopes)
    if lags_s.size > 1:
        total /= lags_s.size
    return total.transpose(0, 1, 3, 2)


def _responses(s: FloatArray, tau_s: FloatArray, scale_s: FloatArray, n_slopes: int) -> FloatArray:
    """Return rows of the basis without an average, shape (1 + n_slopes, B, N_BASIS, n)."""
    rows = np.empty((1 + n_slopes, len(s), N_BASIS, s.shape[1]))
    since = np.maximum(s[:, None] - KNOTS_S[:, None], 0.0)
    decays = rows[:, :, STATES.start :]
    _write_decays(decays, since, tau_s, scale_s)
    rows[0, :, MOTION] += np.matmul(hat_from_ramps().T, since)
    rows[1:2, :, STATES] *= s[:, None] > 0
    _write_powers(rows[:, :, : POWERS.stop], s, tau_s, rows[:, :, STATES], scale_s)
    _write_past(rows[:, :, STATES], s, tau_s, scale_s)
    return rows


def _write_decays(rows: FloatArray, since: FloatArray, tau_s: FloatArray, scale_s: FloatArray) -> None:
    """Write the poles' decay from contact on, that of each times its pole, and their lags behind the hats.

    Notes
    -----
    A chain of poles is a sum of single ones, weighed by their residues. Of t_1 / (t_1 - t_2) the derivatives in both
    logarithms are the two residues' product, with either sign.
    """
    if tau_s.shape[1] == 1:
        _write_decays_of_one(rows, since, tau_s[:, 0], scale_s)
        return
    weight = one_pole.residues(tau_s)[..., None, None]
    single = np.empty((2, min(len(rows), 3), *rows.shape[1:]))
    for i in range(2):
        _write_decays_of_one(single[i], since, tau_s[:, i], scale_s)
    rows[:2] = weight[:, 0] * single[0, :2][: len(rows)] + weight[:, 1] * single[1, :2][: len(rows)]
    if len(rows) > 2:
        moved = weight[:, 0] * weight[:, 1] * (single[0, 0] - single[1, 0])
        rows[2], rows[3] = weight[:, 0] * single[0, 2] + moved, weight[:, 1] * single[1, 2] - moved


def _write_decays_of_one(rows: FloatArray, since: FloatArray, tau_s: FloatArray, scale_s: FloatArray) -> None:
    """Write the same for one pole; the constant by which it lags behind every ramp drops out of the hats."""
    tau, hats = tau_s[:, None, None], hat_from_ramps().T
    at_contact = since[:, :1] / tau
    rows[0, :, :1] = np.exp(-at_contact)
    rows[0, :, 1:2] = (tau_s / scale_s)[:, None, None] * rows[0, :, :1]
    if KNOTS_S[-1] < LARGEST_EXPONENT * tau_s.min():
        left = rows[0, :, :1] * (tau * np.exp(KNOTS_S[:, None] / tau))
        np.minimum(left, tau, out=left)
    else:
        left = tau * np.exp(-since / tau)
    rows[0, :, 2:] = np.matmul(hats, left)
    if len(rows) > 1:
        np.divide(rows[0], tau, out=rows[1])
    if len(rows) > 2:
        left *= since
        left /= tau
        np.multiply(rows[0, :, :2], at_contact, out=rows[2, :, :2])
        rows[2, :, 2:] = np.matmul(hats, left)
        rows[2, :, 1:] += rows[0, :, 1:]


def _write_powers(rows: FloatArray, s: FloatArray, tau_s: FloatArray, behind: FloatArray, scale_s: FloatArray) -> None:
    """Write level and powers, in units of each window's own length."""
    scale = scale_s[:, None]
    before = np.minimum(s, 0.0) / scale
    rows[1:], rows[0, :, 0] = 0.0, 1.0
    power, slope = np.ones_like(before), (s < 0) / -scale
    for k in range(1, _N_POWERS + 1):
        if len(rows) > 1:
            rows[1, :, k] = k * power * slope
        power = power * before
        rows[0, :, k] = power
    rows[:, :, 1] -= behind[:, :, 1]
    if tau_s.shape[1] == 2:
        both = 2.0 * np.prod(tau_s / scale, axis=1)[:, None] * behind[:, :, 0]
        rows[:, :, 2] -= both
        rows[2:, :, 2] -= both[0]


def _write_past(rows: FloatArray, s: FloatArray, tau_s: FloatArray, scale_s: FloatArray) -> None:
    """Write what each pole still holds of the time before the powers describe the motion.

    Notes
    -----
    The stick rested until the onset, a length of `scale_s` before contact, while the powers go on backwards. The state
    of a pole at the onset is off by that difference, some 2 (tau / length)^2 of the throw for an even acceleration, and
    has decayed since. A column of free size and of another time constant than the pole's own would be a response by
    itself: behind a pole 2.5 times too long it once stood in for the true one.
    """
    size = _of_the_past(tau_s, scale_s)
    rows[:, :, tau_s.shape[1] :] = 0.0
    since_onset = np.maximum(s + scale_s[:, None], 0.0)
    for i in range(tau_s.shape[1]):
        tau = tau_s[:, i, None]
        decay = np.exp(-since_onset / tau)
        rows[0, :, i] = size[:, i, None] * decay
        if len(rows) > 1:
            rows[1, :, i] = rows[0, :, i] / tau * (since_onset > 0)
        for j in range(len(rows) - 2):
            moved = tau_s.copy()
            moved[:, j] *= 1.0 + RELATIVE_STEP
            grows = (_of_the_past(moved, scale_s)[:, i] - size[:, i]) / RELATIVE_STEP
            rows[2 + j, :, i] = grows[:, None] * decay
        if len(rows) > 2:
            rows[2 + i, :, i] += rows[0, :, i] * since_onset / tau


def _of_the_past(tau_s: FloatArray, scale_s: FloatArray) -> FloatArray:
    weight = one_pole.residues(tau_s)
    squares = 2.0 * (tau_s / scale_s[:, None]) ** 2
    return np.asarray(np.minimum(squares * np.minimum(np.abs(weight), LARGEST_RESIDUE), 1.0))


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


def _kept_apart(tau_s: FloatArray) -> FloatArray:
    tau = np.maximum(tau_s, 1e-7)
    if tau.shape[1] == 2:
        close = np.abs(tau[:, 1] / tau[:, 0] - 1) < 1e-3
        tau[:, 1] = np.where(close, tau[:, 0] * (1 - 1e-3), tau[:, 1])
    return tau
