"""Where an axis has its ticks, and what stands at them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

__all__ = ["linear_ticks", "log_ticks", "tick_words"]

STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
ROUNDING = 1e-9
"""How far outside the limits, in steps, a tick may lie by rounding."""


def linear_ticks(low: float, high: float, n_most: int) -> list[float]:
    """Return round numbers inside the limits, at most `n_most` and at least two where there are any.

    Parameters
    ----------
    low, high : float
        Limits of the scale, in the axis' unit.
    n_most : int
        How many ticks at the most.

    Examples
    --------
    >>> linear_ticks(-3.0, 97.0, 6)
    [0.0, 20.0, 40.0, 60.0, 80.0]
    """
    span = high - low
    if not math.isfinite(span) or span <= 0:
        return [low]
    raw = span / max(n_most, 1)
    decade = 10.0 ** math.floor(math.log10(raw))
    finer: list[float] = []
    for size in (step * decade for step in (0.5, *STEPS, 20.0)):
        first, last = math.ceil(low / size - ROUNDING), math.floor(high / size + ROUNDING)
        found = [k * size for k in range(first, last + 1)]
        if len(found) <= n_most:
            return found if len(found) > 1 else finer[:: max(1, len(finer) - 1)]
        finer = found
    return finer


def log_ticks(low: float, high: float, n_most: int) -> list[float]:
    """Return decades inside the limits, and their twos and fives where there is room for them.

    Parameters
    ----------
    low, high : float
        Limits of the scale, in the axis' unit.
    n_most : int
        How many ticks at the most.

    Examples
    --------
    >>> log_ticks(0.8, 12.0, 9)
    [1.0, 2.0, 5.0, 10.0]
    """
    if low <= 0 or not high > low:
        return [high]
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    for subs in ((1.0, 2.0, 5.0), (1.0,)):
        found = [sub * 10.0**k for k in decades for sub in subs]
        inside = [tick for tick in found if low * (1 - ROUNDING) <= tick <= high * (1 + ROUNDING)]
        if len(inside) <= n_most:
            return inside
    return inside[:: -(-len(inside) // max(n_most, 1))]


def tick_words(ticks: Sequence[float], *, log: bool = False) -> list[str]:
    """Return what stands at ticks: as many decimals as they and their step need, a true minus sign.

    Parameters
    ----------
    ticks : sequence of float
        Where the ticks are, in the axis' unit.
    log : bool
        Whether the scale is logarithmic.

    Examples
    --------
    >>> tick_words([-0.5, 0.0, 0.5]), tick_words([0.1, 1.0, 10.0], log=True)
    (['\u22120.5', '0.0', '0.5'], ['0.1', '1', '10'])
    >>> tick_words([-0.5, 0.5])
    ['\u22120.5', '0.5']
    """
    if log or len(ticks) < 2:
        return [f"{tick:g}".replace("-", "\u2212") for tick in ticks]
    step = min(abs(b - a) for a, b in pairwise(ticks)) or 1.0
    decimals = next((k for k in range(10) if all(_is_whole(tick, step, k) for tick in (step, *ticks))), 9)
    return [f"{tick + 0.0:.{decimals}f}".replace("-", "\u2212") for tick in ticks]


def _is_whole(tick: float, step: float, decimals: int) -> bool:
    """Whether so many decimals hold a tick, to a millionth of the step."""
    power = 10.0**decimals
    scaled = tick * power
    return abs(scaled - round(scaled)) < 1e-6 * step * power
