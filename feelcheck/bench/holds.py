"""A sensor that holds its value between samples of its own: where its steps are few, or a pole rounds them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from feelcheck.bench.fit import ModelFit, fit_spec, integrated_correlation
from feelcheck.bench.numbers import (
    COARSER,
    HOLD_DECISIVE,
    HOLD_EVALUATIONS,
    HOLD_LEAVES,
    HOLD_PACE,
    HOLD_POSSIBLE,
    HOLD_REACH,
    HOLD_SAMPLES,
    HOLDS_ALIKE,
    HOPELESS,
    N_HOLD_PHASES,
    N_HOLD_STARTS,
    N_TICK_STEPS,
    PLAIN_LEAVES,
    SAME_PLACE,
    STILL_FROM,
    STILL_SHARE,
)
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.stairs import held_stimulus
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import Estimate, FloatArray
from feelcheck.numerics.pole_response import DrivenInstants, Stimulus
from feelcheck.numerics.simplex import least_by_simplex, least_of

__all__ = ["Hold", "find_hold", "find_plain_hold", "held_window", "hold_of_steps", "tick_in"]

PERIODS = (0.08, 1.5)
"""Holds that are tried, in 10-90 % durations of the drive: a pole that rounds shorter ones leaves nothing of them."""
CONVERSIONS = (0.0, 0.35, 0.7)
POLES = (0.0, 0.2, 0.33, 0.55, 0.9, 1.5)
"""Time constants behind the hold, in holds: between ones farther apart a wrong, quicker hold leaves less."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A hold that explains edges.

    Parameters
    ----------
    interval_s, u_s : float, s
        For how long a value is held, and its standard uncertainty.
    conversion_s : float, s
        From the sensor's own sampling to the change of its output.
    pole_s : float, s
        Time constant behind it; 0 for none.
    found : bool
        Whether all edges ask for it; else it is only as good as a smooth response.
    """

    interval_s: float
    u_s: float
    conversion_s: float
    pole_s: float
    found: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    """One hold on one edge: logarithm of the period, phase and conversion time in periods, pole in periods."""

    rss: float
    at: tuple[float, float, float, float]


_Found = tuple[ModelFit, _Try]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sight:
    """An edge as holds are tried on it: its samples, or averages where neither a drive nor a hold moves any more.

    Parameters
    ----------
    window : EdgeWindow
        The edge.
    t_s, y, n : ndarray, shape (k,)
        Instants, output and how many samples each stands for.
    within : float
        Sum of squares of the samples about their averages.
    """

    window: EdgeWindow
    t_s: FloatArray
    y: FloatArray
    n: FloatArray
    within: float

    @cached_property
    def u(self) -> FloatArray:
        """The drive at the instants, shape (k,)."""
        assert self.window.stimulus is not None
        return np.interp(self.t_s, self.window.stimulus.t_s, self.window.stimulus.u)

    @cached_property
    def instants(self) -> DrivenInstants:
        """The drive, ready for poles behind it."""
        return DrivenInstants(Stimulus(t_s=self.t_s, u=self.u), self.t_s)

    @cached_property
    def noise_left(self) -> float:
        """Residual sum of squares of noise and rounding alone."""
        per_sample = max(self.window.noise, self.window.step / float(np.sqrt(12)))
        return self.window.y.size * per_sample**2

    @cached_property
    def _level(self) -> FloatArray:
        return self.basis()

    def held(self, period: float, phases: FloatArray, late: float) -> FloatArray:
        """The drive as it was at the last of the sensor's own instants, shape (phases, k)."""
        assert self.window.stimulus is not None
        last = (np.floor(self.t_s / period - phases[:, None]) + phases[:, None] - late) * period
        return np.interp(last, self.window.stimulus.t_s, self.window.stimulus.u)

    def answer(self, at: tuple[float, float, float, float]) -> FloatArray:
        """The output of a sensor that holds so, but for level and gain, shape (1, k)."""
        period, phase, late, share = float(np.exp(at[0])), *at[1:]
        assert self.window.stimulus is not None
        width = _averaged_s(self.window)
        held = held_stimulus(self.window.stimulus, phase * period, period, late * period, width)
        ready = DrivenInstants(held, self.t_s)
        return np.asarray(ready.pole(share * period, twice=False).once if share > 0 else ready.itself()[0])

    def basis(self, *besides: FloatArray) -> FloatArray:
        """A level and what stands beside it, as orthogonal columns, shape (k, 1 + besides)."""
        root = np.sqrt(self.n)
        return np.linalg.qr(np.array([root, *(column * root for column in besides)]).T)[0]

    def residuals(self, answers: FloatArray, basis: FloatArray) -> FloatArray:
        """Residual sums of squares of the columns of a basis and a gain on each answer, shape (answers,)."""
        root = np.sqrt(self.n)
        x, y = answers * root, self.y * root
        x, y = x - (x @ basis) @ basis.T, y - basis @ (y @ basis)
        return np.asarray(self.within + float(y @ y) - (x @ y) ** 2 / np.maximum(np.sum(x**2, axis=1), 1e-300))

    def left(self, at: tuple[float, float, float, float]) -> float:
        """Residual sum of squares of one hold."""
        return float(self.residuals(self.answer(at), self._level)[0])

    def rest(self, at: tuple[float, float, float, float]) -> FloatArray:
        """What one hold leaves at every instant, shape (k,)."""
        x = self.answer(at)[0]
        x, y = x - np.mean(x), self.y - np.mean(self.y)
        return np.asarray(y - x * (float(x @ y) / max(float(x @ x), 1e-300)))


