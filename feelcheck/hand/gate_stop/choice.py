"""Which electronics fit the flicks: no pole, one, two, a firmware average, or a pole and an average."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.models import ResponseShape
from feelcheck.hand.gate_stop.search import Found, candidate, glance, refined, rim_ratios
from feelcheck.model import FloatArray

__all__ = ["Chosen", "choose"]

CORRELATION = 3.0
"""Residuals of one flick hang together: so many readings count as one."""

HOPELESS = 600.0
SLOW_INTERVALS = 8.0
CLEAR = 40.0
"""Gain in -2 log likelihood of independent readings below which the simpler candidate stands."""

RIM_FACTOR = 1.5
"""Other ideas of the rim move the result by about two thirds of its error, over simulated rims."""

OTHERS_SHARE = 0.4
INDIFFERENT = 10.0
"""Gains below this say nothing: that is how far they scatter over simulated logs of one pole."""

LONGEST_AVERAGE = 16


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
    tau_ratios : tuple of ndarray, shape (G,)
        The same for the slowest pole; 1 where one of both has none.
    gains : tuple of float
        -2 log likelihood of each over the chosen one's, counted in independent readings.
    rim_ratios, rim_gains
        The same for the chosen candidate under other ideas of the rim.
    """

    best: Found
    names: tuple[str, ...] = ()
    delay_ratios: tuple[FloatArray, ...] = ()
    tau_ratios: tuple[FloatArray, ...] = ()
    gains: tuple[float, ...] = ()
    rim_ratios: tuple[FloatArray, ...] = ()
    rim_gains: tuple[float, ...] = ()

    @property
    def shape(self) -> ResponseShape:
        """The chosen candidate."""
        return self.best.fit.shape

    def spread(self, ratios: tuple[FloatArray, ...], g: int) -> float:
        """Return the relative standard deviation of a quantity over the candidates that fit about as well.

        Parameters
        ----------
        ratios : tuple of ndarray, shape (G,)
            `delay_ratios` or `tau_ratios`.
        g : int
            The group.
        """
        return weighted_spread([float(ratio[g]) for ratio in ratios], self.gains, OTHERS_SHARE)

    def rim_spread(self, g: int) -> float:
        """Return the relative standard deviation over other ideas of the motion at the rim that fit about as well."""
        return RIM_FACTOR * weighted_spread([float(ratio[g]) for ratio in self.rim_ratios], self.rim_gains, 1.0)

    @property
    def delay_s(self) -> FloatArray:
        """The smoothing delay of each group, shape (G,), s."""
        return smoothing_delay_s(self.best)

    def carried_to(self, best: Found) -> Chosen:
        """Return the same choice with the chosen candidate fitted to other flicks, under several ideas of the rim."""
        ratios, losses = rim_ratios(best) if best.fit.shape.n_poles else ([], [])
        return replace(
            self, best=best, rim_ratios=tuple(ratios), rim_gains=tuple(loss / CORRELATION for loss in losses)
        )


def weighted_spread(ratios: Sequence[float], gains: Sequence[float], share: float) -> float:
    """Return the relative standard deviation of ratios about 1, each weighed by how well it fits.

    Parameters
    ----------
    ratios : sequence of float
        Values over the chosen one.
    gains : sequence of float
        -2 log likelihood over the chosen one's, in independent readings.
    share : float
        Weight of another one that fits as well, the chosen one counting 1.

    Examples
    --------
    >>> round(weighted_spread([1.2], [0.0], 1.0), 4)
    0.1289
    """
    if not ratios:
        return 0.0
    weight = share * np.exp(-np.clip(np.array(gains), -INDIFFERENT, 1e3) / INDIFFERENT)
    return float(np.sqrt(np.sum(weight * np.log(ratios) ** 2) / (1.0 + weight.sum())))


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
    again = candidate(one_pole, one_pole.fit.shape, one_pole.fit.tau_s, 0.0)
    one_pole = min((again, refined(one_pole, one_pole.batch, 3)), key=lambda found: found.total)
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
        tau_ratios=tuple(_slowest_ratio(found, best) for found in others),
        gains=tuple((found.total - best.total) / CORRELATION for found in others),
    )


def _slowest_ratio(found: Found, best: Found) -> FloatArray:
    if not (found.fit.shape.n_poles and best.fit.shape.n_poles):
        return np.ones(N_GROUPS)
    return np.asarray(found.fit.tau_s.max(axis=1) / best.fit.tau_s.max(axis=1))


def _cost(found: Found) -> int:
    return found.fit.shape.n_poles + (found.fit.shape.n_average > 1)


def _two_poles(one_pole: Found) -> Found:
    tau = one_pole.fit.tau_s
    start = np.concatenate([0.95 * tau, 0.25 * tau], axis=1)
    return candidate(one_pole, ResponseShape(n_poles=2), start, -0.2 * float(np.median(tau)))


def _averages(one_pole: Found, usual_s: float) -> list[Found]:
    """Try the average that looks best among those whose delay is about the one pole's."""
    interval_s = one_pole.batch.interval_s
    likely = 2 * usual_s / interval_s + 1
    lengths = [n for n in range(2, LONGEST_AVERAGE + 1) if 0.7 * likely - 1 <= n <= 1.5 * likely + 1]
    nothing = np.zeros((N_GROUPS, 0))
    return _best_length(one_pole, lengths, 0, nothing, usual_s)


def _pole_averages(one_pole: Found, usual_s: float) -> list[Found]:
    """Try the average that looks best beside a pole.

    A pole and an average decay like the pole alone once the average is over, so the pole is known beforehand.
    """
    longest = min(LONGEST_AVERAGE, math.floor(3 * usual_s / one_pole.batch.interval_s) + 2)
    return _best_length(one_pole, list(range(2, longest + 1)), 1, one_pole.fit.tau_s, 0.0)


def _best_length(one_pole: Found, lengths: list[int], n_poles: int, tau_s: FloatArray, lead_s: float) -> list[Found]:
    """Glance at every second length, then next to the best; fit that one and the one that fits next best."""
    interval_s = one_pole.batch.interval_s
    close = bool(n_poles) and float(np.median(tau_s)) < SLOW_INTERVALS * interval_s
    shares = (0.0, 0.4, 0.7) if close else (0.0,)

    def start(n: int, share: float) -> tuple[FloatArray, float]:
        delay_s = 0.5 * (n - 1) * interval_s
        rest = np.maximum(tau_s - share * delay_s, 0.3 * interval_s) if n_poles else tau_s
        return rest, lead_s - delay_s + (float(np.median(tau_s - rest)) if n_poles else 0.0)

    def look(n: int) -> float:
        return min(glance(one_pole, _shape(n), *start(n, share)) for share in shares)

    def _shape(n: int) -> ResponseShape:
        return ResponseShape(n_poles=n_poles, n_average=n, quick=True)

    if not lengths:
        return []
    seen = {n: look(n) for n in lengths[:: max(1, len(lengths) // 4)]}
    for _ in range(6):
        best = min(seen, key=lambda n: seen[n])
        fresh = [n for n in (best - 1, best + 1) if n in lengths and n not in seen]
        if not fresh:
            break
        seen.update({n: look(n) for n in fresh})
    best = min(seen, key=lambda n: seen[n])
    if seen[best] > glance(one_pole, one_pole.fit.shape, one_pole.fit.tau_s, 0.0) + HOPELESS:
        return []
    share = min(shares, key=lambda share: glance(one_pole, _shape(best), *start(best, share)))
    return [candidate(one_pole, _shape(best), *start(best, share))]
