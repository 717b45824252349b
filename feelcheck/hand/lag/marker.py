"""Delay of a stick behind a button that closes at the rim."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.contacts import N_GROUPS, Contacts, rim_contacts
from feelcheck.hand.lag import numbers
from feelcheck.hand.lag.numbers import (
    CLEAR_GIVE_S,
    EDGES_ON_GRID,
    LEAST_EVENTS,
    LEAST_SHARE,
    MARKER_FLOOR_S,
    MOST_SPREAD_S,
    NEAR_S,
)
from feelcheck.model import (
    ButtonEvent,
    Caveat,
    Estimate,
    FloatArray,
    HandView,
    MarkerLag,
    MetricOutput,
    StickAxes,
    Trace,
)
from feelcheck.numerics.descriptive import robust_sd
from feelcheck.numerics.uncertainty import combined

__all__ = ["METRIC", "Edges", "button_edges", "marker_lag", "matched"]

EARLY, LATE = 0.25, 0.5

NO_BUTTON = Caveat(
    code="no_marker",
    text="No button goes down when the stick meets its rim.",
    advice="Fix a button of the same pad where the stick closes it at the rim; see feelcheck guide lag.",
)
LOOSE = Caveat(
    code="marker_loose",
    text="A button goes down about when the stick meets its rim, but not at the same instant.",
    advice="Let the stick itself close the button at the rim; a thumb's press is not sharp enough.",
)
BLURRED = Caveat(
    code="marker_blurred",
    text="The instants of the button are known less well than a report interval, so the delay cannot be told.",
    advice="Record again on a quiet machine, with nothing else running.",
)
DEBOUNCE = Caveat(
    code="less_button_delay",
    text="The button's own travel and debounce are taken off: the true delay is longer by as much.",
    advice="Use a button without debounce, or measure its path with a known edge.",
)
ASYNCHRONOUS = Caveat(
    code="button_off_the_clock",
    text="The button's edges do not come in the pad's reports, so its own rate is part of the delay.",
    advice="Use a button of the same pad.",
)
GIVES = Caveat(
    code="rim_gives",
    text="The stick goes on a little after it meets the rim, which looks like smoothing; the intervals allow for it.",
    advice="Give the rim a hard edge, or measure the sensor on the bench.",
)
CREEPS = Caveat(
    code="no_clear_stop",
    text="The stick's readings go on after the rim further than a rim gives, so there is no instant to count from.",
    advice="Give the rim a hard edge, or measure the sensor on the bench.",
)
NO_FLICKS = Caveat(
    code="no_flicks",
    text="Too few flicks ran into the rim and were held there.",
    advice="Record feelcheck log --script marker.",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """One button's edges.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Instants of the reports that brought them; of the stamps themselves where the button is off the clock.
    clocked : bool
        Whether they came in the pad's reports.
    """

    t_s: FloatArray
    clocked: bool


def button_edges(events: list[ButtonEvent], report_t_s: FloatArray, interval_s: float) -> Edges:
    """Return a button's edges on the pad's report clock.

    Parameters
    ----------
    events : list of ButtonEvent
        Edges of one kind.
    report_t_s : ndarray, shape (m,), s
        Report instants of the stick, increasing.
    interval_s : float, s
        Report interval.

    Notes
    -----
    A stamp comes a little later than its report, by the way to the host and up to a poll. It is counted in reports from
    the last one of the stick before it.
    """
    stamps = np.array([event.t_hi_s for event in events])
    sharp = np.array([event.t_hi_s - event.t_lo_s for event in events]) <= interval_s
    stamps = stamps[sharp]
    before = np.clip(np.searchsorted(report_t_s, stamps + 1e-6, side="right") - 1, 0, report_t_s.size - 1)
    slots = (stamps - report_t_s[before]) / interval_s
    phase = np.exp(2j * np.pi * slots)
    centre = float(np.angle(phase.mean())) / (2 * math.pi) if stamps.size else 0.0
    if stamps.size < 2 or abs(phase.mean()) < EDGES_ON_GRID or not -EARLY <= centre <= LATE:
        return Edges(t_s=stamps, clocked=False)
    return Edges(t_s=report_t_s[before] + interval_s * np.rint(slots - centre), clocked=True)


def matched(edges_s: FloatArray, contact_s: FloatArray) -> NDArray[np.intp]:
    """Return for each contact the index of the nearest edge within 0.1 s, -1 where none is, or another is nearer to it.

    Parameters
    ----------
    edges_s : ndarray, shape (k,)
        Closings of the button, s.
    contact_s : ndarray, shape (n,)
        Contact instants, s.

    Examples
    --------
    >>> matched(np.array([1.0, 2.0]), np.array([1.05, 3.0])).tolist()
    [0, -1]
    """
    if not edges_s.size:
        return np.full(contact_s.size, -1, dtype=np.intp)
    apart = np.abs(contact_s[:, None] - edges_s[None, :])
    nearest = np.argmin(apart, axis=1)
    own = np.argmin(apart, axis=0)[nearest] == np.arange(contact_s.size)
    return np.where(own & (apart.min(axis=1) <= NEAR_S), nearest, -1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Match:
    """A button that goes with a stick's contacts: onset delays of the flicks in `flicks`."""

    name: str
    stick: StickAxes
    contacts: Contacts
    flicks: NDArray[np.intp]
    onset_s: FloatArray
    clocked: bool
    spread_s: float


