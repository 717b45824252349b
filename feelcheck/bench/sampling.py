"""Samples that are not evenly spaced in time."""

from __future__ import annotations

import numpy as np

from feelcheck.bench.numbers import GAP_STEPS, N_STRETCHES, UNLIKE_STEPS
from feelcheck.model import Capture, Caveat, FloatArray
from feelcheck.numerics.si_values import format_si

__all__ = ["sampling_caveats"]


def sampling_caveats(capture: Capture) -> tuple[Caveat, ...]:
    """Return what is to be said where a capture holds two sample rates, or a gap.

    Parameters
    ----------
    capture : Capture
        Its own instants are used as they are; nothing is put on an even grid.
    """
    if capture.interval_s is not None or capture.t_s.size < 2 * N_STRETCHES:
        return ()
    steps = np.diff(capture.t_s)
    typical = _typical_steps(steps)
    found = []
    if typical[-1] > UNLIKE_STEPS * typical[0]:
        found.append(_two_rates(float(typical[0]), float(typical[-1])))
    gaps = np.flatnonzero(steps > GAP_STEPS * typical[-1])
    if gaps.size:
        found.append(_gap(gaps.size, float(np.max(steps)), float(capture.t_s[int(np.argmax(steps))])))
    return tuple(found)


def _typical_steps(steps: FloatArray) -> FloatArray:
    """Sorted typical steps of equally long stretches; means over the middle, so that rounded times do not alternate."""
    found = []
    for part in np.array_split(steps, N_STRETCHES):
        inner = np.sort(part)[part.size // 10 : part.size - part.size // 10]
        found.append(float(np.mean(inner)))
    return np.sort(np.array(found))


def _two_rates(shortest: float, longest: float) -> Caveat:
    return Caveat(
        code="sample_rate_changes",
        text=f"The sample interval changes within the capture, from {format_si(shortest, 's')}"
        f" to {format_si(longest, 's')}: the instants were used as they are.",
        advice="Check that the time column is right, or capture each part on its own.",
    )


def _gap(n: int, longest: float, at: float) -> Caveat:
    return Caveat(
        code="gap_in_time",
        text=f"{'Time jumps' if n == 1 else f'Time jumps {n} times, at most'} by {format_si(longest, 's')}"
        f" at {format_si(at, 's')}.",
        advice="Edges next to a gap are not whole: capture in one go.",
    )
