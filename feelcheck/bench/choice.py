"""Which model an edge asks for: by evidence counted with independent samples, and only if it makes a difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.bench.fit import ModelFit, fit_spec
from feelcheck.bench.levels import block_average
from feelcheck.bench.numbers import (
    BESIDE_DECISIVE,
    BESIDE_EFFECT,
    CLEARLY_AGAINST,
    CLIP_DECISIVE,
    CLIP_EFFECT,
    DEAD_DECISIVE,
    DECISIVE,
    FASTEST_POLE,
    FASTEST_SHARE,
    GOOD_CORRELATION,
    GOOD_MISFIT,
    LEAST_BESIDE,
    LEAST_OVERSHOOT,
    LEAST_PART,
    LEAST_SAG,
    MOST_AT_ONCE,
    MOST_BESIDE,
    MOST_DECAY,
    MOST_HUM,
    MOST_SAG,
    MOST_SHARES,
    NO_DIFFERENCE,
    POLES_APART,
    PRACTICAL_EFFECT,
    RING_BLOCKS,
    SETTLED_POLES,
    SLOW_COUPLING,
    WEAK_MISFIT,
)
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.windows import EdgeWindow

__all__ = ["Choice", "choose_model", "evidence"]

MAINS_HZ = (50.0, 60.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Choice:
    """The chosen candidate on the edges it was chosen by, and the runners-up.

    Parameters
    ----------
    best : tuple of ModelFit
        One an edge.
    rivals : tuple of (float, tuple of ModelFit)
        Evidence for the best over each rival, and the rival's fits.
    """

    best: tuple[ModelFit, ...]
    rivals: tuple[tuple[float, tuple[ModelFit, ...]], ...]

    @property
    def spec(self) -> ModelSpec:
        """The chosen candidate."""
        return self.best[0].spec


class _Search:
    def __init__(self, windows: Sequence[EdgeWindow]) -> None:
        self.windows = windows
        self.tried: dict[ModelSpec, tuple[ModelFit, ...]] = {}

    def fits(
        self, spec: ModelSpec, near: tuple[ModelFit, ...] | None = None, first: ModelFit | None = None
    ) -> tuple[ModelFit, ...]:
        if spec not in self.tried:
            first = first or fit_spec(spec, self.windows[0], near[0] if near else None)
            self.tried[spec] = (first, *(fit_spec(spec, window, first) for window in self.windows[1:]))
        return self.tried[spec]


def evidence(simple: Sequence[ModelFit], rich: Sequence[ModelFit], price: float | None = None) -> float:
    """Return how much better the second candidate explains the edges, less the price of its parameters.

    Parameters
    ----------
    simple, rich : sequence of ModelFit
        Both candidates on the same edges.
    price : float, optional
        Of a parameter on one edge; the logarithm of the number of samples without it, 2 for Akaike's criterion.

    Notes
    -----
    A difference of the Bayesian information criterion in which correlated residuals count as the number of independent
    samples they are worth.

    References
    ----------
    G. Schwarz, Ann. Statist. 6 (1978) 461-464.
    """
    total = 0.0
    for one, other in zip(simple, rich, strict=True):
        better = one if one.fit.rss < other.fit.rss else other
        n = one.fit.residuals.size / better.correlation
        floor = one.fit.residuals.size * (1e-6 * abs(one.window.swing)) ** 2 + 1e-300
        total += n * np.log(max(one.fit.rss, floor) / max(other.fit.rss, floor))
        total -= (other.n_parameters - one.n_parameters) * (np.log(max(n, 2.0)) if price is None else price)
    return float(total)


def _effect(simple: Sequence[ModelFit], rich: Sequence[ModelFit]) -> float:
    """Greatest difference between two candidates' curves, as a fraction of the swing."""
    pairs = zip(simple, rich, strict=True)
    return max(float(np.max(np.abs(a.fit.fitted - b.fit.fitted))) / abs(a.window.swing) for a, b in pairs)


