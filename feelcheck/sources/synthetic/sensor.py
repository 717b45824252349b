"""The sensor: sensitivity, orientation, saturation, drift, noise, internal refresh."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.sources.synthetic.gimbal import STEP_S

__all__ = ["Sensor", "sense"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """What turns a deflection into a signal; 1 is the nominal signal at full throw.

    Parameters
    ----------
    sensitivity : float
        Signal for one throw.
    orientation_deg : float
        How far the sensor sits turned about the shaft, so that each axis sees a little of the other.
    inverted : bool
        Whether the signal falls when the stick goes right or up.
    saturation : {"none", "soft", "hard"}
        How the signal ends at `saturation_level`.
    saturation_level : float
        Largest signal.
    noise_fs : float
        Rms of the white noise, a value for each fine step or refresh.
    drift_fs : float
        Standard deviation of a slow wander after one minute.
    refresh_s : float
        Interval of the internal refresh (sample and hold on its own clock); 0 is none.
    """

    sensitivity: float = 1.0
    orientation_deg: float = 0.0
    inverted: bool = False
    saturation: Literal["none", "soft", "hard"] = "none"
    saturation_level: float = 1.3
    noise_fs: float = 0.001
    drift_fs: float = 0.0
    refresh_s: float = 0.0


def sense(sensor: Sensor, along: FloatArray, across: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return the sensor's signal on the fine grid.

    Parameters
    ----------
    sensor : Sensor
        Its parameters.
    along, across : ndarray, shape (n,), throws
        Deflection on the sensor's own axis and, counter-clockwise of it, on the other one.
    rng : Generator
        Draws noise, drift and the phase of the refresh.
    """
    turned = math.radians(sensor.orientation_deg)
    gain = -sensor.sensitivity if sensor.inverted else sensor.sensitivity
    signal: FloatArray = (gain * math.cos(turned)) * along
    if turned:
        signal += (gain * math.sin(turned)) * across
    if sensor.saturation == "hard":
        np.clip(signal, -sensor.saturation_level, sensor.saturation_level, out=signal)
    elif sensor.saturation == "soft":
        signal = np.asarray(sensor.saturation_level * np.tanh(signal / sensor.saturation_level), dtype=np.float64)
    if sensor.drift_fs > 0.0:
        signal += _wander(sensor.drift_fs, signal.size, rng)
    if sensor.refresh_s > 0.0:
        return _refreshed(sensor, signal, rng)
    if sensor.noise_fs > 0.0:
        signal += sensor.noise_fs * rng.standard_normal(signal.size, dtype=np.float32)
    return signal


def _wander(drift_fs: float, n: int, rng: np.random.Generator) -> FloatArray:
    """Return a random walk with a step each second, joined by straight lines."""
    knots = np.arange(math.ceil(n * STEP_S) + 2, dtype=np.float64)
    walk = np.cumsum(rng.normal(0.0, drift_fs / math.sqrt(60.0), knots.size))
    return np.asarray(np.interp(np.arange(n) * STEP_S, knots, walk - walk[0]), dtype=np.float64)


def _refreshed(sensor: Sensor, signal: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return the signal taken at the refresh instants and held on the fine grid."""
    n = signal.size
    per_refresh = sensor.refresh_s / STEP_S
    phase = rng.uniform(0.0, per_refresh)
    taken_at = np.arange(math.ceil(n / per_refresh) + 2) * per_refresh - phase
    taken = np.interp(taken_at, np.arange(n), signal)
    taken += sensor.noise_fs * rng.standard_normal(taken.size)
    which = np.floor((np.arange(n) + phase) / per_refresh).astype(np.intp)
    return np.asarray(taken[which], dtype=np.float64)
