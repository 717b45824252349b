"""The converter: when it looks, and which whole number it makes of the volts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.sources.synthetic.gimbal import STEP_S

__all__ = ["Converter", "convert", "look_at"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter:
    """An analogue-to-digital converter.

    Parameters
    ----------
    bits : int
        Resolution.
    span_fraction : float
        Part of its range that full throw to full throw takes.
    offset_fraction : float
        Where the centre sits off mid-range, as a part of the range.
    noise_lsb : float
        Rms of white noise of each conversion.
    interval_s : float
        Interval of the conversions on their own clock; 0 converts once for each report.
    latency_s : float, s
        From the last axis' conversion to the report.
    skew_s : float, s
        Between the conversions of successive axes, scanned in turn.
    """

    bits: int = 12
    span_fraction: float = 0.8
    offset_fraction: float = 0.0063
    noise_lsb: float = 0.3
    interval_s: float = 0.0
    latency_s: float = 0.0002
    skew_s: float = 10e-6

    @property
    def top(self) -> int:
        """Largest code."""
        return int(2**self.bits - 1)

    @property
    def centre(self) -> float:
        """The code that the firmware takes for the centre: the whole one nearest to it."""
        return float(round(self.top * (0.5 + self.offset_fraction)))

    @property
    def codes_per_throw(self) -> float:
        """Codes from the centre to full throw."""
        return 0.5 * self.span_fraction * self.top


def look_at(signal: FloatArray, at_s: FloatArray, *, stepped: bool) -> FloatArray:
    """Return the fine-grid signal at instants at_s; a stepped (held) signal is never interpolated.

    Parameters
    ----------
    signal : ndarray, shape (n,)
        Values on the fine grid, throws.
    at_s : ndarray, shape (m,)
        Instants, s.
    stepped : bool
        Whether it is held between grid points.
    """
    if stepped:
        index = np.clip(np.floor(at_s / STEP_S), 0, signal.size - 1).astype(np.intp)
        return np.asarray(signal[index], dtype=np.float64)
    position = np.clip(at_s / STEP_S, 0.0, signal.size - 1.0)
    index = np.minimum(position.astype(np.intp), signal.size - 2)
    part = position - index
    return np.asarray(signal[index] * (1.0 - part) + signal[index + 1] * part, dtype=np.float64)


def convert(converter: Converter, seen: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return whole codes (as floats) for signal values seen, where 1 is nominal full throw.

    Parameters
    ----------
    converter : Converter
        The converter.
    seen : ndarray, shape (n,)
        What it sees, throws.
    rng : numpy.random.Generator
        Source of its noise.

    Examples
    --------
    >>> plain = Converter(bits=8, span_fraction=1.0, offset_fraction=0.0, noise_lsb=0.0)
    >>> convert(plain, np.array([-1.0, 0.0, 5.0]), np.random.default_rng(1)).tolist()
    [0.0, 128.0, 255.0]
    """
    level = converter.top * (0.5 + converter.offset_fraction) + converter.codes_per_throw * seen
    if converter.noise_lsb > 0.0:
        level = level + rng.normal(0.0, converter.noise_lsb, level.size)
    return np.asarray(np.clip(np.floor(level + 0.5), 0.0, converter.top), dtype=np.float64)