def _whole(window: EdgeWindow) -> _Sight:
    return _Sight(window=window, t_s=window.t_s, y=window.y, n=np.ones(window.y.size), within=0.0)


def _sight(window: EdgeWindow) -> _Sight:
    """An edge with its flats as averages: 1,400 samples become some 300."""
    size = int(STILL_SHARE * window.drive_duration_s / window.interval_s)
    begin = int(np.searchsorted(window.t_s, -window.interval_s * 2))
    end = int(np.searchsorted(window.t_s, STILL_FROM * window.drive_duration_s))
    if size < 2:
        return _whole(window)
    parts = [np.arange(0, begin, size), np.arange(begin, end), np.arange(end, window.y.size, size)]
    starts = np.concatenate(parts)
    n = np.diff(np.append(starts, window.y.size)).astype(np.float64)
    t, y = (np.add.reduceat(values, starts) / n for values in (window.t_s, window.y))
    return _Sight(window=window, t_s=t, y=y, n=n, within=float(window.y @ window.y) - float(n @ y**2))


def _averaged_s(window: EdgeWindow) -> float:
    """Time over which each sample of a window is an average of the capture's own; 0 where it is one of them."""
    return window.interval_s if window.raw[1] - window.raw[0] >= 2 * window.y.size else 0.0


def find_hold(fits: Sequence[ModelFit], bare: bool = False) -> Hold | None:
    """Return the hold that explains edges at least as well as their smooth fits; None where none does.

    Parameters
    ----------
    fits : sequence of ModelFit
        Smooth candidates on driven edges.
    bare : bool
        Whether nothing but a hold is tried, no pole behind it: whether a pole may be a hold.

    Notes
    -----
    The drive held between instants of a period, a phase and a conversion time, alone or through one pole, is set
    against the output over a grid of all four, then refined. The price of the grid is part of the evidence. On the grid
    a column in step with the drive's slope stands in for what a pole or a conversion time between its points delays.
    """
    found: list[_Found] = []
    for fit in [fit for fit in fits if _resolved(fit.window)][:2]:
        best = _best(fit.window, HOPELESS * fit.fit.rss, bare)
        if best is None:
            return None
        found.append((fit, best))
    return _joined(found) if found else None


