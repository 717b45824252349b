"""What stands on the bench: drive, stages in their order, instrument."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from feelcheck.model import FloatArray

__all__ = ["BenchSetup", "Drive", "Instrument", "Linear", "Sampler", "SlewLimit", "Squash", "Stage"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """What is switched between 0 and 1.

    Parameters
    ----------
    kind : {"coil", "exponential", "second_order", "s_curve", "generator"}
        A coil at a current-limited supply (an exponential that stops at the limit), a plain exponential, a controlled
        current with overshoot, a raised cosine, a generator's edge.
    time_s : float
        Time constant; of the raised cosine the whole duration; of the second order 1 / w0.
    fall_ratio : float
        Falling edges take this many times longer (a freewheel diode).
    headroom : float
        Level that the limited supply aims at, over the level where it stops.
    damping : float
        Of the second order.
    ripple, ripple_hz : float
        Amplitude of the chopper's triangle as a share of the step, and its frequency.
    bounces : int
        How often a relay's contact opens again within its first milliseconds.
    """

    kind: Literal["coil", "exponential", "second_order", "s_curve", "generator"] = "coil"
    time_s: float = 1e-3
    fall_ratio: float = 1.0
    headroom: float = 1.5
    damping: float = 0.6
    ripple: float = 0.0
    ripple_hz: float = 20e3
    bounces: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Linear:
    """A linear stage x' = A x + B u, y = C x + D u that loads nothing before it."""

    a: FloatArray
    b: FloatArray
    c: FloatArray
    d: float = 0.0

    @classmethod
    def pole(cls, tau_s: float, direct: float = 0.0) -> Linear:
        """Return a pole of unit gain, a share of the input passed on directly (a zero at direct times tau).

        Parameters
        ----------
        tau_s : float, s
            The time constant.
        direct : float
            The share of the input.
        """
        rate = 1.0 / tau_s
        return cls(a=np.array([[-rate]]), b=np.array([rate]), c=np.array([1.0 - direct]), d=direct)

    @classmethod
    def ladder(cls, r1: float, c1: float, r2: float, c2: float) -> Linear:
        """Return two resistors and capacitors that load each other.

        Parameters
        ----------
        r1, r2 : float, ohm
            The first and the second resistor.
        c1, c2 : float, F
            The capacitor behind each.
        """
        a = np.array([[-(1 / r1 + 1 / r2) / c1, 1 / (r2 * c1)], [1 / (r2 * c2), -1 / (r2 * c2)]])
        return cls(a=a, b=np.array([1 / (r1 * c1), 0.0]), c=np.array([0.0, 1.0]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampler:
    """A sensor that samples internally: holds its value, after a conversion time."""

    hold_s: float
    phase: float
    conversion_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SlewLimit:
    """An op-amp follower that slews no faster than this, in steps per second."""

    rate_per_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Squash:
    """A static curve: soft saturation of a sensor (tanh), or diodes that clamp at a rail with a soft knee."""

    kind: Literal["tanh", "diode"]
    strength: float


Stage = Linear | Sampler | SlewLimit | Squash


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """How it is looked at; times in s, disturbances as shares of the step.

    Parameters
    ----------
    duration_s, interval_s, before_s : float
        Length, sample interval, time before the first edge.
    bits : int
        Of the converter, whose range is 1.15 to 3 times the step (`range_over`).
    noise, pink, hum, hum_hz : float
        Rms of white and of coloured noise, amplitude and frequency of mains pick-up (with its third harmonic).
    curvature : float
        Integral nonlinearity of the converter at mid range, as a share of the range.
    coupling_s : float
        Output picks up this many seconds times the drive's slope (a probe wire beside the coil).
    ac_corner_s : float
        Time constant of an AC-coupled input; 0 for DC.
    skew_s : float
        How much later the output is sampled than the drive (one converter for two channels).
    jitter, uneven : float
        Scatter of the sample instants that is not known, and that is recorded, as shares of the interval.
    time_digits : int
        Decimals of the printed time in units of the interval; 9 for all.
    averages, trigger_jitter_s : int, float
        Sweeps that were averaged, and by how much they miss each other.
    peak_detect : bool
        Whether the greatest and the least of every pair of intervals are kept.
    probe_s : float
        Time constant of the drive's own probe or shunt filter.
    has_drive : bool
        Whether the drive was recorded.
    """

    duration_s: float = 0.06
    interval_s: float = 1e-5
    before_s: float = 0.01
    bits: int = 8
    range_over: float = 1.25
    noise: float = 0.003
    pink: float = 0.0
    hum: float = 0.0
    hum_hz: float = 50.0
    curvature: float = 0.0
    coupling_s: float = 0.0
    ac_corner_s: float = 0.0
    skew_s: float = 0.0
    jitter: float = 0.0
    uneven: float = 0.0
    time_digits: int = 9
    averages: int = 1
    trigger_jitter_s: float = 0.0
    peak_detect: bool = False
    probe_s: float = 0.0
    has_drive: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchSetup:
    """Everything behind one capture; edges alternate, the first one rises."""

    drive: Drive = field(default_factory=Drive)
    stages: tuple[Stage, ...] = (Linear.pole(4.7e-3),)
    instrument: Instrument = field(default_factory=Instrument)
    n_edges: int = 1
    half_period_s: float = 0.05
    gain_v: float = 1.0
    offset_v: float = 0.6
