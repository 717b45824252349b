"""A response added to a live signal, report by report: closed forms between reports, rising and falling apart."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

from feelcheck.numerics.numbers import SILENT_REPORTS

__all__ = ["AddedResponse", "PlayedAxis"]

_SHORTEST_S = 1e-6  # between two reports: of two at one instant the line is steep, not upright
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
