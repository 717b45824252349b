"""A stick that sets a turn rate: what the electronics' response does to the view, sample by sample.

Nothing here knows a human constant: it is the kinematics of a turn rate that follows the logged deflection.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest

import numpy as np

from feelcheck.model import FloatArray, Play
from feelcheck.numerics.played_response import pole_by_side

__all__ = ["ViewRun", "minimum_jerk", "pass_through_poles", "turn_of_view"]

STEP_S = 20e-6
SETTLING_POLES = 14.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ViewRun:
    """One out-and-back flick in rate control.

    Parameters
    ----------
    t_s, deflection_fs, output_fs : ndarray, shape (n,)
        Time, true deflection and the electronics' output, fractions of full throw.
    angle_deg : float
        Where the view ends.
    carry_on_deg : float
        How far it turns after the stick is back at centre.
    settle_s : float
        Time from the stick being back at centre until the output stays inside the rest band.
    """

    t_s: FloatArray
    deflection_fs: FloatArray
    output_fs: FloatArray
    angle_deg: float
    carry_on_deg: float
    settle_s: float


def minimum_jerk(u: FloatArray) -> FloatArray:
    """Return the minimum-jerk path at relative times `u` (clipped to 0..1), shape (n,).

    Parameters
    ----------
    u : ndarray, shape (n,)
        Elapsed part of the movement, 0 to 1.

    References
    ----------
    T. Flash, N. Hogan, J. Neurosci. 5:1688-1703 (1985).

    Examples
    --------
    >>> minimum_jerk(np.array([0.0, 0.5, 1.0])).tolist()
    [0.0, 0.5, 1.0]
    """
    v = np.clip(u, 0.0, 1.0)
    return np.asarray(v**3 * (10.0 - 15.0 * v + 6.0 * v**2))


def pass_through_poles(
    deflection_fs: FloatArray, rising_s: Sequence[float], falling_s: Sequence[float], step_s: float = STEP_S
) -> FloatArray:
    """Return the output of poles whose time constant depends on the electrical direction.

    Each pole moves towards its input with its rising time constant while the input lies above its output, with the
    falling one while it lies below.

    Parameters
    ----------
    deflection_fs : ndarray, shape (n,)
        Input on a regular grid of `step_s`.
    rising_s, falling_s : sequences of float, s
        Time constants; the shorter sequence is filled with zeros (no smoothing).
    step_s : float, s
        Grid interval.

    Returns
    -------
    ndarray, shape (n,)
        Output, same unit as the input.
    """
    output = np.asarray(deflection_fs, dtype=np.float64)
    for up_s, down_s in zip_longest(rising_s, falling_s, fillvalue=0.0):
        output = pole_by_side(output, up_s, down_s, step_s)
    return output


def turn_of_view(
    play: Play, rising_s: Sequence[float], falling_s: Sequence[float], *, sign: int = 1, out_s: float = 0.0
) -> ViewRun:
    """Run one out-and-back flick and return where the view goes.

    Parameters
    ----------
    play : Play
        Turn rate, hold time, dead zone and response curve.
    rising_s, falling_s : sequences of float, s
        Poles of the electronics per electrical direction.
    sign : {1, -1}
        1 for a flick that lets the logged code rise, -1 for one that lets it fall.
    out_s : float, s
        Duration of the way out, minimum jerk; 0 for a rectangular pulse. The spring returns the stick at once.

    Returns
    -------
    ViewRun
        The run; angles in degrees, signed like the code.
    """
    slowest = max([*rising_s, *falling_s, STEP_S])
    back_s = out_s + play.held_s
    t_s = np.arange(0.0, back_s + SETTLING_POLES * slowest, STEP_S)
    path = (t_s < back_s - STEP_S / 2).astype(np.float64)
    if out_s > 0:
        path *= minimum_jerk(t_s / out_s)
    deflection = sign * path
    output = pass_through_poles(np.concatenate([[0.0], deflection]), rising_s, falling_s)[1:]
    rate = play.turn_rate_deg_s * _shaped(output, play)
    after = t_s >= back_s - STEP_S / 2
    return ViewRun(
        t_s=t_s,
        deflection_fs=deflection,
        output_fs=output,
        angle_deg=float(rate.sum() * STEP_S),
        carry_on_deg=float(rate[after].sum() * STEP_S),
        settle_s=_settling(t_s - back_s, output, play.rest_band_fraction),
    )


def _shaped(output_fs: FloatArray, play: Play) -> FloatArray:
    dead = play.dead_zone_fraction
    live = np.clip((np.abs(output_fs) - dead) / (1.0 - dead), 0.0, 1.0)
    return np.asarray(np.sign(output_fs) * live**play.curve_exponent)


def _settling(since_s: FloatArray, output_fs: FloatArray, band_fs: float) -> float:
    outside = np.flatnonzero(np.abs(output_fs) > band_fs)
    return float(max(0.0, since_s[outside[-1]] + STEP_S)) if outside.size else 0.0
