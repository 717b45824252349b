"""How much the stick may move at the rim: radially it bounces, gives and creeps, along the rim it slides."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.contact import motion_covariance
from feelcheck.hand.gate_stop.models import MOTION, N_BASIS, N_MOTION
from feelcheck.model import FloatArray

__all__ = ["IDEAS", "OTHER_IDEAS", "Idea", "Rim", "best_mean", "best_rim", "rim_of", "stiff_mean"]

LEVEL_FS = 3.0
POWERS_FS = (3.0, 2.0, 1.0, 0.5)
STATES_FS = (0.7, 0.2)
CREEP_FS = 0.0015

RADIAL_FS = tuple((settle, bounce) for settle in (0.0004, 0.002, 0.01) for bounce in (0.0002, 0.0015, 0.006, 0.02))
"""(settle, bounce) to choose from, radially."""

TANGENTIAL_FS = (0.0004, 0.002, 0.01, 0.04)
"""Slides to choose from."""

MEAN_FS = tuple((settle, bounce) for settle in (0.0015, 0.006) for bounce in (0.0015, 0.006))
"""(settle, bounce) to choose from for what all flicks of a group have in common."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Idea:
    """Standard deviations of the motion at the rim, fractions of full throw."""

    settle: float
    bounce: float
    slide: float


IDEAS = (
    Idea(settle=0.0004, bounce=0.0002, slide=0.0004),
    Idea(settle=0.0004, bounce=0.008, slide=0.0004),
    Idea(settle=0.001, bounce=0.001, slide=0.02),
    Idea(settle=0.006, bounce=0.004, slide=0.01),
)


