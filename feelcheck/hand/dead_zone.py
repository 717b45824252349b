"""A hidden dead zone: a stick that leaves its rest point without a report, or with a jump."""

from __future__ import annotations

import math

import numpy as np

from feelcheck.hand.fast_motion import Motion
from feelcheck.hand.numbers import (
    FROZEN_SHARE,
    LARGEST,
    MAX_RELATIVE_U,
    MIN_EVENTS,
    MIN_PASSAGES,
    NEAR_FS,
    PACE_U,
    SMALLEST,
    SMOOTHED_REPORTS,
)
from feelcheck.model import Caveat, Estimate, FloatArray
from feelcheck.numerics.descriptive import U_OF_MEDIAN, robust_sd
from feelcheck.numerics.runs import runs_of_equal
from feelcheck.numerics.uncertainty import combined

__all__ = ["crossing_widths", "dead_zone", "leaving_jumps"]

QUANTITY = "dead_zone"

CANNOT_TELL = Caveat(
    code="rest_code_frozen",
    text="The code at rest never changes, and the stick did not pass its rest point slowly enough to see whether a "
    "dead zone or the steps hold it.",
    advice="Roll the stick slowly round its rim and move it slowly through the centre, side to side and up and down.",
)
NO_REST = Caveat(
    code="no_rest",
    text="The stick was never left alone long enough.",
    advice="Let go of the stick for a few seconds while recording.",
)


def dead_zone(motions: list[Motion], rest: float | None, rest_rms: float, reach: float) -> Estimate:
    """Return the half-width of the zone around rest in which motion changes no code.

    Parameters
    ----------
    motions : list of Motion
        One axis on its report grid, codes in steps.
    rest : float or None
        Code at rest in steps; None where it is not known.
    rest_rms : float
        Noise at rest in steps, root mean square.
    reach : float
        Steps from the centre to full throw.

    Notes
    -----
    Codes that wander at rest show that there is no zone. Otherwise a zone that the firmware cuts out leaves a jump
    where the stick leaves its rest point, and one that it stretches the rest over makes a steady passage dwell there.
    """
    if rest is None:
        return Estimate.not_resolved(QUANTITY, unit="fraction", caveats=(NO_REST,))
    if rest_rms > FROZEN_SHARE:
        return Estimate.not_present(QUANTITY, unit="fraction", n=1)
    jumps, widths = [], []
    for motion in motions:
        jumps.append(leaving_jumps(motion.codes - rest))
        widths.append(crossing_widths((motion.codes - rest) / reach))
    jump = np.concatenate(jumps) if jumps else np.zeros(0)
    width = np.concatenate(widths) if widths else np.zeros(0)
    return _verdict(jump / reach, width, 1 / reach)


def leaving_jumps(codes: FloatArray) -> FloatArray:
    """Return how far the code jumps where it leaves 0, less the pace just after.

    Parameters
    ----------
    codes : ndarray, shape (n,), steps
        Codes about the rest point, one a report.

    Returns
    -------
    ndarray, shape (m,), steps
        One value for each leaving that keeps its direction for two more reports.

    Examples
    --------
    >>> leaving_jumps(np.array([0.0, 0.0, 50.0, 52.0, 54.0])).tolist()
    [49.0]
    """
    if codes.size < 5:
        return np.zeros(0)
    still = (np.abs(codes[:-4]) < 1) & (np.abs(codes[1:-3]) < 1)
    out = still & (np.abs(codes[2:-2]) >= 1)
    first, second, third = (np.abs(codes[k : codes.size - 4 + k])[out] for k in (2, 3, 4))
    keeps = (second >= first) & (third >= second)
    # The zone's edge lies on average half a report's way before the first code outside.
    return (first - (third - first) / 4)[keeps]


def crossing_widths(codes_fs: FloatArray) -> FloatArray:
    """Return the half-width that every slow passage through 0 seems to be held there.

    Parameters
    ----------
    codes_fs : ndarray, shape (n,)
        Codes about the rest point as fractions of full throw, one a report.

    Returns
    -------
    ndarray, shape (m,), fraction
        From the time between -a and a against the times from a to 2 a on both sides, a = 0.05.
    """
    if codes_fs.size < 4 * SMOOTHED_REPORTS:
        return np.zeros(0)
    smooth = np.convolve(codes_fs, np.full(SMOOTHED_REPORTS, 1 / SMOOTHED_REPORTS), "same")
    label = np.sign(smooth) * np.minimum(np.floor(np.abs(smooth) / NEAR_FS), 2)
    starts, _ = runs_of_equal(label)
    zones = label[starts]
    found = []
    for k in range(1, starts.size - 4):
        direction = zones[k + 2] - zones[k + 1]
        if abs(direction) != 1 or not np.array_equal(zones[k - 1 : k + 4] * direction, [-2, -1, 0, 1, 2]):
            continue
        before, inside, after = np.diff(starts[k : k + 4])
        if min(before, after) >= 3 and 0.6 < before / after < 1.6:
            held = NEAR_FS * (2 * inside / (before + after) - 2) / 2
            found.append(held / (1 + held))
    return np.array(found)


def _verdict(jump: FloatArray, width: FloatArray, step_fs: float) -> Estimate:
    smallest = max(6 * step_fs, SMALLEST)
    for values, n_least in ((jump, MIN_EVENTS), (width, MIN_PASSAGES)):
        if values.size >= n_least and float(np.quantile(values, 0.25)) > smallest:
            found = _measured(values, step_fs)
            if (found.u or 0.0) < MAX_RELATIVE_U * (found.value or 0.0) < MAX_RELATIVE_U * LARGEST:
                return found
    if width.size >= MIN_PASSAGES and float(np.max(width)) < smallest:
        return Estimate.not_present(QUANTITY, unit="fraction", n=int(width.size))
    return Estimate.not_resolved(QUANTITY, unit="fraction", n=int(jump.size + width.size), caveats=(CANNOT_TELL,))


def _measured(values: FloatArray, step_fs: float) -> Estimate:
    middle = float(np.median(values))
    spread = robust_sd(values, middle)
    u, terms = combined(
        {
            "scatter of the events": U_OF_MEDIAN * spread / math.sqrt(values.size),
            PACE_U.sets: PACE_U * middle,
            "rounding of the codes": step_fs / math.sqrt(12),
        }
    )
    return Estimate.measured(QUANTITY, middle, u=u, unit="fraction", n=int(values.size), terms=terms)
