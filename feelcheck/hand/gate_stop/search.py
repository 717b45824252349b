"""Find the best fit of one candidate: start, settle the priors of the motion at the rim, refine."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.batches import first_contacts, trimmed, weigh
from feelcheck.hand.gate_stop.elimination import volume_and_square
from feelcheck.hand.gate_stop.joint_fit import Fit, fit
from feelcheck.hand.gate_stop.linearised import columns, evidence, moments
from feelcheck.hand.gate_stop.models import N_MOTION, ResponseShape
from feelcheck.hand.gate_stop.numbers import LOG_TAU_SD
from feelcheck.hand.gate_stop.rim_priors import RIM_PRIORS, Options, Rim, radial_options, rim_of, tangential_options
from feelcheck.model import FloatArray

__all__ = ["Found", "best_rim", "everything", "pilot", "refined", "started"]

CONTACT_LEVELS = (0.96, 0.7, 1.0)
"""Shares of the travel that the un-smoothed stick reaches at the first guesses of its contact."""


N_CONTACTS, BEYOND = 13, 1.0
"""Contact instants that are tried first, and how many reports before and after the guesses they begin and end."""

RADIAL, TANGENTIAL = slice(0, N_MOTION), slice(N_MOTION, None)

BESIDE = (0.85, 1.18)
"""Shares of the time constants from which the fit of all flicks is restarted."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """A fit with the weights and the priors it was made with.

    Parameters
    ----------
    total : float
        -2 log marginal likelihood + constant.
    rivals : tuple
        Other places the search ended at: sum of the time constants over this one's, shape (N_GROUPS,), and `total`
        over this one's.
    """

    fit: Fit
    batch: Batch
    rim: Rim
    total: float
    rivals: tuple[tuple[FloatArray, float], ...] = ()


def _fitted(
    batch: Batch,
    at: Fit,
    rim: Rim,
    *,
    n_steps: int,
    n_settle: int,
) -> Found:
    found = fit(
        batch,
        at.shape,
        contact_s=at.contact_s,
        tau_s=at.tau_s,
        prior=rim.prior(batch.angle_rad),
        n_steps=n_steps,
        n_settle=n_settle,
    )
    used = batch.weight > 0
    total = found.objective.sum() - np.log(batch.weight[used]).sum() + _volume(found)
    return Found(fit=found, batch=batch, rim=rim, total=float(total))


def _volume(found: Fit) -> float:
    """Return the logarithm of the posterior over the prior volume of the time constants.

    Notes
    -----
    A pole that the readings do not determine then costs nothing and gains nothing.
    """
    n = len(found.information)
    volume = np.linalg.slogdet(found.information + np.eye(n) / LOG_TAU_SD**2)[1]
    return float(volume + 2 * n * np.log(LOG_TAU_SD))


def _beginning(shape: ResponseShape, tau_s: FloatArray, contact_s: FloatArray) -> Fit:
    """Return a place to start from: nothing is fitted yet."""
    nothing = np.zeros(0)
    return Fit(
        shape=shape,
        tau_s=tau_s,
        contact_s=contact_s,
        coefficients=nothing,
        model=nothing,
        objective=nothing,
        information=nothing,
        flick_score=nothing,
        flick_information=nothing,
    )


def _trust(batch: Batch, found: Fit) -> FloatArray:
    """Weigh down flicks that fit much worse than the others do, shape (F,)."""
    used = (batch.weight > 0).reshape(batch.n_flicks, -1)
    misfit = (batch.weight * (batch.y - found.model) ** 2).reshape(batch.n_flicks, -1)
    by_flick = misfit.sum(axis=1) / np.maximum(used.sum(axis=1), 1)
    usual = max(float(np.median(by_flick)), 1.0)
    return np.asarray(np.minimum(1.0, 2.0 * usual / np.maximum(by_flick, 1e-9)) / usual)


def pilot(batch: Batch, onset_s: FloatArray, start_s: FloatArray) -> Found:
    """Return the one-pole fit of a few flicks, from the middle of what the rim allows.

    Parameters
    ----------
    batch : Batch
        The flicks to look at.
    onset_s : ndarray, shape (F,), s
        Their onsets.
    start_s : ndarray, shape (N_GROUPS,), s
        Time constants to start from, inside what the rim allows.
    """
    rim, trust = rim_of(RIM_PRIORS[-1], batch.n_flicks), np.ones(batch.n_flicks)
    at = _beginning(ResponseShape(n_poles=1), start_s[:, None], np.zeros(batch.n_flicks))
    for _ in range(2):
        at = replace(at, contact_s=_best_contacts(batch, at, rim, onset_s))
        weighed, _ = trimmed(weigh(batch, batch.weight, at.contact_s, onset_s, trust), batch.weight)
        here = _fitted(weighed, at, rim, n_steps=3, n_settle=1)
        at = here.fit
    return refined(here, weighed, 3)


def started(batch: Batch, shape: ResponseShape, tau_s: FloatArray, contact_s: FloatArray) -> Found:
    """Return the fit of another candidate from a place that is close already, its priors chosen anew.

    Parameters
    ----------
    batch : Batch
        The windows.
    shape : ResponseShape
        The candidate.
    tau_s : ndarray, shape (N_GROUPS, m), s
        Time constants to start from.
    contact_s : ndarray, shape (F,), s
        Contact instants to start from.
    """
    start = _beginning(shape, tau_s, contact_s)
    first = _fitted(batch, start, rim_of(RIM_PRIORS[1], batch.n_flicks), n_steps=1, n_settle=1)
    return refined(first, batch, 3)


def refined(found: Found, batch: Batch, n_steps: int) -> Found:
    """Return the fit with its priors chosen anew, carried on for some steps on (newly weighed) windows.

    Parameters
    ----------
    found : Found
        A fit.
    batch : Batch
        The windows, all of one size.
    n_steps : int
        How many steps of the optimiser.
    """
    at = found.fit
    info, pull = moments(batch, at.shape, at.contact_s, at.tau_s)
    rim = best_rim(info, pull, batch.angle_rad, found.rim.tangential)
    return _fitted(batch, at, rim, n_steps=n_steps, n_settle=0)


def everything(found: Found, batch: Batch, onset_s: FloatArray) -> Found:
    """Return the fit of all flicks, started from that of a few.

    Parameters
    ----------
    found : Found
        The fit of a few.
    batch : Batch
        All flicks.
    onset_s : ndarray, shape (F,), s
        Their onsets.
    """
    trust, rim = np.ones(batch.n_flicks), found.rim.usual(batch.n_flicks)
    start = replace(found.fit, contact_s=_best_contacts(batch, found.fit, rim, onset_s))
    weighed, plain = trimmed(weigh(batch, batch.weight, start.contact_s, onset_s, trust), batch.weight)
    here = refined(_fitted(weighed, start, rim, n_steps=0, n_settle=2), weighed, 3)
    best = here = _with_rivals(here)
    for n_steps in (3, 5):
        trust = _trust(here.batch, here.fit) * trust
        here = refined(here, weigh(weighed, plain, here.fit.contact_s, onset_s, trust), n_steps)
    return replace(here, rivals=best.rivals)


def _with_rivals(found: Found) -> Found:
    """Return the best of the fit and of fits begun from shorter and longer poles; how the others compare goes with it.

    Bounce and give can stand in for a part of the response, and each flick chooses among many components of the
    prior, so that there are several local optima.
    """
    fit, usual_s = found.fit, float(np.median(found.fit.tau_s))
    begun = [
        replace(fit, tau_s=share * fit.tau_s, contact_s=fit.contact_s + (1.0 - share) * usual_s) for share in BESIDE
    ]
    tried = [found] + [_fitted(found.batch, start, found.rim, n_steps=0, n_settle=2) for start in begun]
    tried = [refined(one, found.batch, 2) for one in tried]
    best = min(tried, key=lambda one: one.total)
    rivals = tuple(
        (one.fit.tau_s.sum(axis=1) / best.fit.tau_s.sum(axis=1), one.total - best.total)
        for one in tried
        if one is not best
    )
    return replace(best, rivals=rivals)


def _best_contacts(batch: Batch, at: Fit, rim: Rim, onset_s: FloatArray) -> FloatArray:
    """Return the likeliest of some contact instants of each flick, from before to after where it may have met the rim.

    Where a flick is a few reports, they lie closer than the reports.
    """
    shape, prior = at.shape, rim.prior(batch.angle_rad)
    average_s = 0.5 * (shape.n_average - 1) * batch.interval_s
    delay_s = at.tau_s.sum(axis=1)[batch.group] + average_s
    guesses = np.array([first_contacts(batch, delay_s, level) for level in CONTACT_LEVELS])
    beyond_s = BEYOND * batch.interval_s
    grid_s = np.linspace(guesses.min(axis=0) - beyond_s, guesses.max(axis=0) + beyond_s, N_CONTACTS)
    tau_s, trust = at.tau_s[batch.group], np.ones(batch.n_flicks)
    weighed, plain = trimmed(weigh(batch, batch.weight, grid_s[0], onset_s, trust), batch.weight)
    fits = np.empty(grid_s.shape)
    for k, contact_s in enumerate(grid_s):
        weighed = weigh(weighed, plain, contact_s, onset_s, trust)
        fits[k] = evidence(weighed, columns(weighed, shape, contact_s, tau_s), prior)
        weight = weighed.weight.reshape(batch.n_flicks, -1)
        fits[k] -= np.sum(np.log(np.where(weight > 0, weight, 1.0)), axis=1)
    return np.asarray(grid_s[fits.argmin(axis=0), np.arange(batch.n_flicks)])


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
