"""Native step and report interval of a pad, from a few seconds of motion."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import Caveat, Estimate

__all__ = ["measured_interval", "native_step"]

_WIDTHS = range(7, 15)
_NATIVE_RANGE = 4096
_FALSE_ALARM = 1e-6
_LEAST_STAMPS = 50
_LEAST_ODD = 0.2
_LEAST_COHERENCE = 0.5
_PAUSE_S = 0.05
_LATE_LOOK = 2.0  # usual looks; a change that a longer one saw has no instant
_MOVE = Caveat(
    code="little_motion",
    text="The pad moved too little to tell.",
    advice="Watch again and turn both sticks in full circles.",
)


def native_step(values: Sequence[int], minimum: int, maximum: int) -> Estimate:
    """Return the step of the pad's own numbers, in the counts that are logged.

    Parameters
    ----------
    values : sequence of int, counts
        Distinct values seen.
    minimum, maximum : int, counts
        Range of the axis.

    Notes
    -----
    A range of up to 12 bits is the pad's own. In a wider one the values are held against the lattices of 7 to 14 bits
    stretched over the range, ``(2**bits - 1)`` steps from end to end: the coarsest one is taken from which no value is
    further than one count (SDL and drivers round or cut), if chance would do that less than once in a million. A stick
    that the pad itself scaled stands on no such lattice.

    Examples
    --------
    >>> native_step([round(k * 65535 / 255) - 32768 for k in range(40)], -32768, 32767).value
    257.0
    """
    distinct = np.unique(np.asarray(values, dtype=np.int64))
    span = maximum - minimum
    if span < _NATIVE_RANGE:
        return Estimate.measured("native_step", 1.0, u=0.0, unit="counts", n=distinct.size)
    for n_bits in _WIDTHS:
        step = span / (2**n_bits - 1)
        place = (distinct - minimum) / step
        far = np.abs(place - np.rint(place)) * step
        chance = min(3.0 / step, 1.0) ** distinct.size
        if chance < _FALSE_ALARM and np.all(far <= 1.0):
            return Estimate.measured("native_step", step, u=0.0, unit="counts", n=distinct.size)
    few = distinct.size < 64
    unknown = Caveat(
        code="no_lattice",
        text="The values stand on no lattice of 7 to 14 bits: the pad scales them, or has more.",
        advice="Analyse a recording; it looks for other lattices.",
    )
    return Estimate.not_resolved("native_step", unit="counts", n=distinct.size, caveats=(_MOVE,) if few else (unknown,))


def _halved(t_s: NDArray[np.float64], interval_s: float) -> bool:
    """Whether nearly all steps are even multiples of an interval: a few late stamps then made half of the true one."""
    from feelcheck.numerics.report_grid import common_multiple

    return common_multiple(np.rint(np.diff(t_s) / interval_s), (2,), _LEAST_ODD) > 1


def measured_interval(stamps_ns: Sequence[int], waited_ns: Sequence[int]) -> Estimate:
    """Return the interval of a pad's reports while it moved.

    Parameters
    ----------
    stamps_ns : sequence of int, ns
        When changes were seen.
    waited_ns : sequence of int, ns
        How long before its stamp each may have happened: the length of the look that saw it, 0 for the kernel's stamps.

    Notes
    -----
    Only changes are seen, so reports that repeat their values are missing: a regular grid is fitted to the stamps of
    the moving stretches, and none is told where they do not keep to one. On a busy machine some looks are late, and
    looks that are late by turns make a fraction of the true interval: changes of long looks are left out, and no
    interval of less than two usual looks is told.
    """
    stamp, waited = np.asarray(stamps_ns, dtype=np.int64), np.asarray(waited_ns, dtype=np.int64)
    longest_ns = _LATE_LOOK * float(np.median(waited)) if waited.size else 0.0
    t_s = np.unique(stamp[waited <= longest_ns]) * 1e-9
    if t_s.size < _LEAST_STAMPS:
        return Estimate.not_resolved("report_interval", unit="s", n=t_s.size, caveats=(_MOVE,))
    from feelcheck.numerics.report_grid import fit_grid

    # A pause is cut out, since no grid can be counted across it.
    apart = np.diff(t_s, prepend=t_s[0])
    moving = np.cumsum(np.where(apart > _PAUSE_S, _PAUSE_S, apart))
    longest = np.split(moving, np.flatnonzero(apart > _PAUSE_S))
    stretch = max(longest, key=len)
    fit = fit_grid(stretch)
    unsure = fit is None or fit.coherence < _LEAST_COHERENCE or fit.interval_s < longest_ns * 1e-9
    if fit is None or unsure or _halved(stretch, fit.interval_s):
        uneven = Caveat(
            code="uneven_reports",
            text="The reports keep no regular interval.",
            advice="Use a cable where the pad has one, and close programs that keep the computer busy.",
        )
        return Estimate.not_resolved("report_interval", unit="s", n=t_s.size, caveats=(uneven,))
    return Estimate.measured("report_interval", fit.interval_s, u=fit.u_s, unit="s", n=t_s.size)
