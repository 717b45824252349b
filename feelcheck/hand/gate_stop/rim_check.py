"""A fit answers to the rim: what would have sent the thumb through it is begun again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.choice import Chosen
from feelcheck.hand.gate_stop.rim_bracket import EvenFlicks, Family, StickBrackets, rim_brackets
from feelcheck.hand.gate_stop.search import Found

__all__ = ["family_of", "held_against_rim"]


def family_of(found: Found) -> Family:
    """Return the family of responses that a fit belongs to, with what is fixed in it."""
    shape, tau_s = found.fit.shape, found.fit.tau_s
    share = float(np.median(tau_s.min(axis=1) / tau_s.sum(axis=1))) if shape.n_poles == 2 else 0.5
    return Family(name=shape.name, n_average=shape.n_average, quick_share=share)


def held_against_rim(
    chosen: Chosen, flicks: EvenFlicks, one_pole: StickBrackets, fitted: Callable[[Found], Found]
) -> tuple[Chosen, StickBrackets]:
    """Return the choice, begun again where it is outside what the rim allows, and the brackets of its family.

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
    It is begun again as one pole from the middles of that family's brackets, and stands if more directions are inside.
    """
    shape = chosen.shape
    brackets = one_pole if shape.name == "one_pole" else rim_brackets(flicks, family_of(chosen.best))
    outside = _n_outside(chosen, brackets)
    if not outside:
        return chosen, brackets
    simple = chosen.one_pole
    start = replace(simple, fit=replace(simple.fit, tau_s=one_pole.start_s[:, None]))
    again = chosen.with_one_pole(fitted(start))
    return (again, one_pole) if _n_outside(again, one_pole) < outside else (chosen, brackets)


def _n_outside(chosen: Chosen, brackets: StickBrackets) -> int:
    """Count directions with flicks whose delay is outside."""
    delay_s = chosen.delay_s
    return sum(not brackets.holds(g, float(delay_s[g])) for g in range(N_GROUPS) if brackets.n[g])
