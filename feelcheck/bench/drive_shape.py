"""The two shapes most drives have while they change: a supply-limited ramp and a coil's exponential."""

from __future__ import annotations

import itertools

import numpy as np

from feelcheck.bench.levels import block_average
from feelcheck.bench.numbers import MOST_OF_A_DRIVE, N_SHAPE_BLOCKS, WORST_BLOCK
from feelcheck.model import FloatArray
from feelcheck.numerics.separable import SeparableModel, fit_separable

__all__ = ["shaped_transition"]


def shaped_transition(t_s: FloatArray, u: FloatArray, noise: float, duration_s: float) -> FloatArray | None:
    """Return a drive's transition as a ramp or an exponential without noise, or None where it is neither.

    Parameters
    ----------
    t_s, u : ndarray, shape (n,)
        One transition with a little of both flats.
    noise : float
        White noise rms of u.
    duration_s : float
        Rough 10-90 % duration.

    Notes
    -----
    A shape is taken only if the means of 24 blocks of its residual are all no more than white noise explains; real
    coils whose current bends otherwise are left to local smoothing.
    """
    size = -(-u.size // MOST_OF_A_DRIVE)
    t, y, noise = block_average(t_s, size), block_average(u, size), noise / np.sqrt(size)
    origin = float(t[0])
    found = [
        shape
        for shape in (_fitted(kind, t - origin, y, duration_s) for kind in ("ramp", "exponential"))
        if shape is not None and _is_noise(y - shape[1], noise)
    ]
    if not found:
        return None
    kind, _, theta, levels = min(found, key=lambda shape: float(np.sum((y - shape[1]) ** 2)))
    return np.asarray(levels[0] + levels[1] * _way(kind, t_s - origin, theta, duration_s)[0])


def _way(kind: str, since: FloatArray, theta: FloatArray, duration_s: float) -> tuple[FloatArray, FloatArray]:
    """The way covered, and the pace: its slope by the time from the onset in units of the shape's length."""
    after = np.maximum(since - theta[0] * duration_s, 0.0) / (np.exp(theta[1]) * duration_s)
    if kind == "ramp":
        return np.minimum(after, 1.0), np.where((after > 0) & (after < 1), 1.0, 0.0)
    left = np.exp(-after)
    return 1.0 - left, np.where(after > 0, left, 0.0)


def _fitted(
    kind: str, t: FloatArray, y: FloatArray, duration_s: float
) -> tuple[str, FloatArray, FloatArray, FloatArray] | None:
    def fill(theta: FloatArray, rows: FloatArray) -> None:
        way, pace = _way(kind, t, theta, duration_s)
        rows[0], rows[1] = 1.0, way
        if len(rows) > 2:
            rows[2] = -pace / np.exp(theta[1])
            rows[3] = -pace * (t / duration_s - theta[0]) / np.exp(theta[1])

    span = float(t[-1]) / duration_s
    length = float(np.log(1.25 if kind == "ramp" else 0.455))
    starts = itertools.product(np.linspace(0.0, 0.6 * span, 9), (length - 0.15, length, length + 0.15))
    limits = (np.array([-0.5, length - 1.5]), np.array([span, length + 1.5]))
    model = SeparableModel(n_columns=2, slopes=((0, 1), (1, 1)), fill=fill)
    fit = fit_separable(model, y, starts, bounds=limits)
    if not (fit.full_rank and np.all(np.isfinite(fit.theta))):
        return None
    return kind, fit.fitted, fit.theta, fit.coefficients


def _is_noise(residual: FloatArray, noise: float) -> bool:
    size = max(1, residual.size // N_SHAPE_BLOCKS)
    means = block_average(residual, size)
    return bool(np.max(np.abs(means)) < WORST_BLOCK * noise / np.sqrt(size))
