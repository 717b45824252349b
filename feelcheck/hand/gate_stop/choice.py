"""Which electronics fit the flicks: one pole, two, or a pole and a firmware average."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS, Batch
from feelcheck.hand.gate_stop.batches import subset
from feelcheck.hand.gate_stop.models import ResponseShape
from feelcheck.hand.gate_stop.numbers import (
    AGREED,
    CLEAR,
    CONTACT_S,
    CORRELATION,
    DECIDED,
    DOUBT,
    DOUBT_GAIN,
    HOLDS,
    INDIFFERENT,
    LIKELIER,
    LONGEST_AVERAGE,
    LONGEST_AVERAGE_S,
    N_STARTS,
    N_TO_CHOOSE,
    SEEN_WORTH,
    STOPS_WORTH,
    WORSE,
    YIELDS_S,
)
from feelcheck.hand.gate_stop.scan import Start, average_starts, pair_starts
from feelcheck.hand.gate_stop.search import Found, pilot, refined, started
from feelcheck.model import FloatArray

__all__ = ["Chosen", "choose", "choose_from_few", "smoothing_delay_s"]

Against = Callable[[Sequence[Found], Found], list[float]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
    """The chosen candidate, and how the others' delays compare to it.

    Parameters
    ----------
    best : Found
        The chosen fit.
    tried : tuple of Found
        The fits of all candidates to a few flicks, one pole first.
    names : tuple of str
        The other candidates.
    delay_ratios : tuple of ndarray, shape (G,)
        The smoothing delay of each other candidate over the chosen one's.
    tau_ratios : tuple of ndarray, shape (G,)
        The same for the slowest pole.
    gains : tuple of float
        -2 log likelihood of each over the chosen one's, counted in independent readings.
    averaged : bool
        Whether the length of an average was seen, so that nothing else is to be tried.
    """

    best: Found
    tried: tuple[Found, ...]
    names: tuple[str, ...] = ()
    delay_ratios: tuple[FloatArray, ...] = ()
    tau_ratios: tuple[FloatArray, ...] = ()
    gains: tuple[float, ...] = ()
    averaged: bool = False

    @property
    def one_pole(self) -> Found:
        """The fit of one pole to a few flicks."""
        return self.tried[0]

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
        return weighted_spread([float(ratio[g]) for ratio in ratios], self.gains, doubt=DOUBT)

    @property
    def between(self) -> float:
        """Logarithm of the delay between one pole and likelier candidates that add no more than a thumb may, over it.

        A thumb that yields makes them fit better too, so that no gain decides for one of them; where flicks differ
        over it, it was the thumb.
        """
        if self.best.fit.shape != self.one_pole.fit.shape:
            return 0.0
        told = [g for g in range(N_GROUPS) if self.best.batch.used_rows(g).size]
        total, weights = 0.0, 1.0
        for other, ratio, gain in zip(self.tried[1:], self.delay_ratios, self.gains, strict=True):
            more_s = float(np.median(((ratio - 1.0) * smoothing_delay_s(self.one_pole))[told]))
            if abs(more_s) <= YIELDS_S and _flick_by_flick(other, self.one_pole):
                weight = float(np.clip((-gain - INDIFFERENT) / CLEAR, 0.0, LIKELIER))
                total += weight * float(np.median(np.log(ratio * self._few_over_all)[told]))
                weights += weight
        return total / weights

    @property
    def _few_over_all(self) -> float:
        """The delay of one pole in the few flicks that the others were fitted to, over that in all of them."""
        if self.best.fit.shape != self.one_pole.fit.shape:
            return 1.0
        told = [g for g in range(N_GROUPS) if self.best.batch.used_rows(g).size]
        return float(np.median((smoothing_delay_s(self.one_pole) / self.delay_s)[told]))

    def delay_spread(self, g: int) -> float:
        """Return `spread` of the delays about the one that is told, `between` the candidates.

        Parameters
        ----------
        g : int
            The group.
        """
        ratios = [float(ratio[g]) * self._few_over_all for ratio in self.delay_ratios]
        return weighted_spread(ratios, self.gains, doubt=DOUBT, centre=self.between)

    def longest_other_s(self, g: int) -> float:
        """Return the longest smoothing delay of candidates that are not decided against, s; 0 without any.

        Parameters
        ----------
        g : int
            The group.
        """
        ratios = [float(ratio[g]) for ratio, gain in zip(self.delay_ratios, self.gains, strict=True) if gain < DECIDED]
        return max(ratios, default=0.0) * float(self.delay_s[g])

    def rim_spread(self, g: int) -> float:
        """Return the relative standard deviation over other motions at the rim that fit about as well.

        Parameters
        ----------
        g : int
            The group.
        """
        rivals = self.best.rivals
        return weighted_spread([float(ratio[g]) for ratio, _ in rivals], [gain / CORRELATION for _, gain in rivals])

    @property
    def delay_s(self) -> FloatArray:
        """The smoothing delay of each group, shape (G,), s."""
        return smoothing_delay_s(self.best)

    def carried_to(self, fitted: Callable[[Found], Found]) -> Chosen:
        """Return the choice with all flicks fitted; what a few flicks chose must hold against one pole in all.

        Parameters
        ----------
        fitted : callable
            Returns the fit of all flicks, started from that of a few.

        Notes
        -----
        Both are held against the same readings. What the other candidates came to stays that of the few flicks.
        """
        best = fitted(self.best)
        if self.best is self.one_pole or self.averaged:
            return replace(self, best=best)
        alike = _as_one_pole(best, self.one_pole)
        gain = (best.total - alike.total) / CORRELATION
        if gain < -HOLDS:
            return replace(self, best=best)
        others = self.with_one_pole(fitted(self.one_pole))
        gains = tuple(
            gain if name == best.fit.shape.name else g for name, g in zip(others.names, others.gains, strict=True)
        )
        return replace(others, gains=gains)

    def with_another(self, fitted: Callable[[Found], Found]) -> list[Chosen]:
        """Return the choices of the other candidates that are clearly better than one pole, likeliest first.

        Parameters
        ----------
        fitted : callable
            Returns the fit of all flicks, started from that of a few.
        """
        others = [f for f in self.tried[1:] if f.fit.shape != self.shape and _clearly_better(f, self.one_pole)]
        ordered = sorted(others, key=lambda found: found.total)
        return [replace(_others(found, self.tried), best=fitted(found)) for found in ordered]

    def with_one_pole(self, best: Found) -> Chosen:
        """Return the choice of one pole, with its fit of all flicks.

        Parameters
        ----------
        best : Found
            One pole fitted to all flicks.
        """
        return replace(_others(self.one_pole, self.tried), best=best)


def _as_one_pole(found: Found, few: Found) -> Found:
    """Return one pole fitted to the readings of another candidate, started from what it came to in a few flicks."""
    later = (smoothing_delay_s(found) - smoothing_delay_s(few))[found.batch.group]
    contact_s = found.fit.contact_s + 0.5 * (later[0::2] + later[1::2])
    here = started(found.batch, few.fit.shape, few.fit.tau_s, contact_s)
    return refined(here, here.batch, 3)


def weighted_spread(ratios: Sequence[float], gains: Sequence[float], doubt: float = 0.0, centre: float = 0.0) -> float:
    """Return the relative standard deviation of 1 and ratios to it, each weighed by how well it fits.

    Parameters
    ----------
    ratios : sequence of float
        Values over the chosen one.
    gains : sequence of float
        -2 log likelihood over the chosen one's, in independent readings.
    doubt : float
        Weight below which it falls with the square of the gain only.
    centre : float
        Logarithm about which they spread.

    Examples
    --------
    >>> round(weighted_spread([1.2], [0.0]), 4)
    0.1289
    """
    if not ratios:
        return 0.0
    gain = np.clip(np.array(gains), -INDIFFERENT, 1e3)
    weight = np.maximum(np.exp(-gain / INDIFFERENT), doubt / (1.0 + gain / DOUBT_GAIN) ** 2)
    squares = centre**2 + np.sum(weight * (np.log(ratios) - centre) ** 2)
    return float(np.sqrt(squares / (1.0 + weight.sum())))


def smoothing_delay_s(found: Found) -> FloatArray:
    """Return the smoothing delay of each group under a candidate, shape (G,), s.

    Parameters
    ----------
    found : Found
        A fit.
    """
    average_s = 0.5 * (found.fit.shape.n_average - 1) * found.batch.interval_s
    return np.asarray(found.fit.tau_s.sum(axis=1) + average_s)


def choose(
    one_pole: Found,
    at_rim: Callable[[Found], float] = lambda _: 0.0,
    against: Against = lambda others, _: [0.0] * len(others),
    averages: Callable[[Found], int] = lambda _: 1,
) -> Chosen:
    """Return the candidate to believe, starting from the one-pole fit.

    Parameters
    ----------
    one_pole : Found
        From `search.pilot`.
    at_rim : callable
        Share of the sticks that, un-smoothed by a candidate, stop at the rim; negative where the rim does not allow
        it. Such a candidate displaces nothing.
    against : callable
        What other evidence says against some candidates and for one pole, as a gain for each.
    averages : callable
        Over how many reports the readings are seen to be averaged, whatever the stick did; 1 for not.

    Notes
    -----
    A candidate displaces a simpler one only by a clear gain in marginal likelihood, counted in independent readings,
    in which the flicks agree. Between those the one counts more that has the sticks stop at the rim.
    """
    interval_s = one_pole.batch.interval_s
    tau = one_pole.fit.tau_s
    usual = float(np.median(tau))
    tried = [one_pole]
    if usual > 0.4 * interval_s:
        tried += [_two_poles(one_pole)]
    seen = averages(one_pole)
    average = _seen(one_pole, seen) if seen > 1 else _average(one_pole)
    if average.fit.shape.n_average * interval_s > CONTACT_S:
        tried += [average]
    if seen > 1 and at_rim(average) >= 0:
        return replace(_others(average, tuple(tried)), averaged=True)
    tried[1:] = _held_against(tried[1:], one_pole, against)
    better = [found for found in tried[1:] if _clearly_better(found, one_pole)]
    totals = [
        (found.total - CORRELATION * STOPS_WORTH * share, found) for found in better if (share := at_rim(found)) >= 0
    ]
    return _others(min(totals, key=lambda pair: pair[0])[1] if totals else one_pole, tuple(tried))


def _held_against(tried: Sequence[Found], one_pole: Found, against: Against) -> list[Found]:
    """Return the candidates; those that are not decided against with what other evidence says against them."""
    limit = one_pole.total + CORRELATION * DECIDED
    is_open = [found.total <= limit for found in tried]
    said = iter(against(list(itertools.compress(tried, is_open)), one_pole))
    more = [CORRELATION * next(said) if still else 0.0 for still in is_open]
    return [replace(found, total=found.total + own) if own else found for found, own in zip(tried, more, strict=True)]


def _clearly_better(found: Found, one_pole: Found) -> bool:
    more_s = float(np.median(smoothing_delay_s(found) - smoothing_delay_s(one_pole)))
    gain = one_pole.total - found.total
    return abs(more_s) > YIELDS_S and gain > CORRELATION * CLEAR and _flick_by_flick(found, one_pole)


def _flick_by_flick(found: Found, one_pole: Found) -> bool:
    """Tell whether the flicks prefer a candidate to one pole one by one, not a few of them by far."""
    gain = one_pole.fit.objective - found.fit.objective
    return bool(gain.mean() > AGREED * gain.std() / np.sqrt(gain.size))


def _others(best: Found, tried: tuple[Found, ...]) -> Chosen:
    """Return one candidate as chosen, with how the others compare to it; one pole comes first."""
    others = [found for found in tried if found is not best]
    return Chosen(
        best=best,
        tried=tried,
        names=tuple(found.fit.shape.name for found in others),
        delay_ratios=tuple(smoothing_delay_s(found) / smoothing_delay_s(best) for found in others),
        tau_ratios=tuple(_slowest_ratio(found, best) for found in others),
        gains=tuple((found.total - best.total) / CORRELATION for found in others),
    )


def choose_from_few(
    batch: Batch,
    onset_s: FloatArray,
    start_s: FloatArray,
    at_rim: Callable[[Found], float] = lambda _: 0.0,
    against: Against = lambda others, _: [0.0] * len(others),
    averages: Callable[[Found], int] = lambda _: 1,
) -> Chosen:
    """Return the candidate to believe, from the fastest flicks of each group.

    Parameters
    ----------
    batch : Batch
        All flicks.
    onset_s : ndarray, shape (F,), s
        Their onsets.
    start_s : ndarray, shape (N_GROUPS,), s
        Time constants to start from, inside what the rim allows.
    at_rim, against, averages : callable
        As for `choose`.
    """
    few = subset(batch, onset_s, N_TO_CHOOSE)
    return choose(pilot(batch.of_flicks(few), onset_s[few], start_s), at_rim, against, averages)


def _slowest_ratio(found: Found, best: Found) -> FloatArray:
    return np.asarray(found.fit.tau_s.max(axis=1) / best.fit.tau_s.max(axis=1))


def _two_poles(one_pole: Found) -> Found:
    """Return the two-pole fit, from the best way to split the one pole."""
    here = _begun(one_pole, pair_starts(one_pole)[0])
    return refined(here, here.batch, 3)


def _average(one_pole: Found) -> Found:
    """Return the best pole with an average, from a look at all lengths."""
    longest = max(2, min(LONGEST_AVERAGE, int(LONGEST_AVERAGE_S / one_pole.batch.interval_s)))
    starts = average_starts(one_pole, longest)
    alone = next(start for start in starts if start.shape.n_average == 1)
    limit = min(alone.total + CORRELATION * WORSE, starts[0].total + CORRELATION * CLEAR)
    averages = [start for start in starts if start is not alone]
    near = [start for start in averages if start.total < limit]
    if not near:
        return _begun(one_pole, averages[0])
    best = min((_begun(one_pole, start) for start in _unlike(near)), key=lambda found: found.total)
    best = refined(best, best.batch, 3)
    return _climbed(best, longest) if best.total < one_pole.total + CORRELATION * CLEAR else best


def _unlike(near: list[Start]) -> list[Start]:
    """Return the best starts, and the next one of an average that is so much longer or shorter that it may end apart.

    A contact at the end of an average, with a thumb that slows down, is as good a fit as one at its beginning.
    """
    first = near[0].shape.n_average
    apart = (s for s in near[N_STARTS:] if not 0.5 < s.shape.n_average / first < 2.0)
    return [*near[:N_STARTS], *itertools.islice(apart, 1)]


def _seen(one_pole: Found, n_average: int) -> Found:
    """Return the fit of an average whose length is seen; the sticks met the rim as much before a pole alone has them.

    It counts as decided: by the motion alone it cannot be told from a thumb that slows down.
    """
    contact_s = one_pole.fit.contact_s - (n_average - 1) * one_pole.batch.interval_s
    shape = ResponseShape(n_poles=1, n_average=n_average)
    here = started(one_pole.batch, shape, one_pole.fit.tau_s, contact_s)
    here = refined(here, here.batch, 3)
    return replace(here, total=min(here.total, one_pole.total) - CORRELATION * SEEN_WORTH)


def _begun(one_pole: Found, start: Start) -> Found:
    return started(one_pole.batch, start.shape, start.tau_s, start.contact_s)


def _climbed(found: Found, longest: int) -> Found:
    """Make the average longer or shorter, report by report, while that fits better."""
    for step in (1, -1):
        while 2 <= found.fit.shape.n_average + step <= longest:
            other = refined(_longer(found, step), found.batch, 3)
            if other.total > found.total:
                break
            found = other
    return refined(found, found.batch, 3)


def _longer(found: Found, n_more: int) -> Found:
    contact = found.fit.contact_s - 0.5 * n_more * found.batch.interval_s
    shape = replace(found.fit.shape, n_average=found.fit.shape.n_average + n_more)
    return refined(replace(found, fit=replace(found.fit, shape=shape, contact_s=contact)), found.batch, 2)
