"""Where an un-smoothed stick stops: short, at the rim, or by itself before it."""

from __future__ import annotations

import numpy as np

from feelcheck.hand.gate_stop.numbers import BRAKE_S, GIVE, HARD_AFTER, HARD_BEFORE, NEAR_RIM, NEAR_RIM_S, SPEED_FROM
from feelcheck.model import FloatArray

__all__ = ["stop_index"]


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
    late, met = int(np.argmax(path > SPEED_FROM)), int(np.argmax(path > 1.0 - GIVE))
    if met <= late:
        return None
    highest = float(speed[late : met + 1].max())
    before = int(np.flatnonzero(speed > HARD_BEFORE * highest)[-1])
    later = min(before + half + int(np.ceil(BRAKE_S / interval_s)), path.size - 1)
    rests = float(np.median(path[later : later + 1 + int(NEAR_RIM_S / interval_s)]))
    return later if abs(rests - 1.0) < NEAR_RIM and speed[later] < HARD_AFTER * highest else None