OTHER_IDEAS = tuple(
    Idea(settle=settle, bounce=bounce, slide=0.001)
    for settle, bounce in (
        (0.0004, 0.0002),
        (0.01, 0.0003),
        (0.0004, 0.006),
        (0.02, 0.005),
        (0.01, 0.002),
        (0.0004, 0.006),
    )
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rim:
    """Inverse prior covariances of the motion of each flick about the mean, shape (F, N_MOTION, N_MOTION) each."""

    radial: FloatArray
    tangential: FloatArray

    def precision(self, angle_rad: FloatArray) -> FloatArray:
        """Return the inverse prior covariance of all linear parameters of each flick.

        Parameters
        ----------
        angle_rad : ndarray, shape (F,)
            Directions in the turned axes.

        Returns
        -------
        ndarray, shape (F, 2 N_BASIS, 2 N_BASIS)
            x axis first.
        """
        cos, sin = (part[:, None, None] for part in (np.cos(angle_rad), np.sin(angle_rad)))
        full = np.zeros((len(angle_rad), 2, N_BASIS, 2, N_BASIS))
        sd = np.array([LEVEL_FS, *POWERS_FS, *STATES_FS])
        index = np.arange(MOTION.start)
        for axis in range(2):
            full[:, axis, index, axis, index] = 1.0 / sd**2
        full[:, 0, MOTION, 0, MOTION] = cos**2 * self.radial + sin**2 * self.tangential
        full[:, 1, MOTION, 1, MOTION] = sin**2 * self.radial + cos**2 * self.tangential
        mixed = cos * sin * (self.radial - self.tangential)
        full[:, 0, MOTION, 1, MOTION] = mixed
        full[:, 1, MOTION, 0, MOTION] = mixed
        return full.reshape(len(angle_rad), 2 * N_BASIS, 2 * N_BASIS)


@cache
def _inverse(settle: float, bounce: float, creep: float) -> FloatArray:
    matrix = np.linalg.inv(motion_covariance(settle, bounce, creep))
    return np.asarray(0.5 * (matrix + matrix.T))


@cache
def _radial() -> FloatArray:
    return np.array([_inverse(settle, bounce, CREEP_FS) for settle, bounce in RADIAL_FS])


@cache
def _tangential() -> FloatArray:
    return np.array([_inverse(slide, 0.0003, 2 * CREEP_FS) for slide in TANGENTIAL_FS])


def rim_of(idea: Idea, n_flicks: int) -> Rim:
    """Return the same prior for every flick."""
    shape = (n_flicks, N_MOTION, N_MOTION)
    return Rim(
        radial=np.broadcast_to(_inverse(idea.settle, idea.bounce, CREEP_FS), shape),
        tangential=np.broadcast_to(_inverse(idea.slide, 0.0003, 2 * CREEP_FS), shape),
    )


def stiff_mean() -> FloatArray:
    """Return inverse prior covariances of a mean motion that is nothing, shape (N_GROUPS, N_MOTION, N_MOTION)."""
    return np.tile(_inverse(1e-5, 1e-5, 1e-5), (N_GROUPS, 1, 1))


def best_rim(normal: FloatArray, moment: FloatArray, angle_rad: FloatArray) -> tuple[Rim, FloatArray]:
    """Choose the prior of each flick by marginal likelihood.

    Parameters
    ----------
    normal : ndarray, shape (F, 2 N_BASIS, 2 N_BASIS)
        Normal matrices of the linear parameters without prior.
    moment : ndarray, shape (F, 2 N_BASIS)
        Their right-hand sides, about the mean motion.
    angle_rad : ndarray, shape (F,)
        Directions in the turned axes.

    Returns
    -------
    Rim
        The priors.
    ndarray, shape (F,)
        -2 log marginal likelihood of each flick up to a constant.

    Notes
    -----
    Empirical Bayes with a mixture: what many flicks choose is likelier for the next. Radial and tangential parts are
    chosen in turn.
    """
    info, pull = _turned(*_motion_only(normal, moment), angle_rad)
    tangential = np.full(len(pull), 1)
    for _ in range(2):
        totals = _totals(info, pull, _radial(), _tangential()[tangential], radial=True)
        radial, best = _shared_choice(totals)
        totals = _totals(info, pull, _tangential(), _radial()[radial], radial=False)
        tangential, best = _shared_choice(totals)
    return Rim(radial=_radial()[radial], tangential=_tangential()[tangential]), best


def _motion_only(normal: FloatArray, moment: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Eliminate everything but the motion of both axes."""
    motion = np.concatenate([np.arange(N_BASIS)[MOTION], N_BASIS + np.arange(N_BASIS)[MOTION]])
    rest = np.setdiff1d(np.arange(2 * N_BASIS), motion)
    sd = np.tile([LEVEL_FS, *POWERS_FS, *STATES_FS], 2)
    own = normal[:, rest[:, None], rest] + np.diag(1.0 / sd**2)
    cross = normal[:, rest[:, None], motion]
    solved = np.linalg.solve(own, np.concatenate([cross, moment[:, rest, None]], axis=2))
    turned = cross.transpose(0, 2, 1)
    info = normal[:, motion[:, None], motion] - np.matmul(turned, solved[..., :-1])
    return info, moment[:, motion] - np.matmul(turned, solved[..., -1:])[..., 0]


def _turned(info: FloatArray, pull: FloatArray, angle_rad: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Go over from x and y to radial and tangential."""
    cos, sin = (part[:, None, None] for part in (np.cos(angle_rad), np.sin(angle_rad)))
    eye = np.eye(N_MOTION)
    turn = np.block([[cos * eye, sin * eye], [-sin * eye, cos * eye]])
    return np.matmul(np.matmul(turn, info), turn.transpose(0, 2, 1)), np.matmul(turn, pull[..., None])[..., 0]


def _totals(info: FloatArray, pull: FloatArray, options: FloatArray, other: FloatArray, *, radial: bool) -> FloatArray:
    """Return -2 log marginal likelihood of each flick and option, shape (F, K); `other` is the other part's prior."""
    varied, fixed = (
        (slice(0, N_MOTION), slice(N_MOTION, None)) if radial else (slice(N_MOTION, None), slice(0, N_MOTION))
    )
    base = info.copy()
    base[:, fixed, fixed] += other
    volume_other = np.linalg.slogdet(other)[1]
    totals = np.empty((len(pull), len(options)))
    for k, option in enumerate(options):
        full = base.copy()
        full[:, varied, varied] += option
        explained = np.sum(pull * np.linalg.solve(full, pull[..., None])[..., 0], axis=1)
        totals[:, k] = np.linalg.slogdet(full)[1] - np.linalg.slogdet(option)[1] - volume_other - explained
    return totals


def _shared_choice(totals: FloatArray) -> tuple[np.ndarray, FloatArray]:
    n_options = totals.shape[1]
    share = np.full(n_options, 1.0 / n_options)
    for _ in range(3):
        score = -0.5 * (totals - totals.min(axis=1, keepdims=True)) + np.log(share)
        likely = np.exp(score - score.max(axis=1, keepdims=True))
        likely /= likely.sum(axis=1, keepdims=True)
        share = (likely.sum(axis=0) + 0.5 / n_options) / (len(likely) + 0.5)
    choice = np.argmax(likely, axis=1)
    return choice, totals[np.arange(len(totals)), choice]


def best_mean(information: FloatArray, score: FloatArray, motion: FloatArray) -> FloatArray:
    """Choose how large the mean motion of each group may be, its share in time constants eliminated.

    Parameters
    ----------
    information, score : ndarray, shape (N_GROUPS p, N_GROUPS p) and (N_GROUPS p,)
        Curvature and gradient in each group's p shared parameters, the mean motion last, without its prior.
    motion : ndarray, shape (N_GROUPS, N_MOTION)
        Where they were taken.

    Returns
    -------
    ndarray, shape (N_GROUPS, N_MOTION, N_MOTION)
        Inverse prior covariances.
    """
    per = len(score) // N_GROUPS
    m = per - N_MOTION
    options = np.array([_inverse(settle, bounce, 0.003) for settle, bounce in MEAN_FS])
    chosen = np.empty((N_GROUPS, N_MOTION, N_MOTION))
    for g in range(N_GROUPS):
        own = slice(g * per, (g + 1) * per)
        block = information[own, own]
        pull = score[own] + block[:, m:] @ motion[g]
        shed = block[m:, :m] @ np.linalg.pinv(block[:m, :m]) if m else np.zeros((N_MOTION, 0))
        info, pull = block[m:, m:] - shed @ block[:m, m:], pull[m:] - shed @ pull[:m]
        totals = [
            np.linalg.slogdet(info + option)[1]
            - np.linalg.slogdet(option)[1]
            - pull @ np.linalg.solve(info + option, pull)
            for option in options
        ]
        chosen[g] = options[int(np.argmin(totals))]
    return chosen
