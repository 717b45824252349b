"""One channel made ready: finite samples, their noise and their converter step."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from feelcheck.bench.numbers import FEWEST_BETWEEN_SPIKES, QUANTILE_SAMPLES, SPIKE_NOISE, SPIKE_SHARE
from feelcheck.model import FloatArray
from feelcheck.numerics.descriptive import robust_sd
from feelcheck.numerics.filters import median_of_five

__all__ = ["Trace1D", "block_average", "converter_step", "noise_rms", "prepare", "without_spikes"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trace1D:
    """Finite samples of one channel.

    Parameters
    ----------
    t_s, values : ndarray, shape (n,)
        Instants in s, values in the channel's unit.
    noise : float
        White noise rms, from differences of neighbours; at least the rounding noise of the converter.
    step : float
        Smallest distance between two values that occur; 0 where values hardly repeat.
    n_spikes : int
        Samples that stood alone far off and were replaced.
    """

    t_s: FloatArray
    values: FloatArray
    noise: float
    step: float
    n_spikes: int = 0

    @property
    def interval_s(self) -> float:
        """Mean sample interval."""
        return float((self.t_s[-1] - self.t_s[0]) / (self.t_s.size - 1))

    def part(self, begin: int, end: int) -> Trace1D:
        """Return samples begin:end with the same noise and step.

        Parameters
        ----------
        begin, end : int
            As in a slice of the samples.
        """
        return replace(self, t_s=self.t_s[begin:end], values=self.values[begin:end])


def prepare(t_s: FloatArray, values: FloatArray) -> Trace1D:
    """Return the finite samples with noise and converter step told.

    Parameters
    ----------
    t_s, values : ndarray, shape (n,)
        Instants in s; values with NaN where the instrument was over range.
    """
    keep = np.isfinite(values) & np.isfinite(t_s)
    t_s, values = t_s[keep], values[keep]
    step = converter_step(values)
    noise = max(noise_rms(values), step / np.sqrt(12.0))
    values, n_spikes = without_spikes(values, noise)
    return Trace1D(t_s=t_s, values=values, noise=noise, step=step, n_spikes=n_spikes)


def without_spikes(values: FloatArray, noise: float) -> tuple[FloatArray, int]:
    """Return the samples with lone ones that stand far off replaced by their neighbours' median, and how many.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Samples.
    noise : float
        White noise rms.

    Notes
    -----
    One or two samples count as a spike where they are 12 times the noise and a twentieth of the range away from the
    median of five, while that median hardly moves there. More than a fiftieth of all samples is no accident: then
    nothing is replaced.

    Examples
    --------
    >>> without_spikes(np.array([0.0, 0.0, 0.0, 0.0, 5.0, 0.0, 0.0, 0.0, 0.0, 1.0] * 20), 0.01)[1]
    0
    >>> values = np.zeros(200)
    >>> values[40] = 3.0
    >>> without_spikes(values, 0.01)[1]
    1
    """
    if values.size < 5 * FEWEST_BETWEEN_SPIKES // 2:
        return values, 0
    low, high = np.quantile(values[:: max(1, values.size // QUANTILE_SAMPLES)], (0.01, 0.99)).tolist()
    limit = max(SPIKE_NOISE * noise, SPIKE_SHARE * (high - low))
    near = _where_bent(values, 0.5 * limit)
    if near.size > values.size // 4:
        near = np.arange(values.size)
    steady = _medians_at(values, near)
    away = np.abs(values[near] - steady)
    far = away > limit
    found, away, steady = near[far], away[far], steady[far]
    if not 0 < found.size <= values.size // FEWEST_BETWEEN_SPIKES:
        return values, 0
    before = _medians_at(values, np.maximum(found - 4, 0))
    after = _medians_at(values, np.minimum(found + 4, values.size - 1))
    alone = np.abs(after - before) < 0.3 * away
    mended = values.copy()
    mended[found[alone]] = steady[alone]
    return mended, int(np.count_nonzero(alone))


def _where_bent(values: FloatArray, least: float) -> NDArray[np.int64]:
    """Samples within two of a second difference of at least so much: no other is that far from the median of five."""
    bent = np.flatnonzero(np.abs(values[2:] - 2 * values[1:-1] + values[:-2]) > least) + 1
    around = (bent[:, None] + np.arange(-2, 3)).ravel()
    return np.unique(np.clip(around, 0, values.size - 1))


def _medians_at(values: FloatArray, at: NDArray[np.int64]) -> FloatArray:
    """Running medians of five at some samples; the end samples are repeated beyond the ends."""
    if at.size == values.size:
        return median_of_five(values)
    return np.asarray(np.median(values[np.clip(at[:, None] + np.arange(-2, 3), 0, values.size - 1)], axis=1))


def converter_step(values: FloatArray) -> float:
    """Return the smallest step between values that repeat; 0 where they do not look rounded, or are two or three.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Samples of one channel, any unit.

    Examples
    --------
    >>> converter_step(np.array([0.0, 0.5, 1.0, 1.5] * 5))
    0.5
    """
    sample = values[:: max(1, values.size // 20_000)]
    distinct = np.unique(sample)
    if distinct.size < 4 or distinct.size > 0.5 * sample.size:
        return 0.0
    gaps = np.diff(distinct)
    real = gaps[gaps > 1e-6 * float(np.ptp(distinct))]
    return float(np.quantile(real, 0.1)) if real.size else 0.0


def noise_rms(values: FloatArray) -> float:
    """Return the white noise rms of a slowly varying series, from second differences (median, so edges do not count).

    Parameters
    ----------
    values : ndarray, shape (n,)
        Samples of one channel, any unit; the result has the same.

    Examples
    --------
    >>> round(noise_rms(np.random.default_rng(1).standard_normal(10_000)), 1)
    1.0
    """
    if values.size < 4:
        return 0.0
    every = max(1, values.size // QUANTILE_SAMPLES)
    second = values[2::every] - 2 * values[1:-1:every] + values[:-2:every]
    typical = robust_sd(second, 0.0) / np.sqrt(6.0)
    if typical == 0.0:
        inner = np.sort(np.abs(second))[: int(0.8 * second.size) + 1]
        typical = float(np.sqrt(np.mean(inner**2))) / np.sqrt(6.0)
    return float(typical)


def block_average(values: FloatArray, size: int) -> FloatArray:
    """Return means of whole blocks of `size` neighbours, shape (n // size,).

    A moving average commutes with every linear response, so a drive and an output averaged alike keep their relation.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Even samples, any unit.
    size : int
        Samples a block.

    Examples
    --------
    >>> block_average(np.array([1.0, 3.0, 5.0, 7.0, 9.0]), 2).tolist()
    [2.0, 6.0]
    """
    if size <= 1:
        return values
    n = values.size // size
    return np.asarray(values[: n * size].reshape(n, size).mean(axis=1))