def marker_lag(view: HandView) -> tuple[MarkerLag, tuple[Trace, ...]]:
    """Return the delay of a stick behind a button closed at its rim, if there is one, and the trace behind it.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    """
    kinds = {(event.name, event.value) for event in view.recording.buttons}
    if not kinds:
        return _nothing(Estimate.not_present("delay", unit="s", caveats=(NO_BUTTON,))), ()
    found, any_flicks = [], False
    for stick in view.sticks:
        if not _any_near(view, stick):
            continue
        contacts = rim_contacts(view, stick)
        any_flicks = any_flicks or contacts is not None
        if contacts is not None:
            matches = [_match(view, stick, contacts, name, value) for name, value in sorted(kinds)]
            found += [match for match in matches if match is not None]
    if not found and any_flicks and _blurred(view):
        return _nothing(Estimate.not_resolved("delay", unit="s", caveats=(BLURRED,))), ()
    if not found:
        return _nothing(Estimate.not_present("delay", unit="s", caveats=(NO_BUTTON if any_flicks else NO_FLICKS,))), ()
    best = min(found, key=lambda match: match.spread_s)
    if best.spread_s > MOST_SPREAD_S:
        return _nothing(Estimate.not_resolved("delay", unit="s", n=best.flicks.size, caveats=(LOOSE,))), ()
    if best.contacts.creeps:
        return _nothing(Estimate.not_resolved("delay", unit="s", n=best.flicks.size, caveats=(CREEPS,))), ()
    return _judged(best), (_trace(best, view),)


def _nothing(delay: Estimate) -> MarkerLag:
    return MarkerLag(delay=delay, onset_delay=delay.renamed("onset_delay"))


def _blurred(view: HandView) -> bool:
    """Whether most button events lie in brackets wider than a report interval (2 ms where that is not known)."""
    wide = [event.t_hi_s - event.t_lo_s for event in view.recording.buttons]
    return float(np.median(wide)) > (view.clock.interval.value or 0.002)


def _any_near(view: HandView, stick: StickAxes) -> bool:
    """Whether buttons change during many of the stick's flicks at all: the fit is dear."""
    flicks = [s for s in view.segments if s.kind == "flick" and s.stick == stick.stick]
    times = np.array([event.t_hi_s for event in view.recording.buttons])
    hit = sum(bool(np.any((times > f.start_s) & (times < f.end_s))) for f in flicks)
    return hit >= LEAST_EVENTS


def _match(view: HandView, stick: StickAxes, contacts: Contacts, name: str, value: int) -> _Match | None:
    events = [event for event in view.recording.buttons if event.name == name and event.value == value]
    edges = button_edges(events, contacts.report_t_s, contacts.interval_s)
    which = matched(edges.t_s, contacts.contact_s)
    flicks = np.flatnonzero(which >= 0)
    enough = max(LEAST_EVENTS, LEAST_SHARE * min(len(events), contacts.contact_s.size))
    if flicks.size < enough or flicks.size + contacts.n_set_aside < LEAST_SHARE * len(events):
        return None
    onset_s = contacts.contact_s[flicks] - edges.t_s[which[flicks]]
    low, high = np.percentile(onset_s, (16, 84))
    return _Match(
        name=name,
        stick=stick,
        contacts=contacts,
        flicks=flicks,
        # an edge waits for its report by half an interval on average
        onset_s=onset_s + (0.5 * contacts.interval_s if edges.clocked else 0.0),
        clocked=edges.clocked,
        spread_s=0.5 * float(high - low),
    )


