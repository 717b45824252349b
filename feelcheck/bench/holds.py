"""A sensor that holds its value between samples of its own: where its steps are few, or a pole rounds them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.bench.fit import ModelFit, fit_spec, integrated_correlation
from feelcheck.bench.numbers import (
    HOLD_DECISIVE,
    HOLD_EVALUATIONS,
    HOLD_LEAVES,
    HOLD_PACE,
    HOLD_POSSIBLE,
    HOLD_SAMPLES,
    HOLDS_ALIKE,
    HOPELESS,
    N_HOLD_PHASES,
    N_HOLD_STARTS,
    N_LATE,
    N_TICK_STEPS,
    PLAIN_LEAVES,
)
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.stairs import held_stimulus
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import FloatArray
from feelcheck.numerics.pole_response import DrivenInstants
from feelcheck.numerics.simplex import least_by_simplex

__all__ = ["Hold", "conversion_of", "find_hold", "find_plain_hold", "held_window", "tick_in"]

PERIODS = (0.08, 1.5)
"""Holds that are tried, in 10-90 % durations of the drive: a pole that rounds shorter ones leaves nothing of them."""
CONVERSIONS = (0.0, 0.35, 0.7)
POLES = (0.0, 0.3, 0.8, 2.0)
"""Time constants behind the hold, in holds."""


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
    Whatever rounds a slow drive can be had of steps and a pole, so the hold must leave a small share of what the smooth
    shapes that come closest to it leave: a pole, an average late or behind a pole, and a drive cut at both ends.
    """
    found: list[_Found] = []
    for fit in fits:
        starts = _starts(fit.window, fit.fit.rss, bare=True) if _resolved(fit.window) else []
        if not starts:
            return None
        best = _least(_refined(fit.window, _rounded(one)) for one in starts)
        if any(best.rss > PLAIN_LEAVES * rival.fit.rss for rival in _smooth_rivals(fit)):
            return None
        found.append((fit, best))
    hold = _joined(found) if found else None
    return hold if hold is not None and hold.found else None


def _smooth_rivals(fit: ModelFit) -> Iterator[ModelFit]:
    """What comes closest to a few steps without any, the cheapest first."""
    yield fit
    yield fit_spec(ModelSpec(shape="average", dead=True), fit.window)
    yield fit_spec(ModelSpec(shape="pole_and_average"), fit.window, fit)
    cut = fit_spec(ModelSpec(clip_low=True, clip_high=True), fit.window, fit)
    yield cut
    yield fit_spec(replace(cut.spec, dead=True), fit.window, cut)


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

    def left(phase: float) -> float:
        at = float(np.log(period)), phase, hold.conversion_s / period, hold.pole_s / period
        return float(_residuals(window.y, _answer(window, at))[0])

    best = min(range(n), key=lambda k: left(k / n)) / n
    return period * least_of(left, (best - 1 / n, best + 1 / n), N_TICK_STEPS)


def least_of(cost: Callable[[float], float], within: tuple[float, float], n_steps: int) -> float:
    """Return where a cost with one lowest place is least, by golden sections.

    Parameters
    ----------
    cost : callable
        What a value costs.
    within : (float, float)
        Between what it is looked for.
    n_steps : int
        How many sections.

    Examples
    --------
    >>> round(least_of(lambda x: (x - 0.3) ** 2, (0.0, 1.0), 20), 3)
    0.3
    """
    low, high = within
    share = (np.sqrt(5.0) - 1) / 2
    a, b = high - share * (high - low), low + share * (high - low)
    cost_a, cost_b = cost(a), cost(b)
    for _ in range(n_steps):
        if cost_a < cost_b:
            high, b, cost_b = b, a, cost_a
            a = high - share * (high - low)
            cost_a = cost(a)
        else:
            low, a, cost_a = a, b, cost_b
            b = low + share * (high - low)
            cost_b = cost(b)
    return float(a if cost_a < cost_b else b)


def conversion_of(windows: Sequence[EdgeWindow], ticks_s: Sequence[float], interval_s: float) -> float:
    """Return how much earlier than its output changes a sensor looks, s; 0 where that explains the steps as well.

    Parameters
    ----------
    windows : sequence of EdgeWindow
        Driven edges whose steps were seen.
    ticks_s : sequence of float, s
        An instant of a step in each, on its axis.
    interval_s : float, s
        Update interval.
    """
    lates = np.arange(N_LATE) / N_LATE
    rss = np.zeros(N_LATE)
    for window, tick in zip(windows, ticks_s, strict=True):
        for k, late in enumerate(lates):
            at = float(np.log(interval_s)), tick / interval_s, float(late), 0.0
            rss[k] += float(_residuals(window.y, _answer(window, at))[0]) / window.swing**2
    k = int(np.argmin(rss))
    return float(lates[k] * interval_s) if rss[k] < HOLD_LEAVES * rss[0] else 0.0


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
    return replace(window, stimulus=held_stimulus(window.stimulus, tick_s, interval_s, conversion_s))


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
    return integrated_correlation(_residual(fit.window, best.at))


