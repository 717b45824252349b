"""A response added to a live signal, report by report: closed forms between reports, rising and falling apart."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.numerics.numbers import SILENT_REPORTS
from feelcheck.numerics.one_pole import line_weights
from feelcheck.numerics.pole_response import recursion

__all__ = ["AddedResponse", "PlayedAxis", "pole_by_side"]

_SHORTEST_S = 1e-6  # between two reports: of two at one instant the line is steep, not upright
SETTLED = 1e-12
"""Share of the largest input within which it lies on neither side of the output: rounding."""
State = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class AddedResponse:
    """What is added to one axis.

    Parameters
    ----------
    rising_poles_s, falling_poles_s : tuple of float, s
        None, one or two poles of the whole response while its input is above, or below, the first pole's output.
    own_rising_s, own_falling_s : float, s
        Delay that the signal already has when it rises and falls: it is undone first (lead).
    dead_time_s : float, s
        Pure delay.
    refresh_s : float, s
        Interval at which the output is taken and held; 0 for none.
    step : float
        Lattice on which the output lies, in units of the signal; 0 for none.

    Raises
    ------
    ValueError
        If a time or the step is negative or not finite, or there are more than two poles.
    """

    rising_poles_s: tuple[float, ...] = ()
    falling_poles_s: tuple[float, ...] = ()
    own_rising_s: float = 0.0
    own_falling_s: float = 0.0
    dead_time_s: float = 0.0
    refresh_s: float = 0.0
    step: float = 0.0

    def __post_init__(self) -> None:
        poles = (*self.rising_poles_s, *self.falling_poles_s)
        others = (self.own_rising_s, self.own_falling_s, self.dead_time_s, self.refresh_s, self.step)
        if not all(0 < tau < math.inf for tau in poles) or not all(0 <= number < math.inf for number in others):
            raise ValueError(f"poles are positive, other numbers not negative, all finite: got {self}")
        if max(len(self.rising_poles_s), len(self.falling_poles_s)) > 2:
            raise ValueError(f"one or two poles are played, got {self}")


class PlayedAxis:
    """One axis of a live stick, played through an added response.

    Parameters
    ----------
    added : AddedResponse
        What is added.
    interval_s : float, s
        The stick's report interval: a report that comes later than one and a half of it ends a run of silent ones,
        which held their value. 0 where it is not known: then nothing is taken as held.
    start_s : float, s
        Instant from which the refresh counts.
    value : float
        Where the signal rested until then.

    Notes
    -----
    Between two reports the signal v is taken as a straight line; the stick itself was then at v + tau_own dv/dt,
    exactly so for one pole, and for any response as far as its mean delay goes. That input passes the poles in closed
    form; where it meets the first pole's output within the line, the direction changes there. States depend on the
    reports and their stamps alone: looking late, often or never changes nothing.

    Examples
    --------
    >>> played = PlayedAxis(AddedResponse(rising_poles_s=(0.01,), falling_poles_s=(0.01,)), interval_s=0.001)
    >>> played.take(0.001, 1.0)
    >>> round(played.at(0.011), 4)
    0.6499
    """

    def __init__(
        self, added: AddedResponse, *, interval_s: float = 0.0, start_s: float = 0.0, value: float = 0.0
    ) -> None:
        self.added, self.interval_s, self.start_s = added, interval_s, start_s
        self._waiting: deque[tuple[float, float]] = deque()
        self._t_s, self._value = start_s, value
        self._state: State = (value, value)
        self._held = value

    def take(self, t_s: float, value: float) -> None:
        """Take one report: the signal's value at an instant, in order of time.

        Parameters
        ----------
        t_s : float, s
            The report's instant; never before that of the last one.
        value : float
            In any unit; outputs have the same.
        """
        self._waiting.append((t_s + self.added.dead_time_s, value))

    def at(self, t_s: float) -> float:
        """Return the output at an instant that is not before one that was asked for already.

        Parameters
        ----------
        t_s : float, s
            The instant.
        """
        while self._waiting and self._waiting[0][0] <= t_s:
            self._report(*self._waiting.popleft())
        seen_s = self._last_refresh(t_s)
        if self.added.refresh_s and seen_s <= self._t_s:
            return self._on_lattice(self._held)
        since_s = max(0.0, seen_s - self._t_s)
        return self._on_lattice(_advance(self.added, self._state, self._value, 0.0, since_s)[1])

    def _last_refresh(self, t_s: float) -> float:
        every = self.added.refresh_s
        return self.start_s + every * math.floor((t_s - self.start_s) / every) if every else t_s

    def _on_lattice(self, value: float) -> float:
        return self.added.step * round(value / self.added.step) if self.added.step else value

    def _report(self, t_s: float, value: float) -> None:
        """Move the state to the instant of a report."""
        change = value - self._value
        if t_s <= self._t_s and not change:
            return
        whole_s = max(_SHORTEST_S, t_s - self._t_s)
        silent = 0 < self.interval_s * SILENT_REPORTS < whole_s
        line_s = self.interval_s if silent else whole_s
        slope = change / line_s
        own_s = self.added.own_rising_s if change > 0 else self.added.own_falling_s
        if silent:
            self._move(self._value, 0.0, whole_s - line_s)
        self._move(self._value + own_s * slope, slope, line_s)
        self._value = value

    def _move(self, start: float, slope: float, for_s: float) -> None:
        """Move the state along a straight piece of input, and keep the output at the last refresh in it."""
        end_s = self._t_s + for_s
        refresh_s = self._last_refresh(end_s)
        if self.added.refresh_s and refresh_s > self._t_s:
            self._held = _advance(self.added, self._state, start, slope, refresh_s - self._t_s)[1]
        self._state = _advance(self.added, self._state, start, slope, for_s)
        self._t_s = end_s


def _advance(added: AddedResponse, state: State, start: float, slope: float, for_s: float) -> State:
    """Return the state after a straight piece of input, the direction changed where the input meets the output."""
    up = start > state[0] or (start == state[0] and slope > 0)
    poles, others = added.rising_poles_s, added.falling_poles_s
    if not up:
        poles, others = others, poles
    if not poles:
        if not others or slope == 0 or (slope > 0) == up:
            return start + slope * for_s, start + slope * for_s
        return _through(others, (start, start), start, slope, for_s)
    meets_s = _meets(poles[0], start - state[0], slope)
    if meets_s >= for_s:
        return _through(poles, state, start, slope, for_s)
    met = start + slope * meets_s
    _, second = _through(poles, state, start, slope, meets_s)
    if not others:
        return met + slope * (for_s - meets_s), met + slope * (for_s - meets_s)
    return _through(others, (met, second), met, slope, for_s - meets_s)


def _meets(tau_s: float, ahead: float, slope: float) -> float:
    """Return when a straight input, now so far ahead of a pole's output, meets it; infinity for never."""
    settled = slope * tau_s
    rest = ahead - settled
    if settled * rest >= 0 or abs(settled) >= abs(rest):
        return math.inf
    return tau_s * math.log(-rest / settled)


