"""The firmware: averages, filters, dead zones, edge scaling, clamps, the number that is sent."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from feelcheck.model import AxisScale, FloatArray
from feelcheck.sources.synthetic.converter import Converter

__all__ = ["Adaptive", "Firmware", "axis_scale", "encode", "filter_axis", "shape_stick"]

FULL = 32767


@dataclass(frozen=True, slots=True, kw_only=True)
class Adaptive:
    """A low-pass whose time constant shrinks from slow_s at rest to fast_s at `speed` throws/s and above."""

    slow_s: float = 0.02
    fast_s: float = 0.002
    speed: float = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Firmware:
    """What the device computes between converter and report, in this order.

    Parameters
    ----------
    average_n : int
        Length of the moving average over conversions; 1 is none.
    recursive_s : float, s
        Time constant of a first-order recursive filter; 0 is none.
    adaptive : Adaptive or None
        Speed-adaptive low-pass.
    dead_zone_fraction, dead_zone_shape : float, {"axial", "radial"}
        Half-width of the dead zone, in throws; what is left is stretched to full throw.
    edge_gain : float
        Scaling that moves full throw outwards; what exceeds full scale is clipped.
    radial_clamp : bool
        Whether the stick is limited to a circle of full scale.
    inverted_axes : tuple of str
        Axes whose sign is turned.
    output : {"scaled", "native", "widened"}
        16 bits signed; the converter's own codes; or 8 bits spread to 16 with `widened_step` counts each.
    """

    average_n: int = 1
    recursive_s: float = 0.0
    adaptive: Adaptive | None = None
    dead_zone_fraction: float = 0.0
    dead_zone_shape: Literal["axial", "radial"] = "axial"
    edge_gain: float = 1.0
    radial_clamp: bool = False
    inverted_axes: tuple[str, ...] = ()
    output: Literal["scaled", "native", "widened"] = "scaled"
    widened_step: int = 257


def filter_axis(firmware: Firmware, converter: Converter, codes: FloatArray, interval_s: float) -> FloatArray:
    """Return converter codes as filtered throws, one value a conversion, shape (n,).

    Parameters
    ----------
    firmware : Firmware
        Its filters.
    converter : Converter
        The converter before it.
    codes : ndarray, shape (n,)
        Codes, one a conversion.
    interval_s : float
        Interval of conversions, s.
    """
    throws = (codes - converter.centre) / converter.codes_per_throw
    n = firmware.average_n
    if n > 1:
        total = np.cumsum(np.concatenate([np.full(n, throws[0]), throws]))
        throws = (total[n:] - total[:-n]) / n
    if firmware.recursive_s > 0.0:
        throws = _low_pass(throws, interval_s / firmware.recursive_s, before=throws[0])
    if firmware.adaptive is not None:
        throws = _adapt(firmware.adaptive, throws, interval_s)
    return np.asarray(throws, dtype=np.float64)


def _low_pass(values: FloatArray, intervals: float, *, before: float) -> FloatArray:
    """Return a recursive filter's output; its time constant is told by its inverse in sampling intervals."""
    from scipy.signal import lfilter  # takes a second: whoever asks for the worlds' names needs none

    kept = math.exp(-intervals)
    return np.asarray(lfilter([1.0 - kept], [1.0, -kept], values, zi=[kept * before])[0], dtype=np.float64)


def _adapt(adaptive: Adaptive, throws: FloatArray, interval_s: float) -> FloatArray:
    speed = np.abs(np.diff(throws, prepend=throws[0])) / interval_s
    speed = _low_pass(speed, interval_s / 0.005, before=0.0)
    share = np.clip(speed / adaptive.speed, 0.0, 1.0)
    tau_s = adaptive.slow_s * (1.0 - share) + adaptive.fast_s * share
    gains = -np.expm1(-interval_s / tau_s)
    y = float(throws[0])
    smoothed = []
    for x, gain in zip(throws.tolist(), gains.tolist(), strict=True):
        y += gain * (x - y)
        smoothed.append(y)
    return np.array(smoothed)


def shape_stick(firmware: Firmware, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return both axes (throws) after dead zone, edge scaling with its clip, and radial clamp.

    Parameters
    ----------
    firmware : Firmware
        Dead zone, gain and clamp.
    x : ndarray, shape (n,)
        One axis, throws.
    y : ndarray, shape (n,)
        The other, throws.
    """
    dead = firmware.dead_zone_fraction
    if dead > 0.0 and firmware.dead_zone_shape == "axial":
        x, y = _past_dead_zone(x, np.abs(x), dead), _past_dead_zone(y, np.abs(y), dead)
    elif dead > 0.0:
        radius = np.hypot(x, y)
        x, y = _past_dead_zone(x, radius, dead), _past_dead_zone(y, radius, dead)
    x, y = x * firmware.edge_gain, y * firmware.edge_gain
    if firmware.radial_clamp:
        over = np.maximum(np.hypot(x, y), 1.0)
        x, y = x / over, y / over
    return np.clip(x, -1.0, 1.0), np.clip(y, -1.0, 1.0)


def _past_dead_zone(value: FloatArray, radius: FloatArray, dead: float) -> FloatArray:
    stretch = np.maximum(radius - dead, 0.0) / ((1.0 - dead) * np.maximum(radius, 1e-12))
    return np.asarray(value * stretch, dtype=np.float64)


def encode(firmware: Firmware, converter: Converter, name: str, throws: FloatArray) -> NDArray[np.int64]:
    """Return the whole numbers that are sent for one axis, shape (n,).

    Parameters
    ----------
    firmware : Firmware
        What it sends.
    converter : Converter
        The converter before it.
    name : str
        Name of the axis.
    throws : ndarray, shape (n,)
        Values, throws.
    """
    signed = -throws if name in firmware.inverted_axes else throws
    if firmware.output == "scaled":
        return np.floor(FULL * signed + 0.5).astype(np.int64)
    if firmware.output == "native":
        scale = axis_scale(firmware, converter)
        codes = np.floor(scale.centre + scale.reach * signed + 0.5)
        return np.clip(codes, 0, converter.top).astype(np.int64)
    eight = np.clip(np.floor(127.0 * signed + 0.5), -128, 127).astype(np.int64)
    return np.clip(eight * firmware.widened_step, -FULL - 1, FULL)


def axis_scale(firmware: Firmware, converter: Converter) -> AxisScale:
    """Return how the sent codes become fractions of full throw.

    Parameters
    ----------
    firmware : Firmware
        What the pad's program does with the codes.
    converter : Converter
        What turns the stick's place into codes.
    """
    if firmware.output == "native":
        return AxisScale(centre=converter.centre, reach=converter.codes_per_throw)
    return AxisScale(centre=0.0, reach=float(FULL))
