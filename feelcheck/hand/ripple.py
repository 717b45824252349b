"""The ripple that a smoothed staircase leaves on fast motion, and what could have stayed unseen."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from feelcheck.hand.fast_motion import Motion, fast_stretches
from feelcheck.hand.numbers import (
    CLEAR_REPEATS,
    HELD_SHARE,
    LONGEST_PERIOD,
    LOWEST_RIPPLE,
    MAX_FALSE_ALARM,
    PLAIN_PERIOD,
    SAFETY,
)
from feelcheck.model import FloatArray
from feelcheck.numerics.chi_squared import chi_squared_quantile

__all__ = ["Ripple", "find_ripple", "longest_hidden"]

N_FFT = 8192


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ripple:
    """A periodic unevenness of the speed during fast motion.

    Parameters
    ----------
    frequency : float or None
        Cycles per report, at most 0.5; None where nothing stands out.
    amplitude : float
        Of the instant at which the value is true, in report intervals.
    frequencies, detectable : ndarray, shape (m,)
        Smallest amplitude that would have been seen at each frequency; empty where there was too little fast motion.
    """

    frequency: float | None = None
    amplitude: float = 0.0
    frequencies: FloatArray = field(default_factory=lambda: np.zeros(0))
    detectable: FloatArray = field(default_factory=lambda: np.zeros(0))


def find_ripple(motions: list[Motion], min_speed: float) -> Ripple:
    """Return the periodic unevenness of fast motion, or how large it would have had to be.

    Parameters
    ----------
    motions : list of Motion
        One axis, all parts.
    min_speed : float
        Steps per report from which motion counts as fast.

    Notes
    -----
    The second difference times the local speed is transformed stretch by stretch; divided by the response of the second
    difference it is the spectrum of an error of timing, in report intervals. Its peak is judged against the median of
    its surroundings.
    """
    frequencies = np.arange(N_FFT // 2 + 1) / N_FFT
    power, weights, longest = np.zeros(frequencies.size), [], 0
    for motion in motions:
        speed = motion.speed()
        for a, b in fast_stretches(speed, min_speed):
            if b - a < 16 or not np.all(motion.seen[a:b]):
                continue
            inner = speed[a + 1 : b - 1]
            spectrum = np.fft.rfft(inner * np.diff(motion.codes[a:b], 2), N_FFT)
            power += spectrum.real**2 + spectrum.imag**2
            weights.append(float(inner @ inner))
            longest = max(longest, b - a)
    if len(weights) < 4:
        return Ripple()
    band = np.flatnonzero(frequencies >= LOWEST_RIPPLE)
    return _judge(frequencies[band], power[band], np.array(weights), longest)


def _judge(frequencies: FloatArray, power: FloatArray, weights: FloatArray, longest: int) -> Ripple:
    # second differences weigh noise by the square of 4 sin^2: taken out again
    flat = power / (4 * np.sin(np.pi * frequencies) ** 2) ** 2
    width = N_FFT // 16
    centres = np.arange(0, flat.size, width // 4)
    medians = [float(np.median(flat[max(0, i - width) : i + width])) for i in centres]
    level = np.maximum(np.interp(np.arange(flat.size), centres, medians), 1e-30)
    n_groups = float(weights.sum() ** 2 / np.sum(weights**2))
    threshold = 1.5 * chi_squared_quantile(2 * n_groups, MAX_FALSE_ALARM / longest) / (2 * n_groups)
    to_amplitude = 4 / float(np.sum(weights**2))
    ratio = flat / (threshold * level)
    index = _fundamental(frequencies, ratio, 0.5 / longest)
    return Ripple(
        frequency=float(frequencies[index]) if ratio[index] > 1 else None,
        amplitude=math.sqrt(float(flat[index]) * to_amplitude),
        frequencies=frequencies,
        detectable=np.sqrt(level * threshold * to_amplitude),
    )


def _fundamental(frequencies: FloatArray, ratio: FloatArray, width: float) -> int:
    """Return the index of the clearest peak, or of the lowest clear one that it is a multiple of."""
    inner = ratio[1:-1] * ((ratio[1:-1] >= ratio[:-2]) & (ratio[1:-1] >= ratio[2:]))
    top = 1 + int(np.argmax(inner)) if inner.max() >= ratio[-1] else ratio.size - 1
    for divisor in (4, 3, 2):
        near = np.flatnonzero(np.abs(frequencies - frequencies[top] / divisor) <= width)
        if near.size > 2 and ratio[near].max() > 1 and near[0] < near[np.argmax(ratio[near])] < near[-1]:
            return int(near[np.argmax(ratio[near])])
    return top


def longest_hidden(ripple: Ripple, smoothing: float) -> float | None:
    """Return the longest update interval, in reports, that could have stayed unseen, or None where it has no limit.

    Parameters
    ----------
    ripple : Ripple
        Of a motion without repeats and without a visible ripple.
    smoothing : float
        Upper bound of the smoothing time constant behind the source, in reports.

    Notes
    -----
    A staircase of period R behind a pole tau is off a smooth motion by R / pi / hypot(1, 2 pi tau / R) intervals in
    its fundamental. Two such poles are taken, since a second one cannot be excluded; half of what they leave must be
    larger than what the spectrum would have shown at the (aliased) frequency, or the repeats themselves must show.
    """
    if ripple.frequencies.size == 0 or not math.isfinite(smoothing):
        return None
    periods = np.arange(1.25, LONGEST_PERIOD, 0.05)
    visible = _repeats_share(periods, 2 * smoothing) > CLEAR_REPEATS
    for k in (1, 2, 3):  # a slow staircase shows in its multiples
        rates = k / periods
        amplitudes = periods / (np.pi * k) / np.hypot(1.0, 2 * np.pi * smoothing * rates) ** 2
        aliased = np.abs(rates - np.rint(rates))
        seen = SAFETY * amplitudes > np.interp(aliased, ripple.frequencies, ripple.detectable)
        visible |= seen & (aliased >= LOWEST_RIPPLE)
    for longest in (PLAIN_PERIOD, LONGEST_PERIOD):
        within = visible[periods < longest]
        if within[-1]:
            hidden = np.flatnonzero(~within)
            return float(periods[hidden[-1] + 1]) if hidden.size else 1.0
    return None


def _repeats_share(periods: FloatArray, smoothing: float) -> FloatArray:
    """Return the share of reports that move too little to count, for a staircase of each period behind one pole."""
    tau = max(smoothing, 1e-3)
    first = periods * -np.expm1(-1 / tau) / -np.expm1(-periods / tau)  # of the mean speed, just after a new value
    moving = tau * np.log(np.maximum(first / HELD_SHARE, 1.0))
    return np.asarray(np.clip(1 - np.maximum(moving, 1.0) / periods, 0.0, 1.0))
