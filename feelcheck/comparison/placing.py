"""Where a new result lies in a population that was measured before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from scipy.optimize import brentq
from scipy.special import betainc, ndtri

from feelcheck.comparison.numbers import STICKS_OF_A_PLACE
from feelcheck.comparison.population import population_of
from feelcheck.model import FloatArray, Placement, PopulationQuantity, StickValue

__all__ = ["PLACED", "place", "share_below"]

PLACED = ("smoothing_delay", "rest_noise", "update_interval")
_VALUES = ndtri((np.arange(41) + 0.5) / 41)
Row = Mapping[str, Any]


def share_below(values: FloatArray, value: float, u: float, *, bounds_below: int = 0) -> tuple[float, float, float]:
    """Return which share of a population lies below a value, with the 95 % interval of that share.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Values of the sticks.
    value, u : float
        The new value and its standard uncertainty.
    bounds_below : int
        How many more sticks are known to lie below (upper bounds under the value).

    Notes
    -----
    Of n sticks k lie below a given value: the share is beta distributed (Jeffreys' prior). The new value itself is
    uncertain, so the distribution is the mean of those for 41 equally probable values of it.

    References
    ----------
    Brown, Cai, DasGupta, Statistical Science 16 (2001) 101.

    Examples
    --------
    >>> [round(share, 2) for share in share_below(np.arange(100.0), 86.5, 0.0)]
    [0.87, 0.79, 0.93]
    """
    n = values.size + bounds_below
    below = np.searchsorted(np.sort(values), value + u * _VALUES, side="left") + bounds_below

    def short(share: float, level: float) -> float:
        return float(np.mean(betainc(below + 0.5, n - below + 0.5, share))) - level

    low, high = (float(brentq(short, 0.0, 1.0, args=(level,))) for level in (0.025, 0.975))
    return float(np.mean(values < value)) if not bounds_below else float(below[20] / n), low, high


def place(new: Sequence[Row], rows: Sequence[Row], columns: Sequence[str]) -> list[Placement]:
    """Return where new rows lie among the sticks of a table.

    Parameters
    ----------
    new : sequence of mapping
        Rows of the new results.
    rows : sequence of mapping
        The table; rows of the very files that are placed are left out.
    columns : sequence of str
        Of the table.
    """
    own = {row["path"] for row in new} | {row["sha256"] for row in new if row["sha256"]}
    others = [row for row in rows if row["path"] not in own and row["sha256"] not in own]
    if not others:
        return []
    known = population_of(others, columns).quantities
    wanted = population_of(new, columns).quantities
    found = []
    for mine in wanted:
        theirs = next((one for one in known if _key(one) == _key(mine)), None)
        if theirs is not None and mine.quantity in PLACED:
            found += [placed for stick in mine.sticks if (placed := _placed(stick, mine, theirs)) is not None]
    return found


def _key(of: PopulationQuantity) -> tuple[str, str, str, str, str]:
    return of.group, of.state, of.quantity, of.unit, of.direction


def _placed(stick: StickValue, mine: PopulationQuantity, theirs: PopulationQuantity) -> Placement | None:
    if stick.value is None:
        return None
    values = np.array([other.value for other in theirs.sticks if other.value is not None])
    bounds = sum(other.at_most is not None and other.at_most <= stick.value for other in theirs.sticks)
    if values.size + bounds < STICKS_OF_A_PLACE:
        return None
    share, low, high = share_below(values, stick.value, stick.u or 0.0, bounds_below=bounds)
    return Placement(
        name=stick.name, quantity=mine.quantity, direction=mine.direction, share=share, low=low, high=high,
        n=values.size + bounds, group=mine.group, state=mine.state,
    )  # fmt: skip
