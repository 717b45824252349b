"""What the rim allows in one flick alone, for a first look while a recording goes on."""

from __future__ import annotations

import numpy as np

from feelcheck.hand.gate_stop.batch import N_GROUPS
from feelcheck.hand.gate_stop.even_flicks import EvenFlicks
from feelcheck.hand.gate_stop.numbers import FLICK_MOVED, FLICK_REPORTS
from feelcheck.hand.gate_stop.rim_bracket import ONE_POLE, rim_brackets
from feelcheck.model import FloatArray

__all__ = ["flick_range"]

LATE = 0.9
"""Share of the way at which a flick is aligned."""
BEFORE_S, AFTER_S = 0.25, 0.2
"""How much of a flick is looked at, about where it is aligned."""


def flick_range(t_s: FloatArray, x: FloatArray, y: FloatArray) -> tuple[float | None, float | None]:
    """Return the smoothing delays of one pole that one flick into the rim allows, s.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Instants of the reports, from rest to the hold at the rim.
    x, y : ndarray, shape (n,), fractions of full throw
        Both axes at these instants.

    Returns
    -------
    float or None
        The least, None where the stop was too soft to tell.
    float or None
        The greatest, None where the flick says nothing.

    Notes
    -----
    The bracket of `rim_brackets` with a single flick: what it says of both axes together, since one flick cannot tell
    a slide along the rim from smoothing. The pooled bracket of a recording is narrower.
    """
    flicks = _even(t_s, x, y)
    if flicks is None:
        return None, None
    found = rim_brackets(flicks, ONE_POLE, least=1)
    told = [g for g in range(N_GROUPS) if found.n[g] and np.isfinite(found.high_s[g])]
    if not told:
        return None, None
    low, high = min(float(found.low_s[g]) for g in told), max(float(found.high_s[g]) for g in told)
    return low or None, high


def _even(t_s: FloatArray, x: FloatArray, y: FloatArray) -> EvenFlicks | None:
    """Lay one flick on even instants about where it is nearly at its end; None where there is too little of it."""
    if t_s.size < FLICK_REPORTS:
        return None
    own = np.stack([x - np.median(x[:3]), y - np.median(y[:3])])
    end = np.median(own[:, -max(3, t_s.size // 5) :], axis=1)
    way = (end @ own) / max(float(end @ end), 1e-9)
    moving = np.flatnonzero((way > FLICK_MOVED) & (way < 1 - FLICK_MOVED))
    if moving.size < FLICK_REPORTS // 2 or np.hypot(*end) < 0.3:
        return None
    interval_s = float(np.median(np.diff(t_s[moving[0] : moving[-1] + 1])))
    late_s = float(t_s[int(np.argmax(way > LATE))])
    n_before, n_after = int(BEFORE_S / interval_s), int(min(AFTER_S, t_s[-1] - late_s) / interval_s)
    even_s = late_s + interval_s * np.arange(-n_before, n_after)
    sign = np.where(end < 0, -1.0, 1.0)
    laid = sign[:, None] * np.stack([np.interp(even_s, t_s, each) for each in own])
    still = laid[:, -max(4, n_after // 2) :]
    return EvenFlicks(
        y=laid[None],
        end=np.abs(end)[None],
        group=np.array([[axis * 2 + int(sign[axis] < 0) for axis in range(2)]]),
        tells=np.abs(end)[None] > 0.35 * np.hypot(*end),
        noise_fs=max(float(np.std(np.diff(still, axis=1))) / np.sqrt(2.0), 1e-5),
        interval_s=interval_s,
        late=n_before,
    )
