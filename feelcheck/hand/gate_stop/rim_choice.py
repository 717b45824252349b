"""Choose the priors of the motion at the rim by marginal likelihood."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.elimination import volume_and_square
from feelcheck.hand.gate_stop.models import N_MOTION
from feelcheck.hand.gate_stop.rim_priors import Options, Rim, radial_options, tangential_options
from feelcheck.model import FloatArray

__all__ = ["best_rim"]

RADIAL, TANGENTIAL = slice(0, N_MOTION), slice(N_MOTION, None)


def best_rim(info: FloatArray, pull: FloatArray, angle_rad: FloatArray, tangential: FloatArray) -> Rim:
    """Choose the prior of each flick by marginal likelihood.

    Parameters
    ----------
    info : ndarray, shape (F, 2 N_MOTION, 2 N_MOTION)
        Normal matrices of the motion, from `moments`.
    pull : ndarray, shape (F, 2 N_MOTION)
        Their right-hand sides.
    angle_rad : ndarray, shape (F,)
        Directions in the turned axes.
    tangential : ndarray, shape (F, N_MOTION, N_MOTION)
        The tangential part so far.

    Notes
    -----
    Empirical Bayes with a mixture: what many flicks choose is likelier for the next. The radial part is chosen first.
    """
    info, pull = _turned(info, pull, angle_rad)
    radial = _radial_choice(*_alone(info, pull, RADIAL, tangential, np.zeros((1, N_MOTION))))
    slides = tangential_options()
    own = _alone(info, pull, TANGENTIAL, radial.precision, radial.pull)
    slide = _shared_choice(_totals(*own, slides.at(None)))
    return Rim(radial=radial.precision, tangential=slides.precision[slide], outward=radial.mean)


def _radial_choice(info: FloatArray, pull: FloatArray) -> Options:
    """Return the better of two ways for each flick: the bounce first and then the give, or the other way round."""
    options, flick = radial_options(), np.arange(len(pull))
    every, none = slice(None), np.zeros_like(flick)

    def of_give(bounce: NDArray[np.intp]) -> FloatArray:
        return _totals(info, pull, options.at(np.arange(len(options.mean)), bounce[:, None]))

    def of_bounce(give: NDArray[np.intp]) -> FloatArray:
        return _totals(info, pull, options.at(give, every))

    bounce_1 = _shared_choice(of_bounce(none))
    totals_1 = of_give(bounce_1)
    give_1 = _shared_choice(totals_1)
    give_2 = _shared_choice(of_give(none))
    totals_2 = of_bounce(give_2)
    bounce_2 = _shared_choice(totals_2)
    first = totals_1[flick, give_1] <= totals_2[flick, bounce_2]
    return options.at(np.where(first, give_1, give_2), np.where(first, bounce_1, bounce_2))


def _turned(info: FloatArray, pull: FloatArray, angle_rad: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Go over from x and y to radial and tangential."""
    cos, sin = (part[:, None, None] for part in (np.cos(angle_rad), np.sin(angle_rad)))
    eye = np.eye(N_MOTION)
    turn = np.block([[cos * eye, sin * eye], [-sin * eye, cos * eye]])
    return np.matmul(np.matmul(turn, info), turn.transpose(0, 2, 1)), np.matmul(turn, pull[..., None])[..., 0]


def _alone(
    info: FloatArray, pull: FloatArray, part: slice, other: FloatArray, drawn: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Eliminate the other part of the motion, given its inverse covariance and that times its mean."""
    away = TANGENTIAL if part == RADIAL else RADIAL
    cross = info[:, part, away]
    against = (pull[:, away] + drawn)[..., None]
    solved = np.linalg.solve(info[:, away, away] + other, np.concatenate([cross.swapaxes(1, 2), against], axis=2))
    own = info[:, part, part] - np.matmul(cross, solved[..., :-1])
    return own, pull[:, part] - np.matmul(cross, solved[..., -1:])[..., 0]


def _totals(info: FloatArray, pull: FloatArray, options: Options) -> FloatArray:
    """Return -2 log marginal likelihood of each flick and option up to a constant of the flick, shape (F, K).

    Options have the leading axes F or 1, and K.
    """
    volume, square = volume_and_square(info[:, None] + options.precision, pull[:, None] + options.pull)
    return np.asarray(volume - square + options.constant)


def _shared_choice(totals: FloatArray) -> NDArray[np.intp]:
    n_options = totals.shape[1]
    share = np.full(n_options, 1.0 / n_options)
    for _ in range(3):
        score = -0.5 * (totals - totals.min(axis=1, keepdims=True)) + np.log(share)
        likely = np.exp(score - score.max(axis=1, keepdims=True))
        likely /= likely.sum(axis=1, keepdims=True)
        share = (likely.sum(axis=0) + 0.5 / n_options) / (len(likely) + 0.5)
    return np.asarray(np.argmax(likely, axis=1), dtype=np.intp)
