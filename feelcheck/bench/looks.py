"""One way to look at a capture: its edges fitted, and whether the sensor holds its values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.bench.direction import DirectionFits, fit_direction
from feelcheck.bench.fit import ModelFit, fit_spec
from feelcheck.bench.holds import Hold, find_hold, find_plain_hold, held_window, hold_of_steps, tick_in
from feelcheck.bench.levels import Trace1D
from feelcheck.bench.numbers import FAST_POLE, HELD_DRIVE_LEAVES, N_QUICK, SAME_AVERAGE, STEPPED_MISFIT
from feelcheck.bench.response_models import ModelSpec
from feelcheck.bench.stairs import Stairs, comb_phase, find_stairs
from feelcheck.bench.windows import EdgeWindow
from feelcheck.model import Estimate, FloatArray
from feelcheck.numerics.uncertainty import combined

__all__ = ["Look", "look_at_edges"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Look:
    """One way to look at a capture: with its drive, with its drive held, or without.

    Parameters
    ----------
    rising, falling : DirectionFits or None
        Both directions.
    stairs : Stairs
        What was found of an internal sampling.
    held : bool
        Whether the fits are behind a drive held so.
    conversion_s : float, s
        How much earlier than its output changes the sensor looks, where that was found.
    may_hold : bool
        Whether a hold explains the edges about as well as what was fitted.
    """

    rising: DirectionFits | None
    falling: DirectionFits | None
    stairs: Stairs
    held: bool = False
    conversion_s: float = 0.0
    may_hold: bool = False

    @property
    def directions(self) -> tuple[DirectionFits, ...]:
        """The directions that are there."""
        return tuple(found for found in (self.rising, self.falling) if found is not None)

    @property
    def misfit(self) -> float:
        """The worse direction's."""
        return max((found.misfit for found in self.directions), default=1.0)


def look_at_edges(windows: Sequence[EdgeWindow], answer: Trace1D) -> Look:
    """Fit both directions; where a single pole leaves something, look for a hold before anything richer.

    Parameters
    ----------
    windows : sequence of EdgeWindow
        All edges.
    answer : Trace1D
        The raw output.
    """
    driven = any(window.driven for window in windows)
    quick = [fit_spec(ModelSpec(dead=not driven), w) for w in windows[:N_QUICK] if w.stimulus is not None]
    stepped = any(fit.misfit > STEPPED_MISFIT for fit in quick)
    stairs = find_stairs(answer, quick) if stepped else None
    if stairs is None or not stairs.found:
        plain = _plainly_held(windows, quick, answer) if stepped and driven else None
        return plain or _or_held(_looked(windows, answer), windows, answer)
    if not driven:
        return _looked(windows, answer, stairs)
    held, late = _behind(windows, stairs)
    again = [fit_spec(ModelSpec(), window) for window in held[:N_QUICK]]
    if again and _median_misfit(again) < HELD_DRIVE_LEAVES * _median_misfit(quick):
        return _looked(held, answer, stairs, late)
    plain = _looked(windows, answer)
    return plain if not held or plain.misfit < STEPPED_MISFIT else _looked(held, answer, stairs, late)


def _looked(
    windows: Sequence[EdgeWindow], answer: Trace1D, stairs: Stairs | None = None, conversion_s: float = 0.0
) -> Look:
    held = stairs is not None and all(window.driven for window in windows)
    rising, falling = _both_ways(windows, averages=not held)  # a sensor averages before it holds
    fits = [fit for found in (rising, falling) if found for fit in found.fits[:2]]
    steps = stairs or find_stairs(answer, fits)
    return Look(rising=rising, falling=falling, stairs=steps, held=held, conversion_s=conversion_s)


def _both_ways(
    windows: Sequence[EdgeWindow], averages: bool = True
) -> tuple[DirectionFits | None, DirectionFits | None]:
    """Fit both directions; a moving average is one both ways, where a straight line one way is a weak output."""
    ways = [window for window in windows if window.rising], [window for window in windows if not window.rising]
    up, down = (fit_direction(way, averages=averages and all(ways)) for way in ways)
    if up is None or down is None or not any(found.shape.endswith("average") for found in (up, down)):
        return up, down
    if up.shape == down.shape:
        delays = [float(np.median([fit.smoothing_s for fit in found.fits])) for found in (up, down)]
        if abs(np.log(delays[0] / delays[1])) < SAME_AVERAGE:
            return up, down
    return fit_direction(ways[0]), fit_direction(ways[1])


