"""How much the stick may move at the rim: radially it bounces, gives and creeps, along the rim it slides."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import Any

import numpy as np

from feelcheck.hand.gate_stop.contact import component_motion, motion_covariance
from feelcheck.hand.gate_stop.linearised import Prior
from feelcheck.hand.gate_stop.models import N_MOTION
from feelcheck.model import FloatArray

__all__ = [
    "RIM_PRIORS",
    "Options",
    "Rim",
    "RimPrior",
    "radial_options",
    "rim_of",
    "tangential_options",
]

CREEP_FS = 0.0015
"""Standard deviation, in throws, of the slow motion that goes on while a thumb presses."""

_GIVEN_FS, _GIVEN_IN_S = (0.002, 0.005, 0.012), (0.006, 0.011, 0.02, 0.036)
GIVES = ((0.0004, 0.0), *product(_GIVEN_FS, _GIVEN_IN_S))
"""(how far, how long in s) to choose from, radially."""

_PEAKS_FS, _RATES_HZ, _RESTITUTIONS = (0.0015, 0.006, 0.02), (25.0, 60.0, 130.0), (0.25, 0.5, 0.75)
BOUNCES = ((0.0002, 0.0, 0.0), *product(_PEAKS_FS, _RATES_HZ, _RESTITUTIONS))
"""(how high, how many a second, how much shorter each time) to choose from, radially."""

TANGENTIAL_FS = (0.0004, 0.002, 0.01, 0.04)
"""Slides to choose from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RimPrior:
    """A prior of one width for all flicks: standard deviations of the motion at the rim, fractions of full throw."""

    settle: float
    bounce: float
    slide: float


RIM_PRIORS = (
    RimPrior(settle=0.0004, bounce=0.0002, slide=0.0004),
    RimPrior(settle=0.0004, bounce=0.008, slide=0.0004),
    RimPrior(settle=0.001, bounce=0.001, slide=0.02),
    RimPrior(settle=0.006, bounce=0.004, slide=0.01),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rim:
    """What is expected of the motion of each flick at the rim.

    Parameters
    ----------
    radial, tangential : ndarray, shape (F, N_MOTION, N_MOTION)
        Inverse prior covariances.
    outward : ndarray, shape (F, N_MOTION)
        The expected radial motion.
    """

    radial: FloatArray
    tangential: FloatArray
    outward: FloatArray

    def usual(self, n_flicks: int) -> Rim:
        """Return for so many flicks what is expected of the one that is most like the others.

        Parameters
        ----------
        n_flicks : int
            How many flicks it is wanted for.
        """
        k = int(np.argmin(np.abs(self.outward - np.median(self.outward, axis=0)).sum(axis=1)))
        shape = (n_flicks, N_MOTION, N_MOTION)
        return Rim(
            radial=np.broadcast_to(self.radial[k], shape),
            tangential=np.broadcast_to(self.tangential[k], shape),
            outward=np.broadcast_to(self.outward[k], shape[:2]),
        )

    def prior(self, angle_rad: FloatArray) -> Prior:
        """Return the prior of the motion of both axes of each flick.

        Parameters
        ----------
        angle_rad : ndarray, shape (F,)
            Directions in the turned axes.
        """
        cos, sin = (part[:, None, None] for part in (np.cos(angle_rad), np.sin(angle_rad)))
        mixed = cos * sin * (self.radial - self.tangential)
        of_x, of_y = (a**2 * self.radial + b**2 * self.tangential for a, b in ((cos, sin), (sin, cos)))
        return Prior(
            precision=np.block([[of_x, mixed], [mixed, of_y]]),
            expected=np.concatenate([cos[..., 0] * self.outward, sin[..., 0] * self.outward], axis=1),
            volume=np.linalg.slogdet(self.radial)[1] + np.linalg.slogdet(self.tangential)[1],
        )


def _inverse_of(covariance: FloatArray) -> FloatArray:
    matrix = np.linalg.inv(covariance)
    return np.asarray(0.5 * (matrix + matrix.T))


@cache
def _inverse(settle: float, bounce: float, creep: float) -> FloatArray:
    return _inverse_of(motion_covariance(settle, bounce, creep))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Options:
    """Components of the prior of one part of the motion, K of them along the leading axes: each flick takes one.

    Parameters
    ----------
    mean : ndarray, shape (..., N_MOTION)
        Expected motions.
    precision : ndarray, shape (..., N_MOTION, N_MOTION)
        Inverse covariances.
    pull : ndarray, shape (..., N_MOTION)
        Precision times mean.
    constant : ndarray, shape (...)
        mean' precision mean - log det precision.
    """

    mean: FloatArray
    precision: FloatArray
    pull: FloatArray
    constant: FloatArray

    @classmethod
    def of(cls, mean: FloatArray, precision: FloatArray) -> Options:
        """Return options with their products worked out.

        Parameters
        ----------
        mean : ndarray, shape (..., N_MOTION)
            Expected motions.
        precision : ndarray, shape (..., N_MOTION, N_MOTION)
            Inverse covariances.
        """
        pull = np.matmul(precision, mean[..., None])[..., 0]
        constant = np.sum(mean * pull, axis=-1) - np.linalg.slogdet(precision)[1]
        return cls(mean=mean, precision=precision, pull=pull, constant=np.asarray(constant))

    def at(self, *index: Any) -> Options:
        """Return some of them, as numpy indexes.

        Parameters
        ----------
        *index : int, slice or ndarray
            Into the leading axes.
        """
        return Options(
            mean=self.mean[index], precision=self.precision[index], pull=self.pull[index], constant=self.constant[index]
        )


@cache
def radial_options() -> Options:
    """Return the prior components of the radial motion, a pair of `GIVES` and `BOUNCES` each, on two leading axes."""
    components = [[component_motion(give, bounce, CREEP_FS) for bounce in BOUNCES] for give in GIVES]
    means = np.array([[mean for mean, _ in row] for row in components])
    return Options.of(means, np.array([[_inverse_of(covariance) for _, covariance in row] for row in components]))


@cache
def tangential_options() -> Options:
    """Return the priors for each of `TANGENTIAL_FS`, along one leading axis."""
    precision = np.array([_inverse(slide, 0.0003, 2 * CREEP_FS) for slide in TANGENTIAL_FS])
    return Options.of(np.zeros(precision.shape[:2]), precision)


def rim_of(prior: RimPrior, n_flicks: int) -> Rim:
    """Return the same prior for every flick.

    Parameters
    ----------
    prior : RimPrior
        What is expected of the rim.
    n_flicks : int
        How many flicks there are.
    """
    shape = (n_flicks, N_MOTION, N_MOTION)
    return Rim(
        radial=np.broadcast_to(_inverse(prior.settle, prior.bounce, CREEP_FS), shape),
        tangential=np.broadcast_to(_inverse(prior.slide, 0.0003, 2 * CREEP_FS), shape),
        outward=np.zeros(shape[:2]),
    )
