"""A source far slower than the log it stands in: its values change at whole multiples of one interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.hand.numbers import (
    APART,
    JUMP_SHARE,
    JUMPS,
    LEAST_UPDATE_U,
    MAX_FALSE_ALARM,
    MIN_CHANGES,
    MIN_ROWS,
    ODD_SHARE,
    RESIDUAL_ROWS,
    RESIDUAL_SHARE,
    SOONEST,
)
from feelcheck.model import FloatArray
from feelcheck.numerics.combs import comb_spectrum, false_alarm_probability, refine_spacing

__all__ = ["SlowUpdates", "find_slow_updates"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowUpdates:
    """Interval of the source, its standard uncertainty, and the number of changes it was told from."""

    interval_s: float
    u_s: float
    n: int


def find_slow_updates(t_s: FloatArray, codes: FloatArray) -> SlowUpdates | None:
    """Return the interval at which a slow source brings new values, None where nothing shows one.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Instants of the rows, non-decreasing.
    codes : ndarray, shape (n,)
        Codes in units of the step.

    Notes
    -----
    No report interval has to be known. The spacings between changes must hardly ever be shorter than `MIN_ROWS` rows,
    although many changes are larger than a step (else the motion, not the source, makes the pause), and the instants of
    change must lie on a comb near the shortest usual spacing. The null model, instants without a common spacing, is
    that of the Rayleigh test; see `feelcheck.numerics.combs`.

    Examples
    --------
    >>> t_s = 0.515e-3 * np.arange(8000)
    >>> codes = np.round(1000 * np.sin(2 * np.pi * 0.7 * np.floor(t_s / 9e-3) * 9e-3))
    >>> round(1e3 * find_slow_updates(t_s, codes).interval_s, 2)
    9.0
    """
    steps = np.diff(t_s)
    at = np.flatnonzero(np.diff(codes) != 0) + 1
    if at.size < MIN_CHANGES or not np.any(steps > 0):
        return None
    row_s = float(np.median(steps[steps > 0]))
    jumps = np.abs(codes[at] - codes[at - 1])
    changes = t_s[at]
    spacing = np.diff(changes)
    soonest_s = float(np.quantile(spacing, SOONEST))
    if soonest_s < MIN_ROWS * row_s or np.mean(jumps >= JUMPS) < JUMP_SHARE:
        return None
    if np.mean(spacing < soonest_s - 1.5 * row_s) > ODD_SHARE:
        return None
    cuts = np.flatnonzero(spacing > APART * soonest_s) + 1
    groups = [group for group in np.split(changes, cuts) if group.size >= 4]
    n = sum(group.size for group in groups)
    if n < MIN_CHANGES:
        return None
    return _on_comb(groups, n, soonest_s, row_s)


def _on_comb(groups: list[FloatArray], n: int, soonest_s: float, row_s: float) -> SlowUpdates | None:
    shortest_s, longest_s = max(0.8 * soonest_s, soonest_s - 1.5 * row_s), soonest_s + 1.5 * row_s
    frequency, power = comb_spectrum(groups, shortest_s, longest_s)
    if not frequency.size:
        return None
    best = int(np.argmax(power))
    span_s = max(float(np.ptp(group)) for group in groups)
    trials = span_s * (1 / shortest_s - 1 / longest_s)
    if false_alarm_probability(float(power[best]), len(groups), trials) > MAX_FALSE_ALARM:
        return None
    interval_s, u_s, _, residual_s = refine_spacing(groups, 1 / float(frequency[best]))
    if residual_s > max(RESIDUAL_ROWS * row_s, RESIDUAL_SHARE * interval_s):
        return None
    return SlowUpdates(interval_s=interval_s, u_s=max(u_s, LEAST_UPDATE_U * interval_s), n=n)
