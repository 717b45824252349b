"""Look over a grid of contact instants, averages and poles for places to start a fit from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.batch import Batch
from feelcheck.hand.gate_stop.linearised import Prior, columns, evidence
from feelcheck.hand.gate_stop.models import ResponseShape
from feelcheck.hand.gate_stop.numbers import LEAST_TAKEN, LOST, SLOW_INTERVALS
from feelcheck.hand.gate_stop.rim_priors import RIM_PRIORS, rim_of
from feelcheck.hand.gate_stop.search import Found
from feelcheck.model import FloatArray

__all__ = ["Start", "average_starts", "pair_starts"]

LENGTHS = (1, 2, 3, 4, 6, 8, 12, 17, 24)
"""Averages that are looked at, in reports: a third apart at most; the fit of the best climbs to its neighbours."""

SHARES = (1.0, 0.55, 0.1)
SLOW_SHARES = (1.0, 0.95)
"""Poles beside an average, over the one pole that fits best: nearly all, half, and hardly any of the delay; the second
tuple serves where that pole is long."""


DELAYS = 0.6, 2.5
"""Least and most delay over that of the one pole that fits best."""


MOST_BEHIND_ANY = 3.5
"""Reports of delay up to which an average is looked for behind however short a pole."""

BEYOND = 4
"""How many reports before the beginning of an average its contact may lie."""

PAIRS = ((1.0, 0.06), (0.9, 0.28), (0.75, 0.5), (0.6, 0.58))
"""Slow and quick pole over the one pole that fits best."""

PAIR_STEPS = range(-6, 5, 2)
"""Contact instants that are looked at, in half reports from where the delay is kept."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Start:
    """A place to start from.

    Parameters
    ----------
    shape : ResponseShape
        The candidate.
    tau_s : ndarray, shape (N_GROUPS, m), s
        Time constants.
    contact_s : ndarray, shape (F,), s
        Contact instants.
    total : float
        -2 log marginal likelihood there under one prior of the rim, up to a constant.
    """

    shape: ResponseShape
    tau_s: FloatArray
    contact_s: FloatArray
    total: float


def average_starts(one_pole: Found, longest: int) -> list[Start]:
    """Return the best place for each length of an average, a length of 1 included, best first.

    Parameters
    ----------
    one_pole : Found
        The one-pole fit.
    longest : int
        Longest average, in reports.

    Notes
    -----
    A contact instant of a one-pole fit can lie at either end of an average, so single steps from there go astray. The
    average over n reports is the mean of n neighbouring grid points, so all lengths share one set of pole responses.
    """
    batch, tau = one_pole.batch, one_pole.fit.tau_s
    prior = rim_of(RIM_PRIORS[-1], batch.n_flicks).prior(batch.angle_rad)
    usual = float(np.median(tau)) / batch.interval_s
    best: dict[int, Start] = {}
    for share in SLOW_SHARES if usual > SLOW_INTERVALS else SHARES:
        looks = _looks([n for n in LENGTHS if n <= longest], share, usual)
        first, last = min((look.start for look in looks.values()), default=0), max(looks, default=0) + 2
        centre = _with_delay_kept(one_pole, share * tau)
        summed, here_total = _running_sums(batch, share * tau, centre, range(first, last)), np.inf
        for n, look in looks.items():
            here = range(look.start - first, look.stop - first, look.step)
            steps, total = _best_of_means(batch, summed, n, here, prior)
            if n not in best or total < best[n].total:
                shape = ResponseShape(n_poles=1, n_average=n)
                contact = centre + (steps + first) * batch.interval_s
                best[n] = Start(shape=shape, tau_s=share * tau, contact_s=contact, total=total)
            here_total = min(here_total, total)
        if here_total > min(start.total for start in best.values()) + LOST:
            break
    return sorted(best.values(), key=lambda start: start.total)


