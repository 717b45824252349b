"""From positions to codes: sensors, poles, a converter and filters in whole numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from feelcheck.model import FloatArray
from feelcheck.testing.in_hand.mechanics import STEP_S
from feelcheck.testing.in_hand.world import Firmware, Sensor, Stage

__all__ = ["filtered_codes", "output_codes", "run_stage", "sensed", "through_pole"]

Codes = NDArray[np.int64]
FULL_SCALE = 32767


def sensed(position: FloatArray, other: FloatArray, sensor: Sensor) -> FloatArray:
    """Return what a bent and cross-talking sensor makes of a position, as a fraction of the rim's radius.

    Parameters
    ----------
    position : ndarray, shape (n,)
        This axis, fractions of the rim's radius.
    other : ndarray, shape (n,)
        The other axis.
    sensor : Sensor
        How it bends and cross-talks.
    """
    bent = position + sensor.square * position**2 + sensor.cube * position**3
    return np.asarray(bent + sensor.cross * other)


def through_pole(signal: FloatArray, rising_s: float, falling_s: float) -> FloatArray:
    """Return a signal behind one pole whose time constant depends on which way the output goes.

    Parameters
    ----------
    signal : ndarray, shape (n,)
        Values every `STEP_S`, straight lines in between.
    rising_s, falling_s : float, s
        Time constants while the output rises and falls.
    """
    middle = np.concatenate([signal[:1], 0.5 * (signal[1:] + signal[:-1])])
    up, down = -np.expm1(-STEP_S / rising_s), -np.expm1(-STEP_S / falling_s)
    if rising_s == falling_s:
        out, _ = lfilter([up], [1.0, up - 1.0], middle, zi=[(1.0 - up) * signal[0]])
        return np.asarray(out)
    level, levels = float(signal[0]), []
    for value in middle.tolist():
        level += (up if value > level else down) * (value - level)
        levels.append(level)
    return np.array(levels)


def _recursion(values: list[int], stage: Stage) -> list[int]:
    shift, bits = stage.order, stage.fraction_bits
    state, out = values[0] << bits, []
    for value in values:
        gap = (value << bits) - state
        state += -((-gap) >> shift) if stage.towards_zero and gap < 0 else gap >> shift
        out.append(state >> bits)
    return out


def run_stage(codes: Codes, stage: Stage) -> Codes:
    """Return whole numbers behind one filter that computes in whole numbers, from its settled state.

    Parameters
    ----------
    codes : Codes
        Codes, one a report.
    stage : Stage
        The filter.
    """
    if stage.kind == "recursive":
        return np.array(_recursion(codes.tolist(), stage), dtype=np.int64)
    padded = np.concatenate([np.full(stage.order - 1, codes[0]), codes])
    sums = np.cumsum(np.concatenate([[0], padded]))
    return np.asarray((sums[stage.order :] - sums[: -stage.order]) // stage.order, dtype=np.int64)


def filtered_codes(volts: FloatArray, at_s: FloatArray, firmware: Firmware, rng: np.random.Generator) -> Codes:
    """Return the converter's codes at instants of conversion, behind the firmware's filters.

    Parameters
    ----------
    volts : ndarray, shape (n,), fractions of the rim's radius
        The signal every `STEP_S`.
    at_s : ndarray, shape (m,), s
        Instants of conversion.
    firmware : Firmware
        Converter and filters.
    rng : numpy.random.Generator
        Source of the noise.
    """
    top = 2**firmware.bits - 1
    times = np.arange(volts.size) * STEP_S
    analogue = top / 2 * (1.0 + firmware.used * np.interp(at_s, times, volts))
    noisy = analogue + firmware.noise_codes * rng.standard_normal(at_s.size)
    codes: Codes = np.clip(np.rint(noisy), 0, top).astype(np.int64)
    for stage in firmware.stages:
        codes = run_stage(codes, stage)
    return codes


def output_codes(x: Codes, y: Codes, firmware: Firmware) -> tuple[Codes, Codes]:
    """Return calibrated, clamped 16-bit outputs of both axes.

    Parameters
    ----------
    x : Codes
        Codes across.
    y : Codes
        Codes up and down.
    firmware : Firmware
        What the pad's program does with the codes.
    """
    top = 2**firmware.bits - 1
    scale = firmware.gain / (firmware.used * top / 2)
    both = np.stack([x - top / 2, y - top / 2]) * scale
    if firmware.circle_clamp:
        both = both / np.maximum(1.0, np.hypot(both[0], both[1]))
    both = np.clip(both, -1.0, 1.0)
    if firmware.out_bits < 16:
        steps = 2**firmware.out_bits - 1
        both = np.floor((both + 1.0) / 2.0 * steps + 0.5) / steps * 2.0 - 1.0
    out = np.rint(both * FULL_SCALE).astype(np.int64)
    return out[0], out[1]
