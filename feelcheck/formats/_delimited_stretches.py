"""A time column that restarts, wraps or steps back, laid out as one line of time with gaps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.model import FloatArray, Gap

__all__ = ["TimeLine", "lay_out", "unwrapped"]

JOIN_GAP_S = 1.0
"""Where the time steps back, the next stretch is laid this long after the end of the one before."""

MOST_BACK_SHARE = 0.05
"""More backward steps than this share of the rows (and more than five) are not isolated."""

_MODULI = (2.0**8, 2.0**16, 2.0**24, 2.0**32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimeLine:
    """A time column laid out.

    Parameters
    ----------
    t_s : ndarray, shape (n,), s
        Non-decreasing instants.
    gaps : tuple of Gap
        Where stretches were joined.
    remarks : tuple of str
        What was done, in words.
    """

    t_s: FloatArray
    gaps: tuple[Gap, ...] = ()
    remarks: tuple[str, ...] = ()


def unwrapped(ticks: FloatArray) -> tuple[FloatArray, str]:
    """Return whole-number ticks, shape (n,), with the wraps of an 8, 16, 24 or 32-bit counter undone, and a remark.

    A column is taken as wrapped only if every backward step goes from within four usual steps of the top to within
    four of zero.
    """
    steps = np.diff(ticks)
    back = np.flatnonzero(steps < 0)
    ahead = steps[steps > 0]
    if not back.size or not ahead.size or np.any(ticks < 0) or np.any(ticks[:1000] % 1):
        return ticks, ""
    margin = 4 * float(np.median(ahead))
    for modulus in _MODULI:
        fits = (ticks[back] >= modulus - margin) & (ticks[back + 1] <= margin) & (ticks[back] < modulus)
        if margin < modulus / 8 and np.all(fits) and float(ticks.max()) < modulus:
            turns = np.concatenate(([0.0], np.cumsum(steps < 0)))
            return ticks + modulus * turns, f"the time counter wraps at {modulus:.0f}; {back.size} wraps were undone"
    return ticks, ""


def lay_out(t_s: FloatArray) -> TimeLine:
    """Return times, shape (n,), s, as one non-decreasing line.

    Raises
    ------
    FormatError
        When time does not advance, or steps back too often to be a time.

    Notes
    -----
    A backward step ends a stretch. The next one keeps its own pace and is laid `JOIN_GAP_S` after the end of the one
    before, with a gap between, so that nothing is ever measured across the joint.
    """
    steps = np.diff(t_s)
    back = np.flatnonzero(steps < 0)
    if 2 * back.size > max(steps.size, 1) or back.size > max(5.0, MOST_BACK_SHARE * steps.size):
        _refuse(
            "The time of a log must run forward: isolated steps back split it, this many mean it is no time.",
            t_s,
            back,
            "Sort the log by time, name another column with --time, or give --rate-hz.",
        )
    if t_s.size < 2 or not np.any(steps > 0):
        _refuse("A log needs a time that advances.", t_s, back, "Name another column with --time, or give --rate-hz.")
    shift = np.zeros(t_s.size)
    shift[back + 1] = JOIN_GAP_S - steps[back]
    line = t_s + np.cumsum(shift) if back.size else t_s
    return TimeLine(
        t_s=np.maximum.accumulate(line) if back.size else line,
        gaps=tuple(Gap(start_s=float(line[i]), end_s=float(line[i + 1]), reason="time steps back") for i in back),
        remarks=tuple(_joint_text(t_s, int(i)) for i in back[:5]) + _more_text(back),
    )


def _joint_text(t_s: FloatArray, i: int) -> str:
    restart = t_s[i + 1] <= t_s[0] + 0.05 * (t_s[i] - t_s[0])
    what = "restarts" if restart else "steps back"
    return (
        f"time {what} at row {i + 2} ({t_s[i]:.6g} s to {t_s[i + 1]:.6g} s): "
        f"the log is split there and the next stretch laid {JOIN_GAP_S:g} s later"
    )


def _more_text(back: NDArray[np.intp]) -> tuple[str, ...]:
    return (f"time steps back {back.size - 5} more times, split likewise",) if back.size > 5 else ()


def _refuse(sentence: str, t_s: FloatArray, back: NDArray[np.intp], next_step: str) -> None:
    facts: dict[str, object] = {"rows": t_s.size, "steps back": back.size}
    if t_s.size:
        facts |= {"first time (s)": f"{t_s[0]:.6g}", "last time (s)": f"{t_s[-1]:.6g}"}
    raise FormatError(sentence, facts, next_step)
