"""Values that stay while the stick moves: reports that repeat the one before, and how regularly."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.fast_motion import Motion, fast_stretches
from feelcheck.hand.numbers import CHANGES_ON_GRID, HELD_SHARE, LONG_STRETCH, MAX_FALSE_ALARM, MIN_HELD
from feelcheck.numerics.chi_squared import chi_squared_tail
from feelcheck.numerics.combs import comb_spectrum, refine_spacing

__all__ = ["HoldPattern", "find_holds"]

N_FFT = 8192


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
    speed = motion.speed(reach_s)
    changed = np.abs(np.diff(motion.codes, prepend=motion.codes[:1])) > share * speed
    known = motion.seen & np.r_[False, motion.seen[:-1]]
    return [changed[a:b] for a, b in fast_stretches(speed, min_speed) if np.mean(known[a:b]) > 0.9]


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
    longer = float(np.median([change.size for change in changes])) >= LONG_STRETCH
    blurred = 0.0 if residual < CHANGES_ON_GRID and longer else _mirror_blur(changes, frequency)
    u = max(u, abs(spacing - 1 / frequency), 0.003 * spacing, blurred * spacing)
    return replace(base, interval_s=spacing * interval_s, u_s=u * interval_s, false_alarm=false_alarm)


def _mirror_blur(changes: list[NDArray[np.bool_]], frequency: float) -> float:
    """Return how far, relatively, a peak may be off where short stretches blur it with its own mirror image."""
    folded = min(frequency, 1 - frequency)
    blur = 1 / float(np.median([change.size for change in changes]))
    return 0.3 * blur / frequency if min(folded, 0.5 - folded) < blur else 0.0


def _strongest(changes: list[NDArray[np.bool_]], expected: float) -> tuple[float, float]:
    """Return the frequency of change in cycles per report near the expected one, and its false-alarm probability."""
    frequencies = np.arange(N_FFT // 2 + 1) / N_FFT
    power, norm, sizes = np.zeros(frequencies.size), 0.0, []
    for change in changes:
        residual = change - change.mean()
        spectrum = np.fft.rfft(residual, N_FFT)
        power += spectrum.real**2 + spectrum.imag**2
        norm += float(residual @ residual)
        sizes.append(change.size)
    power /= max(norm, 1e-12)
    # changes more often than every second report show below that, mirrored
    folded = min(expected, 1 - expected)
    slack = 0.2 * folded + 0.01
    near = np.flatnonzero(np.abs(frequencies - folded) <= slack)
    index = near[np.argmax(power[near])]
    n_groups = sum(sizes) ** 2 / sum(size**2 for size in sizes)
    # so many frequencies of the band are independent of each other
    trials = max(2 * slack * max(sizes), 2.0)
    false_alarm = min(trials * chi_squared_tail(2 * n_groups, 2 * n_groups * float(power[index])), 1.0)
    found = float(frequencies[index])
    return (found if expected <= 0.5 else 1 - found), false_alarm
