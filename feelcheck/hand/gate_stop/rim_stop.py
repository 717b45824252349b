"""Where an un-smoothed stick stops: short, at the rim, or by itself before it."""

from __future__ import annotations

import numpy as np

from feelcheck.model import FloatArray

__all__ = ["GIVE", "stop_index"]

GIVE = 0.03
"""Fraction of the reach that rim and shaft give at most, outward, and that a stick springs back at most."""

BRAKE_S = 0.002
"""Time in which no thumb brakes a stick: what stops within it has met the rim."""

HARD_BEFORE, HARD_AFTER = 0.55, 0.35
"""Shares of its highest speed that a stick has just before it meets the rim, and has lost down to `BRAKE_S` later. A
thumb that brakes evenly takes longer from the one to the other."""

AT_RIM, AT_RIM_S = 0.015, 0.008
"""Fraction of the reach and time, s, within which a stick that has stopped is at the rim: a thumb may aim short of it,
and then the stick creeps on while the thumb presses."""

HALF_WAY = 0.4
"""Fraction of the reach from which on a stick's highest speed is looked for; the onset's edge is not undone well."""


def stop_index(path: FloatArray, half: int, interval_s: float) -> int | None:
    """Return the index by which a stick that the rim stopped has come to rest; None where it slowed down by itself.

    Parameters
    ----------
    path : ndarray, shape (n,)
        The un-smoothed way out in fractions of the reach.
    half : int
        Half of the readings over which its derivatives were taken: a kink is that much earlier and later.
    interval_s : float, s
        Report interval.

    Examples
    --------
    >>> stop_index(np.clip(np.arange(100) / 50.0, 0.0, 1.0), 0, 0.001)
    51
    >>> stop_index(np.sin(np.clip(np.arange(100) / 50.0, 0.0, 1.0) * np.pi / 2), 0, 0.001) is None
    True
    """
    speed = np.gradient(path)
    late, met = int(np.argmax(path > HALF_WAY)), int(np.argmax(path > 1.0 - GIVE))
    if met <= late:
        return None
    highest = float(speed[late : met + 1].max())
    before = int(np.flatnonzero(speed > HARD_BEFORE * highest)[-1])
    later = min(before + half + int(np.ceil(BRAKE_S / interval_s)), path.size - 1)
    rests = float(np.median(path[later : later + 1 + int(AT_RIM_S / interval_s)]))
    return later if abs(rests - 1.0) < AT_RIM and speed[later] < HARD_AFTER * highest else None