def _best(window: EdgeWindow, most: float, bare: bool) -> _Try | None:
    """The best of the grid, refined from a few of its best periods; None where the grid leaves more than so much."""
    starts = _starts(window, most, bare)
    if not starts:
        return None
    if not bare:
        return _least(_refined(window, _rounded(one)) for one in starts)
    again = replace(starts[0], at=(*_refined(window, _rounded(starts[0])).at[:3], 0.0))
    return _least(_refined(window, one) for one in (*starts, again))


def _rounded(start: _Try) -> _Try:
    """A start with a pole, which may vanish: without one the search is caught between samples."""
    return replace(start, at=(*start.at[:3], start.at[3] or POLES[1]))


def _least(tries: Iterable[_Try]) -> _Try:
    return min(tries, key=lambda one: one.rss)


def _starts(window: EdgeWindow, most: float, bare: bool) -> list[_Try]:
    """The best of the grid at a few periods; none where it leaves more than so much."""
    tries: list[_Try] = []
    grid = sorted(_grid(window, bare), key=lambda one: one.rss)
    if grid[0].rss > most:
        return []
    for one in grid:
        if all(abs(one.at[0] - other.at[0]) > 0.5 * HOLD_PACE for other in tries):
            tries.append(one)
        if len(tries) == N_HOLD_STARTS:
            break
    return tries


def _grid(window: EdgeWindow, bare: bool) -> Iterator[_Try]:
    shortest = max(PERIODS[0] * window.drive_duration_s, 0.5 * HOLD_SAMPLES * window.interval_s)
    longest = max(PERIODS[1] * window.drive_duration_s, 1.01 * shortest)
    phases = np.arange(N_HOLD_PHASES) / N_HOLD_PHASES
    pace = _unit(np.gradient(window.stimulus.u)) if window.stimulus is not None else np.zeros(window.y.size)
    y = window.y - float(window.y @ pace) * pace
    for period in _periods(shortest, longest, window.drive_duration_s):
        for late in CONVERSIONS:
            held = _held(window, period, phases, late)
            for share in POLES[:1] if bare else POLES:
                answer = held if not share else window.instants.pole(share * period, 0.0, held, twice=False).once
                rss = _residuals(y, answer - (answer @ pace)[:, None] * pace)
                k = int(np.argmin(rss))
                yield _Try(rss=float(rss[k]), at=(float(np.log(period)), float(phases[k]), late, share))


def _unit(values: FloatArray) -> FloatArray:
    """Values about their mean, as a vector of length 1."""
    rest = values - np.mean(values)
    return np.asarray(rest / max(float(np.linalg.norm(rest)), 1e-300))


def _periods(shortest: float, longest: float, duration_s: float) -> Iterator[float]:
    """Holds to be tried: so close that over all steps of the drive's transition no phase is off by a sixth."""
    period = shortest
    while period < longest:
        yield period
        period *= float(np.exp(min(HOLD_PACE, period / (3 * duration_s))))
    yield longest


def _held(window: EdgeWindow, period: float, phases: FloatArray, late: float) -> FloatArray:
    """The drive at every sample as it was at the last of the sensor's own instants, shape (phases, n)."""
    assert window.stimulus is not None
    last = (np.floor(window.t_s / period - phases[:, None]) + phases[:, None] - late) * period
    return np.interp(last, window.stimulus.t_s, window.stimulus.u)


def _residuals(y: FloatArray, answers: FloatArray) -> FloatArray:
    """Residual sums of squares of a level and a gain on each answer, shape (k,)."""
    x = answers - np.mean(answers, axis=1, keepdims=True)
    rest = y - np.mean(y)
    return np.asarray(float(rest @ rest) - (x @ rest) ** 2 / np.maximum(np.sum(x**2, axis=1), 1e-300))


def _answer(window: EdgeWindow, at: tuple[float, float, float, float]) -> FloatArray:
    period, phase, late, share = float(np.exp(at[0])), *at[1:]
    assert window.stimulus is not None
    held = held_stimulus(window.stimulus, phase * period, period, late * period)
    ready = DrivenInstants(held, window.t_s)
    return np.asarray(ready.pole(share * period, twice=False).once if share > 0 else ready.itself()[0])


def _residual(window: EdgeWindow, at: tuple[float, float, float, float]) -> FloatArray:
    x = _answer(window, at)[0]
    x, y = x - np.mean(x), window.y - np.mean(window.y)
    return np.asarray(y - x * (float(x @ y) / max(float(x @ x), 1e-300)))


def _refined(window: EdgeWindow, start: _Try) -> _Try:
    n = 4 if start.at[3] > 0 else 3

    def place(free: FloatArray) -> tuple[float, float, float, float]:
        return float(free[0]), float(free[1]), float(free[2]), float(free[3]) if n == 4 else 0.0

    def rss(free: FloatArray) -> float:
        inside = 0.0 <= free[2] <= 1.0 and (n == 3 or 0.0 < free[3] < 10.0)
        return float(_residuals(window.y, _answer(window, place(free)))[0]) if inside else float("inf")

    here = np.array(start.at[:n])
    steps = np.diag([HOLD_PACE / 2, 0.5 / N_HOLD_PHASES, 0.15 if here[2] < 0.8 else -0.15, 0.3 * start.at[3]][:n])
    end, least = least_by_simplex(rss, np.vstack([here, here + steps]), HOLD_EVALUATIONS, 1e-4)
    return _Try(rss=least, at=place(end))