def choose_model(windows: Sequence[EdgeWindow], averages: bool = False) -> Choice:
    """Return the simplest candidate that leaves nothing decisive unexplained.

    Parameters
    ----------
    windows : sequence of EdgeWindow
        Edges of one direction, all driven or all not.
    averages : bool
        Whether a moving average is among the candidates.
    """
    search = _Search(windows)
    unresolved = all(w.driven and not w.drive_is_resolved for w in windows)
    stepped = all(w.stimulus is not None and not w.driven for w in windows)
    best = search.fits(ModelSpec(dead=unresolved or stepped))
    driven = windows[0].driven
    if driven and not unresolved and not windows[0].held:  # instants that were read from the output hold a dead time
        best = _better(best, [search.fits(ModelSpec(dead=True), best)], practical=0.0, decisive=DEAD_DECISIVE)
    if driven and not unresolved:
        best = _better(best, _clipped(search, best), practical=CLIP_EFFECT, decisive=CLIP_DECISIVE)
    if driven and ((best[0].spec.dead and not unresolved) or not _explained(best)):
        best = _better(best, [*_two_ways(search, unresolved), *_averaged(search, averages and not unresolved)])
    if not _explained(best):
        best = _better(best, _richer(search, best, driven and not unresolved))
    if not (driven and _explained(best)):
        best = _better(best, _disturbed(search, best))
    best = _or_weak(search, best)
    if driven:
        best = _without_pole(search, best)
    rivals = [(evidence(fits, best), fits) for spec, fits in search.tried.items() if spec != best[0].spec]
    return Choice(best=best, rivals=tuple((gain, fits) for gain, fits in rivals if all(map(_sound, fits))))


def _explained(fits: Sequence[ModelFit]) -> bool:
    """Whether nothing is left for which a richer candidate would be looked for."""
    white = all(fit.correlation < GOOD_CORRELATION for fit in fits)
    return all(fit.misfit < (GOOD_MISFIT if white else NO_DIFFERENCE) for fit in fits)


def _clipped(search: _Search, base: tuple[ModelFit, ...]) -> list[tuple[ModelFit, ...]]:
    """Candidates whose sensor saturates before the drive is done."""
    found = [search.fits(ModelSpec(clip_low=low, clip_high=high), base) for low, high in ((False, True), (True, False))]
    if all(evidence(base, fits) < 0 for fits in found):
        return found
    found.append(search.fits(ModelSpec(clip_low=True, clip_high=True), base))
    leader = max(found, key=lambda fits: evidence(base, fits))
    if not _explained(leader) and not leader[0].window.held:
        late = search.fits(replace(leader[0].spec, dead=True), leader)
        if evidence(search.fits(ModelSpec(dead=True), base), late) > CLIP_DECISIVE:  # not the dead time's
            found.append(late)
    return found


def _disturbed(search: _Search, base: tuple[ModelFit, ...]) -> list[tuple[ModelFit, ...]]:
    """Candidates with a drift, a sag or mains hum that the base does not have."""
    spec = base[0].spec
    if spec.n_shape == 0 or spec.shape == "second_order":
        return []
    lines = spec.drift or spec.coupled
    specs = [] if lines else [replace(spec, drift=True), replace(spec, coupled=True)]
    if not spec.hum_hz and all(
        MAINS_HZ[0] * w.span_s > 1.0 and MAINS_HZ[1] * w.interval_s < 0.25 for w in search.windows
    ):
        specs += [replace(spec, hum_hz=hz) for hz in MAINS_HZ]
    return [search.fits(other, base) for other in specs]


def _averaged(search: _Search, asked: bool) -> list[tuple[ModelFit, ...]]:
    """Candidates with a moving average, which can look like a dead time, alone or behind a pole."""
    if not asked:
        return []
    base = search.fits(ModelSpec())
    specs = (ModelSpec(shape="pole_and_average"), *(ModelSpec(shape="average", dead=dead) for dead in (False, True)))
    return [fits for spec in specs if (fits := _unless_against(search, spec, base, near=base[0]))]


def _richer(search: _Search, base: tuple[ModelFit, ...], resolved: bool) -> list[tuple[ModelFit, ...]]:
    """Candidates with a drift, hum, a second pole or a ring beside the base."""
    found = _disturbed(search, base)
    for shape in ("two_pole", "second_order") if all(map(_may_ring, search.windows)) else ("two_pole",):
        spec = replace(base[0].spec, shape=shape)
        found.append(search.fits(spec, base))
        if resolved and not base[0].window.held:
            found.append(search.fits(replace(spec, dead=not spec.dead), base))
    return found


def _two_ways(search: _Search, dead: bool) -> list[tuple[ModelFit, ...]]:
    """Candidates beside a dead time and a cut drive, which can look like them: two poles, and ways beside a pole."""
    base = search.fits(ModelSpec(dead=dead))
    specs = (ModelSpec(zero=True, dead=dead), ModelSpec(shape="two_pole", zero=True, dead=dead))
    return [search.fits(spec, base) for spec in (ModelSpec(shape="two_pole", dead=dead), *specs)]


