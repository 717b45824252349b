"""A fit answers to the rim: what would have sent the thumb through it is restarted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.choice import Chosen, smoothing_delay_s
from feelcheck.hand.gate_stop.even_flicks import EvenFlicks
from feelcheck.hand.gate_stop.numbers import BRACKET_SDS, DECIDED, LONG_AVERAGE_S, OTHER_SHAPES, STOPPED
from feelcheck.hand.gate_stop.rim_bracket import ONE_POLE, Family, StickBrackets, rim_brackets, stopped_short
from feelcheck.hand.gate_stop.search import Found
from feelcheck.model import FloatArray

__all__ = ["Wall", "family_of", "held_against_rim", "stopped_share"]

FAMILIES = (ONE_POLE, Family(name="two_pole"), Family(name="average"))
"""What a limit must hold for, whatever the response is."""


def family_of(found: Found) -> Family:
    """Return the family of responses that a fit belongs to, with what is fixed in it.

    Parameters
    ----------
    found : Found
        A fit.
    """
    shape, tau_s = found.fit.shape, found.fit.tau_s
    share = float(np.median(tau_s.min(axis=1) / tau_s.sum(axis=1))) if shape.n_poles == 2 else 0.5
    return Family(name=shape.name, n_average=shape.n_average, quick_share=share)


@dataclass(frozen=True, kw_only=True, eq=False)
class Wall:
    """What the rim says about a choice.

    Parameters
    ----------
    flicks : EvenFlicks
        The flicks.
    brackets : StickBrackets
        Of the chosen family.
    one_pole : StickBrackets
        Of one pole.
    stopped : ndarray of bool, shape (F,)
        Which sticks, un-smoothed by the choice, were seen to stop short at the rim.
    held_s : float, s
        How long the source holds a value over several reports; the rim is seen so late at most.
    """

    flicks: EvenFlicks
    brackets: StickBrackets
    one_pole: StickBrackets
    stopped: NDArray[np.bool_]
    held_s: float = 0.0

    @cached_property
    def stops(self) -> NDArray[np.bool_]:
        """Tell for each axis and direction whether enough of its sticks stopped short, shape (N_GROUPS,)."""
        own = [((self.flicks.group == g) & self.flicks.tells).any(axis=1) for g in range(N_GROUPS)]
        return np.array([flick.any() and np.mean(self.stopped[flick]) >= STOPPED for flick in own])

    @cached_property
    def longest_s(self) -> FloatArray:
        """The longest smoothing delay that the rim allows any response, shape (N_GROUPS,), s; infinite where none."""
        known = self.brackets
        others = [f for f in FAMILIES if f not in (known.family, ONE_POLE)]
        every = [known.high_s, self.one_pole.high_s, *(rim_brackets(self.flicks, f).high_s for f in others)]
        longest = np.max([np.where(np.isnan(high), np.inf, high) for high in every], axis=0)
        return np.asarray(OTHER_SHAPES * longest + self.held_s)

    def relative_u(self, g: int, longest_other_s: float = 0.0) -> float:
        """Return the largest relative standard uncertainty of a delay inside bounds on both sides; infinite for one.

        The lower one is that of one pole where that is lower, the upper one at least the longest delay of candidates
        that fit about as well: what was chosen may be the wrong family.

        Parameters
        ----------
        g : int
            The group.
        longest_other_s : float, s
            The longest delay of candidates that are not decided against; 0 without any.
        """
        low_s = float(min(self.brackets.low_s[g], self.one_pole.low_s[g]))
        high_s = max(float(self.brackets.high_s[g]), longest_other_s)
        return float(np.log(high_s / low_s)) / BRACKET_SDS if low_s and np.isfinite(high_s) else np.inf


def held_against_rim(
    chosen: Chosen, flicks: EvenFlicks, one_pole: StickBrackets, fitted: Callable[[Found], Found]
) -> tuple[Chosen, Wall]:
    """Return the choice, restarted where it is outside what the rim allows, and what the rim says.

    Parameters
    ----------
    chosen : Chosen
        The choice, all flicks fitted.
    flicks : EvenFlicks
        The same flicks.
    one_pole : StickBrackets
        What the rim allows one pole.
    fitted : callable
        Returns the fit of all flicks, started from that of a few.

    Notes
    -----
    Other candidates that are clearly better than one pole are tried first. Then it is restarted as one pole from the
    middles of that family's brackets. What comes of it stands if more directions are inside.
    """
    shape = chosen.shape
    brackets = one_pole if shape.name == "one_pole" else rim_brackets(flicks, family_of(chosen.best))
    outside = _n_outside(chosen, brackets)
    for other in chosen.with_another(fitted) if outside else ():
        allowed = rim_brackets(flicks, family_of(other.best))
        if _n_outside(other, allowed) < outside:
            chosen, brackets, outside = other, allowed, _n_outside(other, allowed)
    if outside:
        simple = chosen.one_pole
        start = replace(simple, fit=replace(simple.fit, tau_s=one_pole.start_s[:, None]))
        again = chosen.with_one_pole(fitted(start))
        chosen, brackets = (again, one_pole) if _n_outside(again, one_pole) < outside else (chosen, brackets)
    stopped = stopped_short(flicks, family_of(chosen.best), chosen.delay_s)
    if chosen.shape.n_average * flicks.interval_s > LONG_AVERAGE_S:
        stopped &= stopped_short(flicks, ONE_POLE, smoothing_delay_s(chosen.one_pole))
    wall = Wall(flicks=flicks, brackets=brackets, one_pole=one_pole, stopped=stopped)
    return _others_inside(chosen, flicks, one_pole), wall


def stopped_share(flicks: EvenFlicks, found: Found) -> float:
    """Return the share of the sticks that stop at the rim when un-smoothed by a candidate; -1 where it is not allowed.

    Parameters
    ----------
    flicks : EvenFlicks
        The flicks.
    found : Found
        The candidate's fit; it is allowed if its delays are inside its own family's brackets in all directions.
    """
    family, delay_s = family_of(found), smoothing_delay_s(found)
    brackets = rim_brackets(flicks, family)
    if not all(brackets.holds(g, float(delay_s[g])) for g in range(N_GROUPS) if brackets.n[g]):
        return -1.0
    return float(np.mean(stopped_short(flicks, family, delay_s)))


def _others_inside(chosen: Chosen, flicks: EvenFlicks, one_pole: StickBrackets) -> Chosen:
    """Return the choice with the other candidates' delays no farther off than the rim allows their own families."""
    delays, taus = [], []
    for name, gain, delay, tau in zip(chosen.names, chosen.gains, chosen.delay_ratios, chosen.tau_ratios, strict=True):
        share = np.ones(N_GROUPS)
        if gain < DECIDED:
            found = next(found for found in chosen.tried if found.fit.shape.name == name)
            bracket = one_pole if name == "one_pole" else rim_brackets(flicks, family_of(found))
            share = _moved_inside(smoothing_delay_s(found), bracket)
        delays.append(delay * share)
        taus.append(tau * share)
    return replace(chosen, delay_ratios=tuple(delays), tau_ratios=tuple(taus))


def _moved_inside(delay_s: FloatArray, brackets: StickBrackets) -> FloatArray:
    """Return by how much each delay must change to be allowed, as ratios, shape (N_GROUPS,)."""
    allowed = np.clip(delay_s, brackets.low_s, np.where(brackets.n > 0, brackets.high_s, np.inf))
    return np.asarray(allowed / delay_s)


def _n_outside(chosen: Chosen, brackets: StickBrackets) -> int:
    """Count directions with flicks whose delay is outside."""
    delay_s = chosen.delay_s
    return sum(not brackets.holds(g, float(delay_s[g])) for g in range(N_GROUPS) if brackets.n[g])