def find_plain_hold(fits: Sequence[ModelFit]) -> Hold | None:
    """Return the hold whose steps are plain to see, before any richer smooth candidate is searched; None without.

    Parameters
    ----------
    fits : sequence of ModelFit
        Single poles on driven edges, one a direction.

    Notes
    -----
    Whatever rounds a slow drive can be had of steps and a pole, so the hold, alone or with a pole behind it, must leave
    a small share of what the smooth shapes that come closest to it leave: one pole or two, an average, each late or
    not, and a drive cut at both ends.
    """
    for bare in (True, False):
        found = list(_plain(fits, bare))
        hold = _joined(found) if found and len(found) == len(fits) else None
        if hold is not None and hold.found:
            return hold
    return None


def _plain(fits: Sequence[ModelFit], bare: bool) -> Iterator[_Found]:
    """The hold on one edge after the other, as long as no smooth shape comes near it."""
    best: _Try | None = None
    for fit in fits:
        first = best is None
        best = _best(fit.window, fit.fit.rss, bare, best) if _resolved(fit.window) else None
        rivals = _smooth_rivals(fit, bare) if first else iter((fit,))  # one clock holds all edges
        if best is None or any(best.rss > PLAIN_LEAVES * rival.fit.rss for rival in rivals):
            return
        yield fit, best


def _smooth_rivals(fit: ModelFit, bare: bool) -> Iterator[ModelFit]:
    """What comes closest to a few steps, or to such behind a pole, without any: the cheapest first."""
    yield fit
    for spec in (ModelSpec(dead=True), ModelSpec(shape="average", dead=True), ModelSpec(shape="pole_and_average")):
        yield fit_spec(spec, fit.window, fit)
    for spec in (ModelSpec(clip_low=True, clip_high=True), ModelSpec(shape="two_pole"))[: 2 - bare]:
        plain = fit_spec(spec, fit.window, fit)
        yield plain
        yield fit_spec(replace(spec, dead=True), fit.window, plain)


def _joined(found: Sequence[_Found]) -> Hold | None:
    """The hold of edges that were tried one by one; None where a smooth fit does better."""
    gains = [_evidence(fit, best) for fit, best in found]
    periods = np.exp([best.at[0] for _, best in found])
    alike = float(np.ptp(np.log(periods))) < HOLDS_ALIKE
    shares = [best.rss / fit.fit.rss for fit, best in found]
    decided = alike and min(gains) > HOLD_DECISIVE and max(shares) < HOLD_LEAVES
    if not decided and max(gains) < HOLD_POSSIBLE:
        return None
    interval = float(np.mean(periods))
    u = max(float(np.ptp(periods)) / 2, *(_u_period(fit.window, best) for fit, best in found))
    late, pole = (float(np.mean([best.at[k] for _, best in found])) * interval for k in (2, 3))
    return Hold(interval_s=interval, u_s=u, conversion_s=late, pole_s=pole, found=decided)


def tick_in(window: EdgeWindow, hold: Hold) -> float:
    """Return an instant at which the output changes in a window, on its axis, s: the sensor's clock is its own.

    Parameters
    ----------
    window : EdgeWindow
        One edge with its surroundings.
    hold : Hold
        The sensor's own clock: when it renews its output.
    """
    period, n = hold.interval_s, int(np.clip(2 * hold.interval_s / window.interval_s, 24, 160))
    sight = _sight(window)

    def left(phase: float) -> float:
        return sight.left((float(np.log(period)), phase, hold.conversion_s / period, hold.pole_s / period))

    best = min(range(n), key=lambda k: left(k / n)) / n
    return period * least_of(left, (best - 1 / n, best + 1 / n), N_TICK_STEPS)


def hold_of_steps(windows: Sequence[EdgeWindow], ticks_s: Sequence[float], interval: Estimate) -> Hold:
    """Return the hold behind steps that were seen: how early the sensor looks, and a pole behind it.

    Parameters
    ----------
    windows : sequence of EdgeWindow
        Driven edges whose steps were seen.
    ticks_s : sequence of float, s
        An instant of a step in each, on its axis.
    interval : Estimate, s
        Update interval.

    Notes
    -----
    A pole delays the half-way instants of the steps, so instants, conversion and pole are searched together. The sensor
    looks at once where that explains the steps as well.
    """
    period, at_once, earlier = interval.value or 0.0, [], []
    for window, tick in zip(windows, ticks_s, strict=True):
        sight, start = _sight(window), (float(np.log(period)), tick / period, 0.0, POLES[1])
        at_once.append((_least_of_steps(sight, start, False), window.swing**2))
        earlier.append((_least_of_steps(sight, start, True), window.swing**2))
    left = [sum(one.rss / size for one, size in found) for found in (at_once, earlier)]
    best = earlier if left[1] < HOLD_LEAVES * left[0] else at_once
    late, pole = (float(np.mean([one.at[k] for one, _ in best] or [0.0])) * period for k in (2, 3))
    return Hold(interval_s=period, u_s=interval.u or 0.0, conversion_s=late, pole_s=pole, found=True)