def _or_weak(search: _Search, best: tuple[ModelFit, ...]) -> tuple[ModelFit, ...]:
    """Return a weak-sink shape where the pole does not fit, or is so slow that it is a straight line."""
    window = best[0].window
    if window.stimulus is None or not window.settled_start or window.held:
        return best
    straight = best[0].spec.shape == "one_pole" and float(np.exp(best[0].fit.theta[0])) > 3 * window.span_s
    settled = all(map(_settles, best))
    misfit = max(fit.misfit for fit in best)
    if misfit < WEAK_MISFIT and settled and not straight:
        return best
    shapes = ("ramp", "slew", *(() if window.rising else ("to_ground",)))
    if not settled or straight:
        shapes = (*shapes, "ramp_open", *(() if window.rising else ("to_ground_open",)))
    specs = [ModelSpec(shape=shape, dead=True) for shape in shapes]
    found = [fits for spec in specs if (fits := _unless_against(search, spec, best))]
    sound = [fits for fits in found if all(map(_sound_weak, fits))]
    if not sound:
        return best
    top = max(sound, key=lambda fits: evidence(best, fits))
    clearly = max(fit.misfit for fit in top) < 0.5 * misfit or not settled
    return top if clearly and evidence(best, top) > (-2.0 if straight else DECISIVE) else best


def _unless_against(
    search: _Search, spec: ModelSpec, best: tuple[ModelFit, ...], near: ModelFit | None = None
) -> tuple[ModelFit, ...]:
    """Return a candidate on all edges; nothing where the first edge is clearly against it."""
    alone = fit_spec(spec, search.windows[0], near)
    if evidence(best[:1], (alone,)) < -CLEARLY_AGAINST:
        return ()
    return search.fits(spec, first=alone)


def _sound_weak(fit: ModelFit) -> bool:
    """Whether a weak-sink shape is finished where it says so, and longer than its drive."""
    if fit.spec.shape in ("ramp", "to_ground") and not _stop_seen(fit):
        return False
    if not (fit.fit.converged and fit.fit.full_rank) or (not fit.window.driven and fit.misfit > WEAK_MISFIT):
        return False
    if fit.spec.shape.endswith("_open"):
        return True
    length = float(np.exp(fit.fit.theta[0]))
    return bool(fit.u_log[0] < 0.3 and length > 2 * max(fit.window.drive_duration_s, 2 * fit.window.interval_s))


def _settles(fit: ModelFit) -> bool:
    first, last = fit.levels
    return abs(fit.way_end - first) > 0.9 * abs(last - first)


def _better(
    base: tuple[ModelFit, ...],
    candidates: list[tuple[ModelFit, ...]],
    practical: float = PRACTICAL_EFFECT,
    decisive: float = DECISIVE,
) -> tuple[ModelFit, ...]:
    """Return the candidate with the most evidence over the base, if it is decisive and makes a difference."""

    def matters(fits: tuple[ModelFit, ...]) -> bool:
        beside = fits[0].spec.n_besides > base[0].spec.n_besides
        least_gain, least_effect = (BESIDE_DECISIVE, BESIDE_EFFECT) if beside else (decisive, practical)
        richer = fits[0].n_parameters > base[0].n_parameters  # what is as simple needs no effect to be the better one
        return evidence(base, fits) > least_gain and (not richer or _effect(base, fits) > least_effect)

    sound = [fits for fits in candidates if all(map(_sound, fits)) and matters(fits)]
    if not sound:
        return base
    top = max(sound, key=lambda fits: evidence(base, fits))
    simpler = [fits for fits in sound if fits[0].n_parameters < top[0].n_parameters]
    close = [fits for fits in simpler if evidence(fits, top) < decisive or _effect(fits, top) < practical]
    return max(close, key=lambda fits: evidence(base, fits)) if close else top


def _sound(fit: ModelFit) -> bool:
    """Whether the candidate's own parameters mean something."""
    if not (fit.fit.converged and fit.fit.full_rank) or any(fit.fit.at_bound[fit.spec.n_shape :]):
        return False
    low, high = fit.clips
    if (fit.spec.clip_low and low < 0.02) or (fit.spec.clip_high and high > 0.98) or high - low < 0.05:
        return False
    if fit.spec.n_besides and not _small_beside(fit):
        return False
    resolved = fit.window.drive_is_resolved
    if fit.spec.dead and resolved and fit.dead_s < 0:
        return False
    if fit.spec.zero and not (_has_share(fit) and (resolved or _outlasts_a_sample(fit))):
        return False
    checks = {"two_pole": _two_apart, "second_order": _rings, "pole_and_average": _both_seen}
    return checks.get(fit.spec.shape, lambda _: True)(fit)


