"""Values that stay while the stick moves: runs of equal reports, and the ripple that a smoothed staircase leaves."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft, stats

from feelcheck.model import FloatArray
from feelcheck.numerics.combs import comb_spectrum, refine_spacing

__all__ = [
    "HoldPattern",
    "Motion",
    "Ripple",
    "find_holds",
    "find_ripple",
    "has_regular_knots",
    "is_interpolated",
    "longest_average",
    "longest_hidden",
    "motion_on_reports",
    "two_sided_speed",
]

N_FFT = 8192
MAX_FALSE_ALARM = 1e-6
MIN_STRETCH = 5
MIN_HELD = 0.08  # share of reports; loss, doubling and jitter leave less
LOWEST_RIPPLE = 0.12  # cycles per report; slower unevenness is the hand's
SAFETY = 0.5  # averages and further poles leave less ripple than one pole
HELD_SHARE = 0.3  # of the local speed; a report that moves less repeats the one before
LONGEST_SILENCE = 60  # reports; longer stretches without a row split the motion


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """One axis on its report grid.

    Parameters
    ----------
    codes : ndarray, shape (n,)
        Code at each report in units of the step, the last one repeated where a report brought nothing.
    seen : ndarray of bool, shape (n,)
        Whether a row stood for the report (always true where silence means "unchanged").
    interval_s : float
        Report interval.
    """

    codes: FloatArray
    seen: NDArray[np.bool_]
    interval_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldPattern:
    """Reports that brought no new value during fast motion.

    Parameters
    ----------
    held_fraction : float
        Share of the reports in fast motion that repeat the one before.
    n_reports, n_stretches : int
        Reports and stretches of fast motion judged.
    interval_s, u_s : float or None
        Interval of change and its standard uncertainty; None where the held reports come in no regular pattern.
    false_alarm : float
        Probability of such a regular pattern among irregular repeats.
    """

    held_fraction: float
    n_reports: int
    n_stretches: int
    interval_s: float | None = None
    u_s: float | None = None
    false_alarm: float = 1.0


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


def motion_on_reports(t_s: FloatArray, codes: FloatArray, interval_s: float, *, silent: bool) -> list[Motion]:
    """Return an axis put on its report grid, split at long silences.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Report instants, non-decreasing.
    codes : ndarray, shape (n,)
        Codes in units of the step.
    interval_s : float
        Report interval.
    silent : bool
        True where an unchanged report has no row.
    """
    distance = np.rint(np.diff(t_s) / interval_s).astype(np.int64)
    cuts = np.flatnonzero(distance > LONGEST_SILENCE) + 1
    parts = []
    for first, last in zip(np.r_[0, cuts], np.r_[cuts, t_s.size], strict=True):
        index = np.r_[0, np.cumsum(distance[first : last - 1])]
        if index[-1] < 4 * MIN_STRETCH:
            continue
        source = np.searchsorted(index, np.arange(index[-1] + 1), side="right") - 1
        seen = np.ones(source.size, dtype=bool) if silent else np.diff(source, prepend=-1) > 0
        parts.append(Motion(codes=codes[first:last][source], seen=seen, interval_s=interval_s))
    return parts


def two_sided_speed(codes: FloatArray, reach: int) -> FloatArray:
    """Return the speed that holds on both sides of every report, 0 where the motion turns or stops within `reach`.

    Parameters
    ----------
    codes : ndarray, shape (n,)
        Codes in units of the step.
    reach : int
        Reports looked at on each side.

    Returns
    -------
    ndarray, shape (n,)
        The smaller of both mean speeds, steps per report, without sign.

    Examples
    --------
    >>> two_sided_speed(np.array([0.0, 2.0, 4.0, 6.0, 6.0]), 1).tolist()
    [0.0, 2.0, 2.0, 0.0, 0.0]
    """
    speed = np.zeros(codes.size)
    if codes.size > 2 * reach:
        ahead, behind = codes[2 * reach :] - codes[reach:-reach], codes[reach:-reach] - codes[: -2 * reach]
        smaller = np.minimum(np.abs(ahead), np.abs(behind)) / reach
        speed[reach:-reach] = np.where(ahead * behind > 0, smaller, 0.0)
    return speed


def _stretches(speed: FloatArray, min_speed: float) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.r_[0, (speed >= min_speed).astype(np.int8), 0]))
    pairs = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    return [(a, b) for a, b in pairs if b - a >= MIN_STRETCH]


def find_holds(motions: list[Motion], min_speed: float) -> HoldPattern:
    """Return how often a report brings nothing new although the stick moves by more than a step, and how regularly.

    Parameters
    ----------
    motions : list of Motion
        One axis, all parts.
    min_speed : float
        Steps per report from which a repeat cannot be coarse steps alone.

    Notes
    -----
    A source that changes every R > T leaves a share 1 - T/R of reports unchanged; the spectrum of the repeats, summed
    over stretches, must then stand out near that frequency. A regression of the instants of change on their numbers
    gives the interval.

    References
    ----------
    K. V. Mardia & P. E. Jupp, Directional Statistics, 2000, section 6.3 (Rayleigh test), for each stretch.
    """
    best = HoldPattern(held_fraction=0.0, n_reports=0, n_stretches=0)
    interval_s = motions[0].interval_s if motions else 1.0
    for reach_s in (0.006, 0.012, 0.024, 0.048):
        held, changes = _held_share(motions, reach_s, min_speed, HELD_SHARE)
        if held > 1 - 2 * HELD_SHARE:  # each new value then brings a jump well above the noise on held ones
            held, changes = _held_share(motions, reach_s, min_speed, 0.5 / max(1 - held, 0.02))
        if sum(c.size for c in changes) < 30:
            continue
        best = _pattern(changes, held, interval_s)
        if interval_s / max(1 - held, 1e-3) <= 0.8 * reach_s:
            break
    return best


def _held_share(
    motions: list[Motion], reach_s: float, min_speed: float, share: float
) -> tuple[float, list[NDArray[np.bool_]]]:
    changes = [c for motion in motions for c in _changes(motion, reach_s, min_speed, share)]
    n = sum(c.size for c in changes)
    return (1 - sum(int(c.sum()) for c in changes) / n if n else 0.0), changes


def _changes(motion: Motion, reach_s: float, min_speed: float, share: float) -> list[NDArray[np.bool_]]:
    """Return, for each fast stretch, which reports moved on; noise on a held value does not count as moving."""
    speed = two_sided_speed(motion.codes, max(2, round(reach_s / motion.interval_s)))
    changed = np.abs(np.diff(motion.codes, prepend=motion.codes[:1])) > share * speed
    known = motion.seen & np.r_[False, motion.seen[:-1]]
    return [changed[a:b] for a, b in _stretches(speed, min_speed) if np.mean(known[a:b]) > 0.9]


def _pattern(changes: list[NDArray[np.bool_]], held: float, interval_s: float) -> HoldPattern:
    n = sum(c.size for c in changes)
    base = HoldPattern(held_fraction=held, n_reports=n, n_stretches=len(changes))
    if held < MIN_HELD or held > 0.98:
        return base
    frequency, false_alarm = _strongest(changes, 1 - held)
    groups = [np.flatnonzero(c).astype(np.float64) for c in changes if c.sum() >= 2]
    if false_alarm > MAX_FALSE_ALARM or not groups:
        return base
    if frequency < 0.3:  # few cycles a stretch: the instants of change themselves are sharper
        frequencies, power = comb_spectrum(groups, 0.85 / frequency, 1.2 / frequency)
        frequency = float(frequencies[np.argmax(power)])
    spacing, u, _, residual = refine_spacing(groups, 1 / frequency)
    if abs(spacing * frequency - 1) > 0.05 or residual > max(0.6, 0.15 * spacing):
        return base
    u = max(u, abs(spacing - 1 / frequency), 0.003 * spacing, _mirror_pull(changes, frequency) * spacing)
    return replace(base, interval_s=spacing * interval_s, u_s=u * interval_s, false_alarm=false_alarm)


def _mirror_pull(changes: list[NDArray[np.bool_]], frequency: float) -> float:
    """Return how far, relatively, a peak may be pulled by its own mirror image where short stretches blur the two."""
    folded = min(frequency, 1 - frequency)
    apart = min(folded, 0.5 - folded)
    blur = 1 / float(np.median([change.size for change in changes]))
    return 0.25 * apart / frequency if apart < blur else 0.0


def _strongest(changes: list[NDArray[np.bool_]], expected: float) -> tuple[float, float]:
    """Return the frequency of change in cycles per report near the expected one, and its false-alarm probability."""
    frequencies = np.arange(N_FFT // 2 + 1) / N_FFT
    power, norm, sizes = np.zeros(frequencies.size), 0.0, []
    for change in changes:
        residual = change - change.mean()
        spectrum = fft.rfft(residual, N_FFT)
        power += spectrum.real**2 + spectrum.imag**2
        norm += float(residual @ residual)
        sizes.append(change.size)
    power /= max(norm, 1e-12)
    folded = min(expected, 1 - expected)
    slack = 0.2 * folded + 0.01
    near = np.flatnonzero(np.abs(frequencies - folded) <= slack)
    index = near[np.argmax(power[near])]
    n_groups = sum(sizes) ** 2 / sum(size**2 for size in sizes)
    trials = max(2 * slack * max(sizes), 2.0)
    false_alarm = min(trials * float(stats.chi2.sf(2 * n_groups * power[index], 2 * n_groups)), 1.0)
    found = float(frequencies[index])
    return (found if expected <= 0.5 else 1 - found), false_alarm


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
        speed = two_sided_speed(motion.codes, max(2, round(0.006 / motion.interval_s)))
        for a, b in _stretches(speed, min_speed):
            if b - a < 16 or not np.all(motion.seen[a:b]):
                continue
            inner = speed[a + 1 : b - 1]
            spectrum = fft.rfft(inner * np.diff(motion.codes[a:b], 2), N_FFT)
            power += spectrum.real**2 + spectrum.imag**2
            weights.append(float(inner @ inner))
            longest = max(longest, b - a)
    if len(weights) < 4:
        return Ripple()
    band = np.flatnonzero(frequencies >= LOWEST_RIPPLE)
    return _judge(frequencies[band], power[band], np.array(weights), longest)


def _judge(frequencies: FloatArray, power: FloatArray, weights: FloatArray, longest: int) -> Ripple:
    flat = power / (4 * np.sin(np.pi * frequencies) ** 2) ** 2
    width = N_FFT // 16
    centres = np.arange(0, flat.size, width // 4)
    medians = [float(np.median(flat[max(0, i - width) : i + width])) for i in centres]
    level = np.maximum(np.interp(np.arange(flat.size), centres, medians), 1e-30)
    n_groups = float(weights.sum() ** 2 / np.sum(weights**2))
    threshold = 1.5 * float(stats.chi2.isf(MAX_FALSE_ALARM / longest, 2 * n_groups)) / (2 * n_groups)
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


def is_interpolated(motions: list[Motion], min_speed: float, unit: float) -> bool:
    """Return whether fast motion runs in straight pieces of several reports, as linear interpolation makes it.

    Parameters
    ----------
    motions : list of Motion
        One axis, all parts.
    min_speed : float
        Steps per report from which motion counts as fast.
    unit : float
        Smallest difference that the log can write, in steps.
    """
    n_bends = n_straight = n_in_threes = 0
    sizes = []
    for motion in motions:
        speed = two_sided_speed(motion.codes, max(2, round(0.006 / motion.interval_s)))[1:-1]
        fast = speed >= min_speed
        if not np.any(fast):
            continue
        fast &= speed >= 0.3 * float(np.quantile(speed[fast], 0.9))
        bend = np.abs(np.diff(motion.codes, 2))
        bent = bend > 2.01 * unit
        n_bends += int(np.sum(fast & bent))
        n_straight += int(np.sum(fast & ~bent))
        n_in_threes += int(np.sum((fast & bent)[1:-1] & bent[:-2] & bent[2:]))
        sizes.append(bend[fast & bent])
    share = n_straight / max(n_bends + n_straight, 1)
    if n_bends < 20 or not 0.4 < share < 0.9 or n_in_threes > 0.05 * n_bends:
        return False
    return bool(np.median(np.concatenate(sizes)) >= 5 * unit)


def has_regular_knots(motion: Motion, min_speed: float) -> bool:
    """Return whether fast motion bends only at every n-th report, as interpolation at a whole ratio makes it.

    Parameters
    ----------
    motion : Motion
        One axis.
    min_speed : float
        Steps per report from which motion counts as fast.
    """
    speed = two_sided_speed(motion.codes, max(2, round(0.006 / motion.interval_s)))[1:-1]
    knots = np.flatnonzero((np.abs(np.diff(motion.codes, 2)) > 0.5) & (speed >= min_speed))
    if knots.size < 50:
        return False
    return any(np.bincount(knots % n).max() >= 0.95 * knots.size for n in range(2, 17))


def longest_average(motions: list[Motion], min_speed: float) -> float | None:
    """Return the longest moving average, in reports, that the sharpest stops leave room for; None where none is seen.

    Parameters
    ----------
    motions : list of Motion
        One axis, all parts.
    min_speed : float
        Steps per report from which motion counts as fast.

    Notes
    -----
    An average lets the speed fall evenly to nothing, one pole ever more slowly: a stop that spends longer between 40
    and 15 % of its speed than between 75 and 40 % shows a pole, and 1 is returned.
    """
    falls = []
    for motion in motions:
        pace = np.abs(np.diff(motion.codes, append=motion.codes[-1:]))
        speed = two_sided_speed(motion.codes, max(2, round(0.006 / motion.interval_s)))
        for a, b in _stretches(speed, max(min_speed, 6.0)):
            level = float(np.median(pace[max(a, b - 6) : b]))
            after = pace[b - 1 : b + 60] / level
            passed = [_first_below(after, share) for share in (0.75, 0.4, 0.15)]
            if passed[-1] is not None:
                falls.append(np.diff(np.array(passed, dtype=np.float64)))
    if len(falls) < 4:
        return None
    early, late = np.quantile(np.array(falls), 0.25, axis=0)
    return 1.0 if late > early else float((early + late) / 0.6)


def _first_below(values: FloatArray, share: float) -> float | None:
    """Return where a falling series first passes a share, by a straight line between neighbours."""
    index = int(np.argmax(values < share))
    if values.size == 0 or not values[index] < share:
        return None
    if index == 0:
        return 0.0
    return index - 1 + float((values[index - 1] - share) / (values[index - 1] - values[index]))


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
    A staircase of period R behind one pole tau is off a smooth motion by R / pi / hypot(1, 2 pi tau / R) intervals
    in its fundamental; it must be smaller than what the spectrum would have shown at the (aliased) frequency.
    """
    if ripple.frequencies.size == 0 or not math.isfinite(smoothing):
        return None
    periods = np.arange(1.25, 1 / LOWEST_RIPPLE, 0.05)
    rates = 1 / periods
    amplitudes = periods / np.pi / np.hypot(1.0, 2 * np.pi * smoothing * rates)
    visible = np.full(periods.size, smoothing < 0.5)  # so little smoothing leaves the repeats themselves
    aliased = np.where(rates > 0.5, 1 - rates, rates)
    visible |= SAFETY * amplitudes > np.interp(aliased, ripple.frequencies, ripple.detectable)
    if not visible[-1]:
        return None
    hidden = np.flatnonzero(~visible)
    return float(periods[hidden[-1] + 1]) if hidden.size else 1.0
