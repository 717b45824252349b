"""What the stick may still do after it met the rim: a prior for small motions of unknown shape."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np

from feelcheck.model import FloatArray

__all__ = ["KNOTS_S", "component_motion", "hat_from_ramps", "motion_covariance"]

AMPLITUDE_SD = 0.5
"""How far the amplitude of a component may scatter, relative to it."""

SMALLEST_FS = 1e-5
"""Standard deviation, in throws, that any motion has, so that its covariance can be inverted."""

NEAR = 1.4
"""Durations and rates of one component lie within this factor of it."""

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


def _family(shapes: list[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Return mean and covariance of shapes; the amplitude of the mean scatters by `AMPLITUDE_SD` about 1 besides."""
    stacked = np.array(shapes)
    mean = stacked.mean(axis=0)
    return mean, stacked.T @ stacked / len(stacked) - (1.0 - AMPLITUDE_SD**2) * np.outer(mean, mean)


def _gives(durations_s: FloatArray) -> Iterator[FloatArray]:
    """Exponential, straight, and S-shaped rises."""
    s = KNOTS_S[1:]
    for duration_s in durations_s:
        u = np.clip(s / duration_s, 0.0, 1.0)
        yield from (1 - np.exp(-2.5 * s / duration_s), u, u * u * (3 - 2 * u))


def _hops(s: FloatArray, duration_s: float, restitution: float) -> FloatArray:
    """Return parabolas, each lower and shorter than the one before."""
    height, start, path = 1.0, 0.0, np.zeros_like(s)
    for _ in range(8):
        u = (s - start) / duration_s
        path = path + np.where((u > 0) & (u < 1), 4 * height * u * (1 - u), 0.0)
        start, height, duration_s = start + duration_s, height * restitution**2, duration_s * restitution
    return path


def _bows(s: FloatArray, duration_s: float, restitution: float) -> FloatArray:
    """Return bows of one duration that die out as fast as such parabolas."""
    return np.asarray(np.abs(np.sin(np.pi * s / duration_s)) * restitution ** (2.0 * s / duration_s))


def _rebounds(rates_hz: FloatArray, restitutions: FloatArray) -> Iterator[FloatArray]:
    """Rebounds with a peak of 1."""
    for rate_hz in rates_hz.tolist():
        for restitution in restitutions.tolist():
            for shape in (_hops, _bows):
                path = shape(KNOTS_S[1:], 1.0 / rate_hz, restitution)
                yield path / max(float(path.max()), 0.1)


def _swings() -> Iterator[FloatArray]:
    """Rebounds of 15 to 150 bows a second that die out within 3 to 25 ms, to one side and to both."""
    s = KNOTS_S[1:]
    for rate_hz in np.geomspace(15.0, 150.0, 12):
        for decay_s in np.geomspace(0.003, 0.025, 5):
            for wave in (np.abs(np.sin(np.pi * rate_hz * s)), np.sin(2 * np.pi * rate_hz * s)):
                path = np.exp(-s / decay_s) * wave
                yield path / max(np.abs(path).max(), 0.1)


@cache
def _settling() -> FloatArray:
    """Rises of 5 to 50 ms and faster ones."""
    return _second_moment(list(_gives(np.geomspace(0.004, 0.08, 12))))


@cache
def _bouncing() -> FloatArray:
    return _second_moment(list(_swings()))


@cache
def _giving_in(duration_s: float) -> tuple[FloatArray, FloatArray]:
    return _family(list(_gives(duration_s * np.geomspace(1 / NEAR, NEAR, 5))))


@cache
def _bouncing_at(rate_hz: float, restitution: float) -> tuple[FloatArray, FloatArray]:
    near = restitution + np.array([-0.12, 0.0, 0.12])
    return _family(list(_rebounds(rate_hz * np.geomspace(1 / NEAR, NEAR, 6), near)))


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
    return (
        settle_fs**2 * _settling()
        + bounce_fs**2 * _bouncing()
        + creep_fs**2 * _creeping()
        + SMALLEST_FS**2 * np.eye(len(KNOTS_S) - 1)
    )


def component_motion(
    give: tuple[float, float], bounce: tuple[float, float, float], creep_fs: float
) -> tuple[FloatArray, FloatArray]:
    """Return mean and covariance of one component of the prior of a flick's radial motion, (K - 1,), (K - 1, K - 1).

    Parameters
    ----------
    give : tuple of float
        How far outward the rim gives, in fractions of full throw, and within which time, s; a time of 0 stands for no
        give to speak of, with either sign.
    bounce : tuple of float
        How high the stick bounces, which is inward; how many times a second; and the ratio of the durations of
        successive rebounds. A rate of 0 as for the give.
    creep_fs : float
        As for `motion_covariance`.

    Notes
    -----
    A pole a little longer than the true one goes with a motion that dips inward and stays there. A prior that holds
    both signs as likely lets that dip cancel a part of what the rim gave, and the pole comes out too long.
    """
    (give_fs, give_s), (bounce_fs, bounce_hz, restitution) = give, bounce
    unsigned = motion_covariance(0.0 if give_s else give_fs, 0.0 if bounce_hz else bounce_fs, creep_fs)
    mean, covariance = np.zeros(len(KNOTS_S) - 1), unsigned
    if give_s:
        shape, spread = _giving_in(give_s)
        mean, covariance = mean + give_fs * shape, covariance + give_fs**2 * spread
    if bounce_hz:
        shape, spread = _bouncing_at(bounce_hz, restitution)
        mean, covariance = mean - bounce_fs * shape, covariance + bounce_fs**2 * spread
    return mean, covariance
