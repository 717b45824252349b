"""Combs: a common spacing hidden in positions (levels of a converter, instants of change), and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from feelcheck.model import FloatArray
from feelcheck.numerics.chi_squared import chi_squared_tail
from feelcheck.numerics.filters import transform_length
from feelcheck.numerics.numbers import COMB_SHARE

__all__ = ["CombFit", "comb_spectrum", "false_alarm_probability", "fit_comb", "refine_spacing"]

OVERSAMPLING, BINS_PER_SPACING = 4, 4
"""Of the spectrum: what is lost between its lines and inside its bins is below 10 %, and more takes time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CombFit:
    """A spacing shared by groups of positions, each group with its own offset.

    Parameters
    ----------
    spacing, u : float
        Spacing and its standard uncertainty, in the unit of the positions.
    offsets : tuple of float
        Position of one tooth for each group.
    coherence : float
        Length of the mean phase vector over all groups, 0 (no comb) to 1 (every position on a tooth).
    false_alarm : float
        Probability that positions without a comb reach this power anywhere in the searched range.
    residual_rms : float
        Distance of the positions from their teeth, root mean square, in the unit of the positions.
    n : int
        Number of positions.
    """

    spacing: float
    u: float
    offsets: tuple[float, ...]
    coherence: float
    false_alarm: float
    residual_rms: float
    n: int


def comb_spectrum(
    groups: Sequence[FloatArray], min_spacing: float, max_spacing: float
) -> tuple[FloatArray, FloatArray]:
    """Return frequencies and the summed Rayleigh power of groups of positions.

    Parameters
    ----------
    groups : sequence of ndarray, shape (n_g,)
        Positions of each group, any unit; the phase of the comb is free in each group.
    min_spacing, max_spacing : float
        Limits of the search, in the unit of the positions.

    Returns
    -------
    frequencies : ndarray, shape (m,)
        Reciprocal spacings, ascending.
    power : ndarray, shape (m,)
        Sum over the groups of ``|sum exp(2 pi i f x)|^2 / n_g``; each group contributes mean 1 where there is no comb.

    Raises
    ------
    ValueError
        If the limits are not ``0 < min_spacing < max_spacing``.

    Notes
    -----
    The positions are put into bins of a quarter of the smallest spacing, so that all frequencies come from one fast
    Fourier transform a group; the loss at the shortest spacing is sinc(1/4), 10 % in amplitude.

    References
    ----------
    K. V. Mardia & P. E. Jupp, Directional Statistics, 2000, section 6.3 (Rayleigh test).

    Examples
    --------
    >>> f, power = comb_spectrum([np.arange(50) * 0.7], 0.5, 2.0)
    >>> round(float(1 / f[np.argmax(power)]), 2)
    0.7
    """
    if not 0 < min_spacing < max_spacing:
        raise ValueError(f"a comb search needs 0 < min_spacing < max_spacing, got {min_spacing}, {max_spacing}")
    used = [np.asarray(g, dtype=np.float64) for g in groups if np.size(g) > 1]
    width = min_spacing / BINS_PER_SPACING
    span = max((float(np.ptp(g)) for g in used), default=max_spacing)
    n_fft = transform_length(math.ceil(OVERSAMPLING * max(span, max_spacing) / width) + 1)
    first, last = math.ceil(n_fft * width / max_spacing), math.floor(n_fft * width / min_spacing)
    power = np.zeros(max(last - first + 1, 0))
    for group in used:
        bins = np.rint((group - group.min()) / width).astype(np.int64)
        spectrum = np.fft.rfft(np.bincount(bins, minlength=1).astype(np.float64), n_fft)[first : last + 1]
        power += (spectrum.real**2 + spectrum.imag**2) / group.size
    return np.arange(first, last + 1) / (n_fft * width), power


def false_alarm_probability(power: float, n_groups: int, n_independent: float) -> float:
    """Return the probability that the summed power of `n_groups` groups without a comb reaches `power` anywhere.

    Parameters
    ----------
    power : float
        Height of the peak as `comb_spectrum` gives it.
    n_groups : int
        Number of groups summed.
    n_independent : float
        Number of independent frequencies searched (span of the positions times width of the band).

    Notes
    -----
    Twice the power is chi-square with two degrees of freedom a group; the trials are combined as independent.

    Examples
    --------
    >>> round(false_alarm_probability(10.0, 1, 100.0), 5)
    0.00453
    """
    single = chi_squared_tail(2 * max(n_groups, 1), 2 * power)
    return -math.expm1(max(n_independent, 1.0) * math.log1p(-min(single, 1 - 1e-16)))


