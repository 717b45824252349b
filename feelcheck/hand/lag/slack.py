"""What a linkage's play leaves open in each stroke: offsets that the response must not be fitted to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import FloatArray

__all__ = [
    "ANY_PLAY",
    "PLAYS",
    "PlayOffsets",
    "between_codes",
    "dragged",
    "memory",
    "play_offsets",
    "slack_shapes",
    "slack_size",
    "weighted_basis",
]

PLAYS = np.geomspace(0.002, 0.05, 12)
"""Diameters of the clearance that are looked at, fractions of throw; what lies between two neighbours mixes them."""
ANY_PLAY = (2, 5, 8)
"""Places in `PLAYS` whose mixture comes near any play: to begin with."""
SIZES = np.concatenate([[0.0], np.geomspace(3e-5, 0.03, 25)])
"""Sizes of the offset that are weighed, fractions of throw: from a step of a 16-bit axis to a very loose linkage."""


def memory(since_s: FloatArray, tau_s: float) -> FloatArray:
    """Return an orthonormal basis of what may be left of the motion before a stroke, shape (n, 2).

    Parameters
    ----------
    since_s : ndarray, shape (n,)
        Time since the stroke began, s.
    tau_s : float
        Time constant of what is left, s.
    """
    decays = np.stack([np.exp(-since_s / tau_s), np.exp(-since_s / (0.4 * tau_s))], axis=1)
    return np.asarray(np.linalg.qr(decays)[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlayOffsets:
    """How far the second stick is off for play of each of several diameters, fractions of throw.

    Parameters
    ----------
    dragged : ndarray, shape (2, p, n)
        Dragged by a pin in a round hole (both axes at once), and along one axis.
    sprung : ndarray, shape (p, n)
        Kept on the inner side of the hole by a spring of its own.
    """

    dragged: FloatArray
    sprung: FloatArray

    def rows(self, places: Sequence[int]) -> FloatArray:
        """Return the offsets for these places among the diameters, shape (2 p + 1, n).

        Parameters
        ----------
        places : sequence of int
            Places among the diameters; of a sprung stick the first alone is taken.
        """
        wanted = list(places)
        return np.vstack([self.dragged[0, wanted], self.dragged[1, wanted], self.sprung[wanted[:1]]])


def dragged(pins: NDArray[np.complex128], plays: FloatArray) -> NDArray[np.complex128]:
    """Return how far what pins drag along is off them, shape (n, ..., p).

    Parameters
    ----------
    pins : ndarray of complex, shape (n, ...)
        The pins' places; real for a linkage that has play along one line only.
    plays : ndarray, shape (p,)
        Diameters of their holes.

    Examples
    --------
    >>> dragged(np.array([0.0, 1.0, 0.95], dtype=complex), np.array([0.2])).real.round(3).ravel().tolist()
    [0.0, -0.1, -0.05]
    """
    half = 0.5 * plays
    moved = np.append(True, np.any(np.diff(pins, axis=0).reshape(len(pins) - 1, -1) != 0, axis=1))
    steps = pins[moved]  # a pin that stands drags nothing
    place = steps[0][..., None] + np.zeros(plays.size)
    out = np.empty((*steps.shape, plays.size), dtype=np.complex128)
    for k, pin in enumerate(steps):
        off = pin[..., None] - place
        place = place + off * np.maximum(1.0 - half / (np.abs(off) + 1e-12), 0.0)
        out[k] = place - pin[..., None]
    return np.asarray(out[np.cumsum(moved) - 1])


def between_codes(values: FloatArray) -> FloatArray:
    """Return the straight lines through the middles of all changes: where the stick was between its codes, shape (n,).

    Parameters
    ----------
    values : ndarray, shape (n,)
        Codes or fractions, held until they change.

    Examples
    --------
    >>> between_codes(np.array([0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 2.0, 2.0])).round(2).tolist()
    [0.0, 0.33, 0.62, 0.88, 1.12, 1.38, 1.67, 2.0]
    """
    changes = np.flatnonzero(np.diff(values) != 0)
    places = np.concatenate([[0.0], changes + 0.5, [values.size - 1.0]])
    middles = np.concatenate([values[:1], 0.5 * (values[changes] + values[changes + 1]), values[-1:]])
    return np.asarray(np.interp(np.arange(values.size), places, middles))


def play_offsets(a: FloatArray, across: FloatArray) -> PlayOffsets:
    """Return what play may do to the second stick on the first one's path, for all of `PLAYS`.

    Parameters
    ----------
    a, across : ndarray, shape (n,), fractions of throw
        The first stick's own axis and its other one.

    Notes
    -----
    What drags the second stick is the stick, not its code: coarse codes go to and fro by more than the play.
    """
    own = between_codes(a)
    path = own + 1j * between_codes(across)
    off = dragged(np.stack([path, own.astype(np.complex128)], axis=1), PLAYS).real
    sprung = -0.5 * PLAYS[:, None] * own / np.maximum(np.abs(path), PLAYS[:, None])
    return PlayOffsets(dragged=np.ascontiguousarray(np.moveaxis(off, 0, 2)), sprung=sprung)


def slack_shapes(since_s: FloatArray, taus_s: Sequence[float]) -> FloatArray:
    """Return how an offset inside the play shows behind both poles, shape (n, 2): always there, or come at the stop.

    Parameters
    ----------
    since_s : ndarray, shape (n,), s
        Time since the stop, negative before.
    taus_s : sequence of float, s
        Both poles.
    """
    step = -np.expm1(-np.clip(since_s, 0.0, None) / max(sum(taus_s), 1e-4))
    return np.stack([np.ones_like(since_s), step], axis=1)


def weighted_basis(memories: FloatArray, shapes: FloatArray, size: float, sd: float) -> tuple[FloatArray, FloatArray]:
    """Return a basis, shape (n, m), and how much of each of its directions to take out of a stroke's rows, shape (m,).

    Parameters
    ----------
    memories : ndarray, shape (n, 2)
        Orthonormal directions of which nothing is known.
    shapes : ndarray, shape (n, p)
        Shapes whose coefficients have a standard deviation of `size`.
    size, sd : float
        Standard deviations of the coefficients and of one row's noise.

    Notes
    -----
    Rows with independent noise and such coefficients have the covariance ``sd^2 (1 + U g U')``, with U the directions
    and g the squared ratio of both spreads; taking ``1 - (1 + g)^-1/2`` of each direction out makes them white.
    """
    free = shapes - memories @ (memories.T @ shapes)
    directions, strengths, _ = np.linalg.svd(free, full_matrices=False)
    taken = 1.0 - 1.0 / np.sqrt(1.0 + (size * strengths / sd) ** 2)
    return np.hstack([memories, directions]), np.concatenate([np.ones(memories.shape[1]), taken])


def slack_size(parts: Sequence[tuple[FloatArray, FloatArray]], sd: float) -> float:
    """Return the size of the offsets that makes the residuals most likely.

    Parameters
    ----------
    parts : sequence of (ndarray of shape (m,), ndarray of shape (m,))
        For each stroke the residual's components along orthonormal directions, and those directions' strengths for
        offsets of unit size.
    sd : float
        Standard deviation of one row's noise.
    """
    components = np.concatenate([part[0] for part in parts])
    strengths = np.concatenate([part[1] for part in parts])
    spread = 1.0 + (SIZES[:, None] * strengths / sd) ** 2
    surprise = np.sum((components / sd) ** 2 / spread + np.log(spread), axis=1)
    return float(SIZES[int(np.argmin(surprise))])
