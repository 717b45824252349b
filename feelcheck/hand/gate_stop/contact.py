"""What the stick may still do after it met the rim: a prior for small motions of unknown shape."""

from __future__ import annotations

from functools import cache

import numpy as np

from feelcheck.model import FloatArray

__all__ = ["KNOTS_S", "hat_from_ramps", "motion_covariance"]

KNOTS_S = np.array([0.0, 1.5, 3.5, 6.0, 9.0, 13.0, 18.0, 25.0, 35.0, 50.0, 75.0, 120.0, 250.0]) * 1e-3
"""Knots of the piecewise linear motion after contact, s; the motion is 0 at the first."""


@cache
def hat_from_ramps() -> FloatArray:
    """Return the matrix, shape (K, K - 1), that turns ramps starting at the knots into hats peaking at knots 1...

    The last hat stays at 1.
    """
    knots = KNOTS_S
    n = len(knots)
    matrix = np.zeros((n, n - 1))
    for j in range(1, n):
        rise = 1.0 / (knots[j] - knots[j - 1])
        matrix[j - 1, j - 1] += rise
        matrix[j, j - 1] -= rise
        if j + 1 < n:
            fall = 1.0 / (knots[j + 1] - knots[j])
            matrix[j, j - 1] -= fall
            matrix[j + 1, j - 1] += fall
    return matrix


def _second_moment(shapes: list[FloatArray]) -> FloatArray:
    stacked = np.array(shapes)
    return stacked.T @ stacked / len(stacked)


@cache
def _settling() -> FloatArray:
    """Rises of 5 to 50 ms and faster ones: exponential, straight, and S-shaped."""
    s = KNOTS_S[1:]
    shapes = []
    for duration in np.geomspace(0.004, 0.08, 12):
        u = np.clip(s / duration, 0.0, 1.0)
        shapes += [1 - np.exp(-2.5 * s / duration), u, u * u * (3 - 2 * u)]
    return _second_moment(shapes)


@cache
def _bouncing() -> FloatArray:
    """Rebounds that die out: bows of 15 to 150 a second, decaying within 3 to 25 ms."""
    s = KNOTS_S[1:]
    shapes = []
    for rate_hz in np.geomspace(15.0, 150.0, 12):
        for decay_s in np.geomspace(0.003, 0.025, 5):
            envelope = np.exp(-s / decay_s)
            wave = np.sin(np.pi * rate_hz * s)
            shapes += [envelope * np.abs(wave), envelope * np.sin(2 * np.pi * rate_hz * s)]
            shapes = [shape for shape in shapes if np.all(np.isfinite(shape))]
    return _second_moment([shape / max(np.abs(shape).max(), 0.1) for shape in shapes])


@cache
def _creeping() -> FloatArray:
    """Slow yielding, and the trembling of the hand at 6 to 12 Hz."""
    s = KNOTS_S[1:]
    shapes = [(1 - np.exp(-s / slow_s)) / (1 - np.exp(-0.25 / slow_s)) for slow_s in (0.1, 0.2, 0.4, 1.0)]
    for rate_hz in (6.0, 8.0, 10.0, 12.0):
        shapes += [np.sin(2 * np.pi * rate_hz * s), 1 - np.cos(2 * np.pi * rate_hz * s)]
    return _second_moment(shapes)


def motion_covariance(settle_fs: float, bounce_fs: float, creep_fs: float) -> FloatArray:
    """Return the prior covariance of the motion after contact at the knots but the first, shape (K - 1, K - 1).

    Parameters
    ----------
    settle_fs, bounce_fs, creep_fs : float, fractions of full throw
        Standard deviations of slide and compliance, of rebounds' peaks, and of creep over a quarter of a second.
    """
    smallest = 1e-5
    return (
        settle_fs**2 * _settling()
        + bounce_fs**2 * _bouncing()
        + creep_fs**2 * _creeping()
        + smallest**2 * np.eye(len(KNOTS_S) - 1)
    )
