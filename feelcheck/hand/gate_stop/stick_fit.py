"""The fit of a stick's flicks, made once for each view: the metric tells of it, a marker counts from its contacts."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.averaged import averaged_reports
from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.batches import lay_out
from feelcheck.hand.gate_stop.choice import Chosen, choose_from_few
from feelcheck.hand.gate_stop.corners import axes_apart, ends_in_corners
from feelcheck.hand.gate_stop.even_flicks import EvenFlicks, lay_evenly
from feelcheck.hand.gate_stop.numbers import MIN_STOPPED, MOST_FLICKS
from feelcheck.hand.gate_stop.readings import held_s, stick_readings
from feelcheck.hand.gate_stop.released import against
from feelcheck.hand.gate_stop.rim_bracket import ONE_POLE, StickBrackets, rim_brackets
from feelcheck.hand.gate_stop.rim_check import Wall, held_against_rim, stopped_share
from feelcheck.hand.gate_stop.search import Found, everything
from feelcheck.hand.gate_stop.windows import FlickWindow, StickReadings, flick_windows
from feelcheck.hand.returns import spring_returns
from feelcheck.model import FloatArray, HandView, StickAxes

__all__ = ["Fitted", "StickFlicks", "stick_flicks"]

SLOWED = "slowed down before it met the rim"
SPARE = "as many others were used"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """What was fitted to a stick's flicks.

    Parameters
    ----------
    reports : StickReadings
        The stick's reports.
    windows : tuple of FlickWindow
        The flicks of the fit; in the corners of a square gate each axis of each one by itself.
    chosen : Chosen
        The candidate that is believed, all of them fitted.
    wall : Wall
        What the rim says about it.
    scatter_s : float, s
        Standard deviation of a time stamp.
    """

    reports: StickReadings
    windows: tuple[FlickWindow, ...]
    chosen: Chosen
    wall: Wall
    scatter_s: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StickFlicks:
    """The flicks of one stick.

    Parameters
    ----------
    windows : tuple of FlickWindow
        All of them, each with the reason why it was left out.
    fitted : Fitted or None
        What came of the others; None where every one was left out.
    """

    windows: tuple[FlickWindow, ...] = ()
    fitted: Fitted | None = None

    @property
    def n_set_aside(self) -> int:
        """How many would have had something to say."""
        return sum(window.why_not in (SLOWED, SPARE) for window in self.windows)


def stick_flicks(view: HandView, stick: StickAxes) -> StickFlicks:
    """Return the flicks of a stick and their fit, made once for each view.

    Parameters
    ----------
    view : HandView
        The recording with its clock, its segments and what was found before.
    stick : StickAxes
        Which axes are one stick.
    """
    return view.once(_flicks, stick)


def _flicks(view: HandView, stick: StickAxes) -> StickFlicks:
    segments = [s for s in view.segments if s.kind == "flick" and s.stick == stick.stick]
    if not segments:
        return StickFlicks()
    reports = stick_readings(view, stick)
    windows, variance = flick_windows(reports, [(s.start_s, s.end_s) for s in segments])
    windows = _enough(windows)
    usable = [w for w in windows if not w.why_not]
    if not usable:
        return StickFlicks(windows=tuple(windows))
    if ends_in_corners(usable):
        usable = axes_apart(usable)
    even = lay_evenly(usable, variance, reports.interval_s)
    one_pole = rim_brackets(even, ONE_POLE)
    slowed = _slowed_down(even, one_pole)
    if slowed.any():
        usable = [w for w, one in zip(usable, slowed.tolist(), strict=True) if not one]
        kept = {w.start_s for w in usable}
        windows = [w if w.why_not or w.start_s in kept else replace(w, why_not=SLOWED) for w in windows]
        even = lay_evenly(usable, variance, reports.interval_s)
        one_pole = rim_brackets(even, ONE_POLE)
    return StickFlicks(windows=tuple(windows), fitted=_fitted(view, stick, reports, usable, variance, even, one_pole))


def _fitted(
    view: HandView,
    stick: StickAxes,
    reports: StickReadings,
    windows: list[FlickWindow],
    variance: FloatArray,
    even: EvenFlicks,
    one_pole: StickBrackets,
) -> Fitted:
    hold_s = held_s(view, stick, reports.interval_s)
    scatter_s = float(np.hypot(reports.scatter_s, hold_s / np.sqrt(12.0)))
    batch, onset = lay_out(windows, variance, reports.interval_s, scatter_s)
    ways_back, names = view.once(spring_returns, stick), (stick.x, stick.y)

    def of_all(few: Found) -> Found:
        return everything(few, batch, onset)

    few = choose_from_few(
        batch,
        onset,
        one_pole.start_s,
        lambda found: stopped_share(even, found),
        lambda others, simple: against(others, simple, ways_back, names),
        lambda found: averaged_reports(even, float(np.median(found.fit.tau_s))),
    )
    chosen, wall = held_against_rim(few.carried_to(of_all), even, one_pole, of_all)
    return Fitted(
        reports=reports,
        windows=tuple(windows),
        chosen=chosen,
        wall=replace(wall, held_s=hold_s),
        scatter_s=scatter_s,
    )


def _slowed_down(even: EvenFlicks, brackets: StickBrackets) -> NDArray[np.bool_]:
    """Return which flicks to leave out: they slowed down by themselves, and enough others stopped short at the rim."""
    enough = [
        np.count_nonzero(brackets.stopped & ((even.group == g) & even.tells).any(axis=1)) >= MIN_STOPPED
        for g in range(N_GROUPS)
    ]
    spare = np.where(even.tells, np.array(enough)[even.group], True).all(axis=1)
    return np.asarray(spare & ~brackets.stopped)


def _enough(windows: list[FlickWindow]) -> list[FlickWindow]:
    """Set aside what is beyond `MOST_FLICKS`, evenly over the recording: more of them do not sharpen the answer."""
    usable = [k for k, window in enumerate(windows) if not window.why_not]
    if len(usable) <= MOST_FLICKS:
        return windows
    kept = {usable[k] for k in np.linspace(0, len(usable) - 1, MOST_FLICKS).round().astype(int).tolist()}
    spare = set(usable) - kept
    return [replace(w, why_not=SPARE) if k in spare else w for k, w in enumerate(windows)]
