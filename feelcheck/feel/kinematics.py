"""Closed forms of smoothing in use: trailing, carry-on angle, drift, bands, speed steps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from feelcheck.feel.rate_control import STEP_S, minimum_jerk, pass_through_poles

__all__ = [
    "FlickPassage",
    "deflection_of_speed_step",
    "flick_through_poles",
    "gain_at",
    "tremor_band_gain",
    "white_noise_kept",
]

TREMOR_BAND_HZ = (8.0, 12.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class FlickPassage:
    """What poles do to a minimum-jerk flick of duration T and amplitude 1.

    Parameters
    ----------
    peak_trailing_fraction : float
        Greatest distance of the output behind the stick, as a fraction of the flick.
    peak_speed_kept_fraction : float
        Peak speed of the output over that of the stick.
    peak_speed_delay_s : float, s
        How much later the output's speed peaks.
    short_at_end_fraction : float
        What is missing when the stick has arrived.
    """

    peak_trailing_fraction: float
    peak_speed_kept_fraction: float
    peak_speed_delay_s: float
    short_at_end_fraction: float


def flick_through_poles(poles_s: Sequence[float], flick_s: float) -> FlickPassage:
    """Return what these poles do to a minimum-jerk flick (convolution on a fine grid).

    Parameters
    ----------
    poles_s : sequence of float, s
        Time constants.
    flick_s : float, s
        Duration of the flick.

    Examples
    --------
    >>> passage = flick_through_poles([0.005], 0.1)
    >>> round(100 * passage.peak_trailing_fraction, 1)
    9.2
    """
    step_s = min(STEP_S, flick_s / 4000)
    t_s = np.arange(0.0, 2.0 * flick_s, step_s)
    stick = minimum_jerk(t_s / flick_s)
    output = pass_through_poles(stick, poles_s, poles_s, step_s)
    speed_in, speed_out = np.gradient(stick, step_s), np.gradient(output, step_s)
    arrived = int(np.searchsorted(t_s, flick_s))
    return FlickPassage(
        peak_trailing_fraction=float(np.max(stick - output)),
        peak_speed_kept_fraction=float(speed_out.max() / speed_in.max()),
        peak_speed_delay_s=float(t_s[speed_out.argmax()] - t_s[speed_in.argmax()]),
        short_at_end_fraction=float(1.0 - output[arrived]),
    )


def gain_at(poles_s: Sequence[float], frequency_hz: float) -> float:
    """Return |H| of these poles at a frequency.

    Parameters
    ----------
    poles_s : sequence of float, s
        Time constants.
    frequency_hz : float, Hz
        Where to look.

    Examples
    --------
    >>> round(gain_at([0.005], 10.0), 3)
    0.954
    """
    return math.prod(1.0 / math.hypot(1.0, 2 * math.pi * frequency_hz * tau) for tau in poles_s)


def tremor_band_gain(poles_s: Sequence[float]) -> tuple[float, float]:
    """Return |H| at both ends of the hand's tremor band, 8 and 12 Hz.

    Parameters
    ----------
    poles_s : sequence of float, s
        Time constants.

    References
    ----------
    Band: T. I. H. Brown, P. M. H. Rack, H. F. Ross, J. Physiol. (1982): 8-11 Hz of a thumb flexing against a light
    spring; D. J. Sutton, J. D. Sykes, J. Physiol. (1967): 8-10 Hz on a pressure stick.
    """
    low, high = TREMOR_BAND_HZ
    return gain_at(poles_s, low), gain_at(poles_s, high)


def white_noise_kept(tau_s: float, interval_s: float) -> float:
    """Return the rms of white sampled noise after one pole, relative to before.

    Parameters
    ----------
    tau_s : float, s
        Time constant.
    interval_s : float, s
        Time between two reports.

    Notes
    -----
    With a = 1 - exp(-T / tau) the variance is kept by a / (2 - a).

    Examples
    --------
    >>> round(white_noise_kept(0.005, 0.001), 2)
    0.32
    """
    if tau_s <= 0:
        return 1.0
    a = -math.expm1(-interval_s / tau_s)
    return math.sqrt(a / (2.0 - a))


def deflection_of_speed_step(
    step_fraction: float, weber_fraction: float, *, dead_zone_fraction: float = 0.0, curve_exponent: float = 1.0
) -> float:
    """Return the deflection below which one step of the axis changes the turn rate by more than a Weber fraction.

    Parameters
    ----------
    step_fraction : float
        One step of the axis as a fraction of full throw (centre to rim).
    weber_fraction : float
        Relative change of speed that counts (0.07 for two steady speeds).
    dead_zone_fraction, curve_exponent : float
        Shape of the turn rate: ((d - dead) / (1 - dead)) ** exponent.

    Returns
    -------
    float
        Deflection in fractions of full throw, at most 1.

    Examples
    --------
    >>> round(deflection_of_speed_step(2 / 255, 0.07), 3)
    0.112
    """
    ratio = math.expm1(math.log1p(weber_fraction) / curve_exponent)
    return min(1.0, dead_zone_fraction + step_fraction / ratio)