def _or_held(smooth: Look, windows: Sequence[EdgeWindow], answer: Trace1D) -> Look:
    """Return the look behind a hold where the edges ask for one; the smooth one, marked, where a hold does as well."""
    fits = [found.fits[0] for found in smooth.directions]
    if not all(fit.window.driven for fit in fits):
        return smooth
    left = smooth.misfit > STEPPED_MISFIT
    if not left and not any(map(_is_fast, fits)):
        return smooth
    # a dead time, or an average, is how a hold in front of a pole looks
    hold = find_hold(fits, bare=not left and not any(fit.spec.dead or fit.spec.averages for fit in fits))
    if hold is None:
        return smooth
    if not hold.found:
        return replace(smooth, may_hold=True)
    held = _held_by(hold, windows, answer)
    return held if held.misfit < smooth.misfit else replace(smooth, may_hold=True)


def _plainly_held(windows: Sequence[EdgeWindow], quick: Sequence[ModelFit], answer: Trace1D) -> Look | None:
    """Return the look behind a hold whose steps are plain to see, without a search for anything smooth."""
    ways = [[fit for fit in quick if fit.window.rising is rising] for rising in (True, False)]
    first = [fits[0] for fits in ways if fits]
    hold = find_plain_hold(first) if all(fit.window.driven for fit in quick) else None
    held = _held_by(hold, windows, answer) if hold is not None else None
    return held if held is not None and held.misfit < HELD_DRIVE_LEAVES * _median_misfit(first) else None


def _held_by(hold: Hold, windows: Sequence[EdgeWindow], answer: Trace1D) -> Look:
    """Return the look at the edges behind a hold."""
    ticks = [tick_in(window, hold) for window in windows]
    behind = [held_window(w, tick, hold.interval_s, hold.conversion_s) for w, tick in zip(windows, ticks, strict=True)]
    return _looked(behind, answer, _stairs_of(windows, ticks, hold), hold.conversion_s)


def _is_fast(fit: ModelFit) -> bool:
    window, shape = fit.window, fit.spec.shape
    poles = shape in ("one_pole", "two_pole") or fit.spec.averages
    return poles and fit.smoothing_s < FAST_POLE * window.drive_duration_s


def _stairs_of(windows: Sequence[EdgeWindow], ticks_s: Sequence[float], hold: Hold) -> Stairs:
    """A hold as stairs: the instants are those at which the drive moves."""
    period = hold.interval_s
    instants: list[FloatArray] = []
    for window, tick in zip(windows, ticks_s, strict=True):
        count = int(1.3 * window.drive_duration_s / period) + 2
        instants.append(np.asarray(window.origin_s + tick % period + period * np.arange(count), dtype=np.float64))
    u, terms = combined({"steps on samples, or scatter over edges": hold.u_s})
    interval = Estimate.measured("update_interval", period, u=u, unit="s", n=len(instants), terms=terms)
    return Stairs(interval=interval, instants_s=tuple(instants))


def _median_misfit(fits: Sequence[ModelFit]) -> float:
    return float(np.median([fit.misfit for fit in fits]))


def _behind(windows: Sequence[EdgeWindow], stairs: Stairs) -> tuple[list[EdgeWindow], float]:
    """The windows with their drive held between the instants of the stairs, and the conversion time, s."""
    interval = stairs.interval.value or 0.0
    stepped, ticks = [], []
    for window in windows:
        begin, end = window.origin_s + window.t_s[0], window.origin_s + window.t_s[-1]
        own = [i for i in stairs.instants_s if i.size and begin < i[0] < end]
        if own and window.stimulus is not None:
            stepped.append(window)
            ticks.append(comb_phase(own[0], interval) - window.origin_s)
    hold = hold_of_steps(stepped[:N_QUICK], ticks[:N_QUICK], stairs.interval)
    ticks = [tick_in(window, hold) for window in stepped]
    late = hold.conversion_s
    return [held_window(w, tick, interval, late) for w, tick in zip(stepped, ticks, strict=True)], late
