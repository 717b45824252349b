"""Which electronics fit the flicks: no pole, one, two, a firmware average, or a pole and an average."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.hand.gate_stop.models import ResponseShape
from feelcheck.hand.gate_stop.search import Found, candidate
from feelcheck.model import FloatArray

__all__ = ["Chosen", "choose"]

CORRELATION = 3.0
"""Residuals of one flick hang together: so many readings count as one."""

CLEAR = 12.0
"""Gain in -2 log likelihood of independent readings below which the simpler candidate stands."""

HOPELESS = 400.0
LONGEST_AVERAGE = 24


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
    """The chosen candidate, and how the others' delays compare to it.

    Parameters
    ----------
    best : Found
        The chosen fit.
    names : tuple of str
        The other candidates.
    delay_ratios : tuple of ndarray, shape (G,)
        The smoothing delay of each other candidate over the chosen one's.
    gains : tuple of float
        -2 log likelihood of each over the chosen one's, counted in independent readings.
    """

    best: Found
    names: tuple[str, ...] = ()
    delay_ratios: tuple[FloatArray, ...] = ()
    gains: tuple[float, ...] = ()

    @property
    def shape(self) -> ResponseShape:
        """The chosen candidate."""
        return self.best.fit.shape

    @property
    def delay_s(self) -> FloatArray:
        """The smoothing delay of each group, shape (G,), s."""
        return smoothing_delay_s(self.best)

    def carried_to(self, best: Found) -> Chosen:
        """Return the same choice with the chosen candidate fitted to other flicks."""
        return replace(self, best=best)


def smoothing_delay_s(found: Found) -> FloatArray:
    """Return the smoothing delay of each group under a candidate, shape (G,), s."""
    average_s = 0.5 * (found.fit.shape.n_average - 1) * found.batch.interval_s
    return np.asarray(found.fit.tau_s.sum(axis=1) + average_s)


def choose(one_pole: Found) -> Chosen:
    """Return the candidate to believe, starting from the one-pole fit.

    Parameters
    ----------
    one_pole : Found
        From `search.pilot`.

    Notes
    -----
    A candidate displaces a simpler one only by a clear gain in marginal likelihood, counted in independent readings.
    """
    interval_s = one_pole.batch.interval_s
    tau = one_pole.fit.tau_s
    usual = float(np.median(tau))
    tried = [one_pole]
    if usual > 0.4 * interval_s:
        tried += [_two_poles(one_pole)]
        tried += _averages(one_pole, usual)
        tried += _pole_averages(one_pole, usual)
    best = one_pole
    for found in sorted(tried[1:], key=_cost):
        more = _cost(found) > _cost(best)
        if best.total - found.total > CORRELATION * (CLEAR if more else 0.0):
            best = found
    others = [found for found in tried if found is not best]
    return Chosen(
        best=best,
        names=tuple(found.fit.shape.name for found in others),
        delay_ratios=tuple(smoothing_delay_s(found) / smoothing_delay_s(best) for found in others),
        gains=tuple((found.total - best.total) / CORRELATION for found in others),
    )


def _cost(found: Found) -> int:
    return found.fit.shape.n_poles + (found.fit.shape.n_average > 1)


def _two_poles(one_pole: Found) -> Found:
    tau = one_pole.fit.tau_s
    start = np.concatenate([0.8 * tau, 0.25 * tau], axis=1)
    return candidate(one_pole, ResponseShape(n_poles=2), start, 0.0)


def _averages(one_pole: Found, usual_s: float) -> list[Found]:
    """Try averages around the length whose delay equals the one pole's, uphill from there."""
    interval_s = one_pole.batch.interval_s
    first = int(np.clip(round(2 * usual_s / interval_s) + 1, 2, LONGEST_AVERAGE))
    if 2 * usual_s / interval_s + 1 > LONGEST_AVERAGE:
        return []

    def at(n: int) -> Found:
        shift_s = usual_s - 0.5 * (n - 1) * interval_s
        shape = ResponseShape(n_poles=0, n_average=n, quick=True)
        return candidate(one_pole, shape, np.zeros((one_pole.batch.n_groups, 0)), shift_s)

    found = {first: at(first)}
    if found[first].total > one_pole.total + HOPELESS:
        return [found[first]]
    for _ in range(6):
        n = min(found, key=lambda k: found[k].total)
        fresh = [k for k in (n - 1, n + 1) if k not in found and 2 <= k <= LONGEST_AVERAGE + 2]
        if not fresh:
            break
        found.update({k: at(k) for k in fresh})
    return sorted(found.values(), key=lambda f: f.total)[:2]


def _pole_averages(one_pole: Found, usual_s: float) -> list[Found]:
    interval_s = one_pole.batch.interval_s

    def at(n: int) -> Found:
        rest = np.maximum(one_pole.fit.tau_s - 0.4 * (n - 1) * interval_s, 0.3 * interval_s)
        shift_s = usual_s - float(np.median(rest)) - 0.5 * (n - 1) * interval_s
        return candidate(one_pole, ResponseShape(n_poles=1, n_average=n, quick=True), rest, shift_s)

    longest = math.floor(2 * usual_s / interval_s) + 2
    lengths = [n for n in (3, 8) if n <= longest]
    found = {n: at(n) for n in lengths}
    for _ in range(4):
        if not found:
            break
        n = min(found, key=lambda k: found[k].total)
        fresh = [k for k in (n - 1, n + 1) if k not in found and 2 <= k <= longest + 2]
        if not fresh:
            break
        found.update({k: at(k) for k in fresh})
    return sorted(found.values(), key=lambda f: f.total)[:2]