def _has_share(fit: ModelFit) -> bool:
    """Whether the part beside the first pole is one, and neither cancels the other."""
    share = abs(fit.beside_share)
    if fit.spec.shape != "two_pole":
        return LEAST_BESIDE < share < MOST_AT_ONCE
    apart = fit.poles_s[0] > POLES_APART * fit.poles_s[1]
    return apart and share > LEAST_BESIDE and float(np.sum(np.abs(fit.shares))) < MOST_SHARES


def _outlasts_a_sample(fit: ModelFit) -> bool:
    """Whether a part at once is more than the instant of a drive that switches between two samples leaves open."""
    return bool(abs(fit.beside_share) * fit.poles_s[0] > fit.window.interval_s)


def _two_apart(fit: ModelFit) -> bool:
    """Whether both poles can be seen in the samples, and do not cancel each other."""
    slow, fast = fit.poles_s
    held = float(np.sum(np.abs(fit.fit.coefficients[1:3])))
    if fit.window.stimulus is None and held > MOST_DECAY * abs(fit.window.swing):
        return False
    least = 0.0 if fit.window.drive_is_resolved else FASTEST_SHARE * slow
    return fast > max(least, FASTEST_POLE * fit.window.interval_s) and not any(fit.fit.at_bound)


def _both_seen(fit: ModelFit) -> bool:
    """Whether pole and average are each longer than two samples, and neither hides behind the other."""
    pole, width = np.exp(fit.fit.theta[:2]).tolist()
    apart = min(pole, 0.5 * width) > LEAST_PART * max(pole, 0.5 * width)
    return min(pole, width) > 2 * fit.window.interval_s and apart and not any(fit.fit.at_bound)


def _small_beside(fit: ModelFit) -> bool:
    """Whether drift and hum are small against the edge, and a drift outlasts it for long enough to be told from it."""
    alone = fit.spec.shape not in ("one_pole", "two_pole")
    most = MOST_SAG if fit.spec.coupled else MOST_HUM if fit.spec.hum_hz else MOST_BESIDE
    if alone or float(np.ptp(fit.besides)) > most * abs(fit.window.swing):
        return False
    if fit.spec.coupled:
        told = float(np.ptp(fit.besides)) > LEAST_SAG * fit.window.step
        return told and fit.coupling_s > SLOW_COUPLING * fit.poles_s[0]
    return not fit.spec.drift or SETTLED_POLES * fit.poles_s[0] < float(fit.window.t_s[-1]) - fit.dead_s


def _may_ring(window: EdgeWindow) -> bool:
    """Whether the output goes beyond the level it ends at by half of what a ring must show."""
    means = block_average(window.y, max(1, window.y.size // RING_BLOCKS)) * (1.0 if window.rising else -1.0)
    return float(np.max(means) - np.mean(means[-(means.size // 10 + 1) :])) > 0.5 * LEAST_OVERSHOOT * abs(window.swing)


def _rings(fit: ModelFit) -> bool:
    """Whether a ring is slower than the samples and goes beyond the level it ends at, in the fit and in the output."""
    if any(fit.fit.at_bound) or 2 * np.pi * float(np.exp(fit.fit.theta[0])) < 2 * fit.window.interval_s:
        return False
    beyond = (fit.fit.fitted - fit.levels[1]) * (1.0 if fit.window.rising else -1.0)
    at, reach = int(np.argmax(beyond)), max(1, beyond.size // 100)
    seen = float(np.mean(beyond[max(at - reach, 0) : at + reach + 1]))
    missing = abs(float(np.mean(fit.fit.residuals[max(at - reach, 0) : at + reach + 1])))
    return seen > LEAST_OVERSHOOT * abs(fit.window.swing) and missing < 0.5 * seen


def _stop_seen(fit: ModelFit) -> bool:
    """Whether the window shows a weak discharge arrive at its target: one time constant beyond the stop at least."""
    stop = float(np.exp(fit.fit.theta[fit.spec.n_shape - 2]))
    return fit.dead_s + stop + fit.poles_s[0] < float(fit.window.t_s[-1])


def _without_pole(search: _Search, best: tuple[ModelFit, ...]) -> tuple[ModelFit, ...]:
    """Return the pole-free candidate where the pole cannot be told from nothing."""
    spec = best[0].spec
    if spec.shape != "one_pole":
        return best
    fast = max(float(np.exp(fit.fit.theta[0])) for fit in best)
    if fast > 0.5 * max(best[0].window.drive_duration_s, best[0].window.interval_s):
        return best
    bare = search.fits(replace(spec, shape="none", zero=False))
    return bare if evidence(bare, best) < DECISIVE / 2 else best