def _kept(values: FloatArray) -> NDArray[np.bool_]:
    """Return which values lie within 5 robust standard deviations of the median."""
    middle = float(np.median(values))
    limit = 5 * robust_sd(values, middle) + 1e-4
    return np.asarray(np.abs(values - middle) <= limit)


def _judged(match: _Match) -> MarkerLag:
    contacts, kept = match.contacts, _kept(match.onset_s)
    flicks, onset_s = match.flicks[kept], match.onset_s[kept]
    gives = float(np.max(contacts.rim_s[np.unique(contacts.group[contacts.used])])) > CLEAR_GIVE_S
    caveats = (DEBOUNCE, *(() if match.clocked else (ASYNCHRONOUS,)), *((GIVES,) if gives else ()))
    names = (match.stick.x, match.stick.y)
    directions, rows, groups = {}, [], []
    for g in range(N_GROUPS):
        here = np.any((contacts.group[flicks] == g) & contacts.used[flicks], axis=1)
        if not names[g // 2] or here.sum() < 2:
            continue
        rows.append(flicks[here])
        groups.append(g)
        delay = _delay(onset_s[here], contacts, rows[-1:], groups[-1:])
        directions[names[g // 2], "falling" if g % 2 else "rising"] = delay.with_caveats(*caveats)
    if not groups:
        return _nothing(Estimate.not_resolved("delay", unit="s", n=flicks.size, caveats=(NO_FLICKS,)))
    onset = _onset(onset_s, contacts, rows, groups)
    return MarkerLag(
        delay=_delay(onset_s, contacts, rows, groups).with_caveats(*caveats),
        onset_delay=onset.with_caveats(*caveats),
        directions=MappingProxyType(directions),
        button=match.name,
        stick=match.stick.stick,
    )


def _delay(
    onset_s: FloatArray, contacts: Contacts, rows: Sequence[NDArray[np.intp]], groups: Sequence[int]
) -> Estimate:
    """Return onset plus smoothing: spread over events, at least that of the wait for a report, and the fit's own."""
    share = np.array([row.size for row in rows]) / sum(row.size for row in rows)
    smoothing_s = float(share @ contacts.smoothing_s[list(groups)])
    return _pooled("delay", onset_s, smoothing_s, contacts.terms_s(rows, groups), contacts.interval_s)


def _onset(
    onset_s: FloatArray, contacts: Contacts, rows: Sequence[NDArray[np.intp]], groups: Sequence[int]
) -> Estimate:
    return _pooled("onset_delay", onset_s, 0.0, contacts.terms_s(rows, groups, smoothing=False), contacts.interval_s)


def _pooled(
    quantity: str, onset_s: FloatArray, more_s: float, terms_s: Mapping[str, float], interval_s: float
) -> Estimate:
    n = onset_s.size
    spread_s = max(float(np.std(onset_s, ddof=1)), interval_s / math.sqrt(12.0))
    u, terms = combined(
        {"scatter of the events": spread_s / math.sqrt(n), **terms_s, MARKER_FLOOR_S.sets: MARKER_FLOOR_S}
    )
    value, dof = float(np.mean(onset_s)) + more_s, float(max(n - 1, 1))
    return Estimate.measured(quantity, value, u=u, unit="s", n=n, dof=dof, terms=terms)


def _trace(match: _Match, view: HandView) -> Trace:
    axis = match.stick.x or match.stick.y
    t_s = view.clock.report_t_s[axis]
    values = view.recording.stream(axis).fractions
    rows = []
    edge_s = match.contacts.contact_s[match.flicks] - match.onset_s
    grid_s = np.linspace(-0.06, 0.1, 161)
    for at_s in edge_s.tolist():
        index = np.clip(np.searchsorted(t_s, at_s + grid_s, side="right") - 1, 0, t_s.size - 1)
        rows.append(np.abs(values[index]))
    return Trace(
        kind="marker",
        axis=axis,
        arrays={"t_s": grid_s, "flicks_fs": np.stack(rows), "onset_s": match.onset_s},
        labels={"button": match.name},
    )


class Marker:
    """The metric of a button that the rim closes."""

    name = "marker"
    numbers = numbers

    def measure(self, view: HandView) -> MetricOutput:
        """Return how much the stick trails the button, and why not where none is closed at the rim."""
        lag, traces = marker_lag(view)
        return MetricOutput(marker=lag, traces=traces)


METRIC = Marker()