def _least_of_steps(sight: _Sight, start: tuple[float, float, float, float], converts: bool) -> _Try:
    """The best phase, pole and, where it may convert, conversion time near a start, the period as it is."""

    def place(free: FloatArray) -> tuple[float, float, float, float]:
        return start[0], float(free[0]), float(free[2]) if converts else 0.0, float(free[1])

    def rss(free: FloatArray) -> float:
        at = place(free)
        return sight.left(at) if 0.0 <= at[2] <= 1.0 and 0.0 < at[3] < 10.0 else float("inf")

    here = np.array([start[1], start[3], 0.3][: 2 + converts])
    steps = np.diag([-1.0 / N_HOLD_PHASES, -0.2, 0.2][: 2 + converts])
    corners = np.vstack([here, here + steps])
    end, least = least_by_simplex(rss, corners, HOLD_EVALUATIONS // 2, SAME_PLACE, SAME_PLACE * sight.noise_left)
    return _Try(rss=least, at=place(end))


def held_window(window: EdgeWindow, tick_s: float, interval_s: float, conversion_s: float = 0.0) -> EdgeWindow:
    """Return a window whose drive is held between the sensor's own instants (see `stairs.held_stimulus`).

    Parameters
    ----------
    window : EdgeWindow
        One edge with its surroundings.
    tick_s : float, s
        One of the sensor's instants, on the window's axis.
    interval_s : float, s
        Time between two of the sensor's instants.
    conversion_s : float, s
        How long the sensor takes from its instant to its output.
    """
    assert window.stimulus is not None
    stimulus = held_stimulus(window.stimulus, tick_s, interval_s, conversion_s, _averaged_s(window))
    return replace(window, stimulus=stimulus, held=True)


def _resolved(window: EdgeWindow) -> bool:
    return (
        window.driven
        and window.stimulus is not None
        and window.stimulus.t_s.size == window.t_s.size
        and window.drive_duration_s > HOLD_SAMPLES * window.interval_s
    )


def _u_period(window: EdgeWindow, best: _Try) -> float:
    """Steps stand on samples: half an interval at either end of the steps that the drive's transition holds."""
    n = max(window.drive_duration_s / float(np.exp(best.at[0])), 1.0)
    return window.interval_s / float(np.sqrt(12)) / n + 1e-3 * float(np.exp(best.at[0]))


def _evidence(fit: ModelFit, best: _Try) -> float:
    """How much better the hold explains an edge, less the price of its parameters and of the search."""
    n = fit.window.y.size / fit.correlation if best.rss > fit.fit.rss else fit.window.y.size / _correlation(fit, best)
    price = (5 + (best.at[3] > 0) - fit.n_parameters) * float(np.log(max(n, 2.0))) + 2 * float(np.log(200.0))
    return float(n * np.log(fit.fit.rss / max(best.rss, 1e-12 * fit.fit.rss))) - price


def _correlation(fit: ModelFit, best: _Try) -> float:
    """Correlation of the residuals that the hold leaves."""
    return integrated_correlation(_whole(fit.window).rest(best.at))


def _best(window: EdgeWindow, most: float, bare: bool, near: _Try | None = None) -> _Try | None:
    """The best of the grid, refined from a few of its best periods; None where the grid leaves more than so much.

    Where the hold of another edge is given only the phase is searched: each edge meets the clock where it likes.
    """
    sight, best = _sight(window), None
    for start in _starts(sight, most, bare) if near is None else _at_phases(sight, near):
        if best is not None and start.rss > HOPELESS * best.rss:
            break
        behind = replace(start, at=(*start.at[:3], start.at[3] or POLES[1]))  # a pole may vanish
        found = _refined(sight, behind, HOLD_EVALUATIONS // 4)
        best = found if best is None or found.rss < best.rss else best
    return None if best is None else _refined(sight, best, HOLD_EVALUATIONS)


def _starts(sight: _Sight, most: float, bare: bool) -> list[_Try]:
    """The best places of the grid, each lower than those of its neighbouring periods; none where it leaves too much."""
    periods = _periods(sight.window)
    rough = list(_grid(sight, periods[::COARSER], bare))
    if min(one.rss for one in rough) > HOPELESS * most:
        return []
    whole = [*rough, *_grid(sight, np.delete(periods, slice(None, None, COARSER)), bare)]
    if min(one.rss for one in whole) > most:
        return []
    best: dict[float, _Try] = {}
    for one in sorted(whole, key=lambda one: -one.rss):
        best[one.at[0]] = one
    row = [best[at] for at in sorted(best)]
    low = [one for k, one in enumerate(row) if one.rss <= min(other.rss for other in row[max(k - 1, 0) : k + 2])]
    return sorted(low, key=lambda one: one.rss)[:N_HOLD_STARTS]


def _at_phases(sight: _Sight, near: _Try) -> list[_Try]:
    """The best of the phases of a hold."""
    places = [(near.at[0], k / (2 * N_HOLD_PHASES), *near.at[2:]) for k in range(2 * N_HOLD_PHASES)]
    best = min(places, key=sight.left)
    return [_Try(rss=sight.left(best), at=best)]


def _grid(sight: _Sight, periods: FloatArray, bare: bool) -> Iterator[_Try]:
    phases = np.arange(N_HOLD_PHASES) / N_HOLD_PHASES
    basis = sight.basis(np.gradient(sight.u, sight.t_s))
    for period in periods.tolist():
        for late in CONVERSIONS:
            held = sight.held(period, phases, late)
            for share in POLES[:1] if bare else POLES:
                answer = held if not share else sight.instants.pole(share * period, 0.0, held, twice=False).once
                rss = sight.residuals(answer, basis)
                k = int(np.argmin(rss))
                yield _Try(rss=float(rss[k]), at=(float(np.log(period)), float(phases[k]), late, share))


def _periods(window: EdgeWindow) -> FloatArray:
    """Holds to be tried: so close that over all steps of the drive's transition no phase is off by a sixth."""
    shortest = max(PERIODS[0] * window.drive_duration_s, 0.5 * HOLD_SAMPLES * window.interval_s)
    longest = max(PERIODS[1] * window.drive_duration_s, 1.01 * shortest)
    periods = [shortest]
    while periods[-1] < longest:
        pace = min(HOLD_PACE, periods[-1] / (3 * window.drive_duration_s))
        periods.append(min(periods[-1] * float(np.exp(pace)), longest))
    return np.array(periods)


def _refined(sight: _Sight, start: _Try, max_evaluations: int) -> _Try:
    def rss(free: FloatArray) -> float:
        near = abs(free[0] - start.at[0]) < HOLD_REACH  # a far shorter hold is none, and takes as many steps to reckon
        return sight.left(_place(free)) if near and 0.0 <= free[2] <= 1.0 and 0.0 < free[3] < 10.0 else float("inf")

    here = np.array(start.at)
    steps = np.diag(
        [HOLD_PACE / 2, 0.5 / N_HOLD_PHASES, 0.15 if here[2] < 0.8 else -0.15, 0.3 * max(here[3], POLES[1])]
    )
    alike = SAME_PLACE * sight.noise_left
    end, least = least_by_simplex(rss, np.vstack([here, here + steps]), max_evaluations, SAME_PLACE, alike)
    return _Try(rss=least, at=_place(end))


def _place(free: FloatArray) -> tuple[float, float, float, float]:
    return float(free[0]), float(free[1]), float(free[2]), float(free[3])