def _best_of_means(
    batch: Batch, summed: list[FloatArray], n: int, look: range, prior: Prior
) -> tuple[FloatArray, float]:
    """Return for each flick where the mean over n has the best evidence, looking coarsely first, and the sum of it."""
    at, total = _best_on_grid(batch, ((k, (summed[k + n] - summed[k]) / n) for k in look), prior)
    width = look.step
    while width > 1:
        width = (width + 1) // 2
        around = [np.clip(at + k, 0, len(summed) - 1 - n).astype(int) for k in (-width, 0, width)]
        grid = ((k, (_of_flicks(summed, one + n) - _of_flicks(summed, one)) / n) for k, one in enumerate(around))
        best, total = _best_on_grid(batch, grid, prior)
        at = np.choose(best.astype(int), around).astype(float)
    return at, total


def _of_flicks(each: list[FloatArray], at: NDArray[np.int64]) -> FloatArray:
    """Return columns that differ from flick to flick."""
    return np.stack([each[k][row] for row, k in enumerate(np.repeat(at, 2).tolist())])


def _looks(lengths: Sequence[int], share: float, usual: float) -> dict[int, range]:
    """Return for each length that may be where a contact may lie, in reports from that of the pole alone."""
    least, most = (bound - share for bound in DELAYS)
    least, always = max(least, LEAST_TAKEN * (1.0 - share)), 2 if share == 1.0 else 0
    most = max(most * usual, MOST_BEHIND_ANY)
    kept = [n for n in lengths if n <= always or least * usual <= 0.5 * (n - 1) <= most]
    return {n: range(-(n + BEYOND), 2, max(1, n // 3)) for n in kept}


def pair_starts(one_pole: Found) -> list[Start]:
    """Return the best place for each way to split the one pole in two, best first.

    Parameters
    ----------
    one_pole : Found
        The one-pole fit.
    """
    batch, tau = one_pole.batch, one_pole.fit.tau_s
    prior = rim_of(RIM_PRIORS[-1], batch.n_flicks).prior(batch.angle_rad)
    step_s = max(0.5 * batch.interval_s, 0.06 * float(np.median(tau)))
    shape, found = ResponseShape(n_poles=2), []
    for slow, quick in PAIRS:
        poles = np.concatenate([slow * tau, quick * tau], axis=1)
        centre = _with_delay_kept(one_pole, poles)
        grid = ((k, columns(batch, shape, centre + k * step_s, poles[batch.group])) for k in PAIR_STEPS)
        steps, total = _best_on_grid(batch, grid, prior)
        found.append(Start(shape=shape, tau_s=poles, contact_s=centre + steps * step_s, total=total))
    return sorted(found, key=lambda start: start.total)


def _with_delay_kept(one_pole: Found, poles_s: FloatArray) -> FloatArray:
    """Return contact instants at which other poles delay the motion as much as the one does, shape (F,), s."""
    less = (one_pole.fit.tau_s - poles_s.sum(axis=1, keepdims=True))[one_pole.batch.group, 0]
    return np.asarray(one_pole.fit.contact_s + 0.5 * (less[0::2] + less[1::2]))


def _running_sums(batch: Batch, poles_s: FloatArray, centre_s: FloatArray, steps: range) -> list[FloatArray]:
    """Return sums of one pole's columns over contacts in steps of one report: 0 for none, then one more each."""
    shape, tau_s = ResponseShape(n_poles=1), poles_s[batch.group]
    each = (columns(batch, shape, centre_s + k * batch.interval_s, tau_s) for k in steps)
    sums = [next(each)]
    for more in each:
        sums.append(sums[-1] + more)
    return [np.zeros_like(sums[0]), *sums]


def _best_on_grid(batch: Batch, grid: Iterable[tuple[int, FloatArray]], prior: Prior) -> tuple[FloatArray, float]:
    """Return for each flick the step with the best evidence, shape (F,), and the sum of the evidence there."""
    best, at = np.full(batch.n_flicks, np.inf), np.zeros(batch.n_flicks)
    for k, phi in grid:
        objective = evidence(batch, phi, prior)
        better = objective < best
        best[better], at[better] = objective[better], k
    return at, float(best.sum())