def _through(poles_s: tuple[float, ...], state: State, start: float, slope: float, for_s: float) -> State:
    """Return the state of one or two poles after a straight piece of input."""
    slow_s = poles_s[0]
    decay = math.exp(-for_s / slow_s)
    transient = state[0] - start + slope * slow_s
    first = start + slope * (for_s - slow_s) + transient * decay
    if len(poles_s) == 1:
        return first, first
    quick_s = poles_s[1]
    if abs(slow_s - quick_s) < 1e-6 * slow_s:
        carried = transient * for_s / slow_s * decay
        at_start = 0.0
    else:
        carried = transient * slow_s / (slow_s - quick_s) * decay
        at_start = transient * slow_s / (slow_s - quick_s)
    line = start - slope * (slow_s + quick_s)
    own = (state[1] - line - at_start) * math.exp(-for_s / quick_s)
    return first, line + slope * for_s + carried + own


def pole_by_side(values: FloatArray, rising_s: float, falling_s: float, interval_s: float) -> FloatArray:
    """Return even samples, joined by straight lines and settled at the first, after one pole, shape (n,).

    The pole has one time constant while its input lies above its output, another while it lies below.

    Parameters
    ----------
    values : ndarray, shape (n,)
        The samples.
    rising_s, falling_s, interval_s : float, s
        Time constants, and distance of the samples.

    Notes
    -----
    Until its input comes to lie on the output's other side it is any pole; that step is parted where they meet.

    Examples
    --------
    >>> pole_by_side(np.array([0.0, 1.0, 1.0, 0.0, 0.0]), 0.0, 1.0, 1.0).round(3).tolist()
    [0.0, 1.0, 1.0, 0.632, 0.233]
    """
    settled = SETTLED * float(np.abs(values).max(initial=0.0))
    output, done = np.array(values, dtype=np.float64), 0
    while done < values.size - 1:
        rest, level = values[done:], float(output[done])
        lines, before = np.diff(rest), float(rest[0]) - level
        rises = bool((before if abs(before) > settled else lines[0]) > 0)
        tau_s, other_s = (rising_s, falling_s) if rises else (falling_s, rising_s)
        kept, mean = line_weights(tau_s, interval_s)
        gain = (mean - kept) * rest[:-1] + (1.0 - mean) * rest[1:]
        after = recursion(kept, np.array([[level]]), gain[None, :])[0]
        ahead = rest[1:] - after if kept else lines
        turned = (np.abs(ahead) > settled) & ((ahead > 0) != rises)
        n = int(turned.argmax()) if turned.any() else lines.size
        output[done + 1 : done + 1 + n] = after[:n]
        if n < lines.size:
            level = float(output[done + n])
            output[done + n + 1] = _turned(float(rest[n]), level, float(lines[n]), (tau_s, other_s), interval_s)
        done += n + 1
    return output


def _turned(start: float, level: float, change: float, taus_s: tuple[float, float], for_s: float) -> float:
    """Return a pole's output after a line that goes over to the output's other side, where the other time holds."""
    slope = change / for_s
    meets_s = _meets(taus_s[0], start - level, slope) if taus_s[0] > 0 else 0.0
    meets_s = meets_s if meets_s < for_s else 0.0  # they had met when the line began
    met, left_s = start + slope * meets_s, for_s - meets_s
    return _through(taus_s[1:], (met, met), met, slope, left_s)[1] if taus_s[1] > 0 else start + change
