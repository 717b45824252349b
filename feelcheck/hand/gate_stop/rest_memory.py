"""How long the noise at rest remembers itself: a filter that smooths more at rest than in a flick gives itself away."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feelcheck.hand.gate_stop.numbers import (
    LARGEST_LEAP,
    MEMORY_FACTOR,
    MEMORY_LEAVE_S,
    MEMORY_READINGS,
    MEMORY_REPORTS,
    MEMORY_SETTLE_S,
    STEADY,
    WHITE_CHANGES,
)
from feelcheck.hand.gate_stop.windows import StickReadings
from feelcheck.model import FloatArray
from feelcheck.numerics.filters import transform_length

__all__ = ["is_white", "longer_than", "noise_memory_s"]

LEVEL = 1.0 - float(np.exp(-1.0))
"""Where a memory ends, by definition: the structure function has come so close to its plateau."""
PLATEAU_S = (0.06, 0.12)
"""Lags from which to which the structure function has levelled out: beyond any memory that is meant for play."""


def noise_memory_s(reports: StickReadings, rests: Sequence[tuple[float, float]]) -> FloatArray:
    """Return the time over which each axis' noise at rest forgets itself, shape (2,), s; NaN where none is seen.

    Parameters
    ----------
    reports : StickReadings
        The whole recording.
    rests : sequence of (float, float), s
        Stretches at which the stick was left alone.

    Notes
    -----
    From the structure function, the mean square of differences over a lag: white noise behind a filter reaches
    1 - 1/e of its plateau at the filter's time constant. Held values, coarse steps, drift and hum
    give NaN.
    """
    pieces = [slice(*np.searchsorted(reports.t_s, (a + MEMORY_SETTLE_S, b - MEMORY_LEAVE_S))) for a, b in rests]
    return np.array([_memory(row, pieces, reports.interval_s) for row in reports.xy])


def longer_than(memory_s: float, delay_s: float, interval_s: float) -> bool:
    """Tell whether noise remembers itself for longer than a smoothing that acts in flicks allows.

    Parameters
    ----------
    memory_s, delay_s, interval_s : float, s
        From `noise_memory_s` (NaN: no), the smoothing delay in flicks, and the report interval.

    Examples
    --------
    >>> longer_than(0.02, 0.004, 0.001), longer_than(0.02, 0.02, 0.001)
    (True, False)
    """
    return memory_s > max(MEMORY_FACTOR * delay_s, MEMORY_REPORTS * interval_s)


def is_white(memory_s: float, interval_s: float) -> bool:
    """Tell whether noise at rest forgets itself within reports, so that no filter acts there; not for NaN.

    Parameters
    ----------
    memory_s, interval_s : float, s
        From `noise_memory_s`, and the report interval.
    """
    return memory_s < interval_s


def _memory(row: FloatArray, pieces: list[slice], interval_s: float) -> float:
    far = np.unique(np.round(np.linspace(*PLATEAU_S, 5) / interval_s).astype(int))
    kept = [row[cut] for cut in pieces if cut.stop - cut.start > far[-1] + 20]
    if sum(z.size for z in kept) < MEMORY_READINGS or far[0] < MEMORY_REPORTS + 1:
        return float("nan")
    moved = np.abs(np.concatenate([np.diff(z) for z in kept]))
    often = float(np.mean(moved > 0))
    moved = moved[moved > 0]
    structure = _structure(kept, int(far[-1]))
    plateau = structure[far]
    level = float(plateau.mean())
    if often < WHITE_CHANGES and (not moved.size or np.mean(moved**2) > LARGEST_LEAP * level):
        return float("nan")
    values = structure[: far[0] + 1] / level
    if plateau[-1] > STEADY * plateau[0] or values.max() > STEADY:
        return float("nan")
    at = int(np.argmax(values >= LEVEL))
    if at == 0:
        return float("nan")
    return float(at - (values[at] - LEVEL) / (values[at] - values[at - 1])) * interval_s


def _structure(pieces: list[FloatArray], longest: int) -> FloatArray:
    """Return the mean squares of differences over lags of 0 to `longest` readings, by the autocorrelation."""
    lags = np.arange(longest + 1)
    squares, count = np.zeros(lags.size), np.zeros(lags.size)
    for piece in pieces:
        z = piece - piece.mean()
        before = np.concatenate([[0.0], np.cumsum(z**2)])
        length = transform_length(z.size + longest)
        together = np.fft.irfft(np.abs(np.fft.rfft(z, length)) ** 2, length)[lags]
        squares += before[z.size - lags] + before[-1] - before[lags] - 2 * together
        count += z.size - lags
    return np.asarray(squares / count)