def refine_spacing(groups: Sequence[FloatArray], spacing: float) -> tuple[float, float, tuple[float, ...], float]:
    """Return spacing, standard uncertainty, offsets and residual rms from a regression on tooth numbers.

    Parameters
    ----------
    groups : sequence of ndarray, shape (n_g,)
        Positions of each group.
    spacing : float
        Starting value, good enough that tooth numbers do not slip over the span of one group.

    Notes
    -----
    Each position gets the number of its nearest tooth, then position against number is a straight line with a common
    slope and an offset for each group; three rounds. The uncertainty treats the residuals as independent.
    """
    used = [np.asarray(g, dtype=np.float64) for g in groups if np.size(g) > 1]
    origins = [g.mean() for g in used]
    offsets = [_offset(g - o, spacing) for g, o in zip(used, origins, strict=True)]
    residual_ss, weight, n = 0.0, 0.0, sum(g.size for g in used)
    # a better spacing may give teeth other numbers; after three rounds they stand
    for _ in range(3):
        numbers = [np.rint((g - o - a) / spacing) for g, o, a in zip(used, origins, offsets, strict=True)]
        centred = [k - k.mean() for k in numbers]
        weight = sum(float(c @ c) for c in centred)
        if weight == 0:
            break
        spacing = sum(float(c @ (g - g.mean())) for c, g in zip(centred, used, strict=True)) / weight
        offsets = [float(g.mean() - o - spacing * k.mean()) for g, o, k in zip(used, origins, numbers, strict=True)]
        residual_ss = sum(
            float(np.sum((g - o - a - spacing * k) ** 2))
            for g, o, a, k in zip(used, origins, offsets, numbers, strict=True)
        )
    residual_rms = math.sqrt(residual_ss / max(n, 1))
    u = residual_rms / math.sqrt(weight) if weight else spacing
    return spacing, u, tuple(o + a for o, a in zip(origins, offsets, strict=True)), residual_rms


def fit_comb(groups: Sequence[FloatArray], min_spacing: float, max_spacing: float) -> CombFit | None:
    """Return the widest spacing that explains the positions, or None where there are too few positions.

    Parameters
    ----------
    groups : sequence of ndarray, shape (n_g,)
        Positions of each group; the comb may be shifted from group to group.
    min_spacing, max_spacing : float
        Limits of the search, in the unit of the positions.

    Notes
    -----
    A comb shows at every multiple of its frequency; the lowest local peak of `COMB_SHARE` of the highest power
    is taken.

    Examples
    --------
    >>> fit = fit_comb([np.round(np.arange(100) * 64.06)], 8.0, 1000.0)
    >>> round(fit.spacing, 2)
    64.06
    """
    used = [np.asarray(g, dtype=np.float64) for g in groups if np.size(g) > 1]
    n = sum(g.size for g in used)
    if n < 4 or not used:
        return None
    frequencies, power = comb_spectrum(used, min_spacing, max_spacing)
    if frequencies.size < 3:
        return None
    index = _lowest_peak(power)
    span = max(float(np.ptp(g)) for g in used)
    false_alarm = false_alarm_probability(float(power[index]), len(used), span * np.ptp(frequencies))
    spacing, u, offsets, residual_rms = refine_spacing(used, 1 / frequencies[index])
    vectors = [np.abs(np.sum(np.exp(2j * np.pi * (g - g[0]) / spacing))) for g in used]
    return CombFit(
        spacing=float(spacing),
        u=u,
        offsets=offsets,
        coherence=float(sum(vectors) / n),
        false_alarm=false_alarm,
        residual_rms=residual_rms,
        n=n,
    )


def _offset(positions: FloatArray, spacing: float) -> float:
    mean = np.mean(np.exp(2j * np.pi * positions / spacing))
    return float(np.angle(mean) / (2 * np.pi) * spacing)


def _lowest_peak(power: FloatArray) -> int:
    inner = power[1:-1]
    peaks = 1 + np.flatnonzero((inner >= power[:-2]) & (inner >= power[2:]) & (inner >= COMB_SHARE * power.max()))
    return int(peaks[0]) if peaks.size else int(np.argmax(power))
