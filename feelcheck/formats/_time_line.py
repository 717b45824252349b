"""A time column that wraps, restarts, steps back or holds impossible stamps, made sense of for logs and captures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats.numbers import (
    ALWAYS_ISOLATED,
    JOIN_GAP_S,
    MANY_STEPS,
    MOST_BACK,
    MOST_STRAY_ROWS,
    STRAY_END_S,
    STRAY_END_SPANS,
    STRAY_S,
    STRAY_STEPS,
)
from feelcheck.model import FloatArray, Gap

__all__ = ["TURNED", "TimeLine", "is_downward", "joints", "lay_out", "strays", "unwrapped"]


TURNED = "the times run downwards; the rows were turned round"

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
    four of the bottom: zero, or minus half the modulus of a signed counter.
    """
    steps = np.diff(ticks)
    back = np.flatnonzero(steps < 0)
    if not back.size:
        return ticks, ""
    ahead = steps[steps > 0]
    if not ahead.size or np.any(ticks[:1000] % 1) or np.any(ticks[back + 1] % 1):
        return ticks, ""
    usual = float(np.median(ahead))
    for modulus in _MODULI:
        margin = min(4 * usual, modulus / 8) if modulus > 256 else 4 * usual
        bottom = -modulus / 2 if float(ticks.min()) < 0 else 0.0
        top = bottom + modulus
        fits = (ticks[back] >= top - margin) & (ticks[back + 1] <= bottom + margin) & (ticks[back] < top)
        if (
            usual <= margin <= modulus / 8
            and np.all(fits)
            and float(ticks.max()) < top
            and float(ticks.min()) >= bottom
        ):
            turns = np.concatenate(([0.0], np.cumsum(steps < 0)))
            said = f"the time counter wraps at {modulus:.0f}; {counted(back.size, 'wrap')} undone"
            return ticks + modulus * turns, said
    return ticks, ""


def strays(t_s: FloatArray) -> NDArray[np.bool_]:
    """Return which stamps, shape (n,), s, are impossible: alone far from those before and behind them.

    Notes
    -----
    A run of at most `MOST_STRAY_ROWS` rows is impossible where time jumps there by more than `STRAY_S` and
    `STRAY_STEPS` usual steps, jumps back behind it, and goes on without it as if it were not there. At the beginning
    and the end a run is impossible where it is more than a day and `STRAY_END_SPANS` lengths of all the rest away.

    Examples
    --------
    >>> strays(np.array([0.0, 0.01, 3e7, 0.03, 0.04, 0.05])).nonzero()[0]
    array([2])
    """
    found = _inner_strays(t_s)
    left = np.flatnonzero(~found)
    rest = t_s[left]
    jumps = np.flatnonzero(np.abs(np.diff(rest)) > STRAY_END_S)
    if not jumps.size:
        return found
    first, last = int(jumps[0]) + 1, int(jumps[-1]) + 1
    if first <= MOST_STRAY_ROWS and _is_away(rest[first - 1] - rest[first], rest[first:]):
        found[left[:first]] = True
    if rest.size - last <= MOST_STRAY_ROWS and _is_away(rest[last] - rest[last - 1], rest[:last]):
        found[left[last:]] = True
    return found


def _inner_strays(t_s: FloatArray) -> NDArray[np.bool_]:
    found = np.zeros(t_s.size, dtype=bool)
    steps = np.diff(t_s)
    some = steps[:: max(1, steps.size // MANY_STEPS)]
    ahead = some[some > 0]
    if ahead.size < MOST_STRAY_ROWS:
        return found
    far = max(STRAY_S, STRAY_STEPS * float(np.median(ahead)))
    jumps = np.flatnonzero(np.abs(steps) > far)
    starts, stops = jumps[:-1] + 1, jumps[1:] + 1
    across = t_s[stops] - t_s[starts - 1]
    alone = (stops - starts <= MOST_STRAY_ROWS) & (across >= 0) & (across <= far)
    for start, stop in zip(starts[alone], stops[alone], strict=True):
        found[start:stop] = True
    return found


def _is_away(jump_s: float, rest: FloatArray) -> bool:
    return rest.size > 2 * MOST_STRAY_ROWS and abs(jump_s) > max(STRAY_END_S, STRAY_END_SPANS * float(np.ptp(rest)))


def is_downward(t_s: FloatArray) -> bool:
    """Return whether all times that there are, of shape (n,), fall: the rows stand with the newest first."""
    steps = np.diff(t_s[np.isfinite(t_s)])
    return bool(steps.size > 1 and np.all(steps < 0))


def joints(t_s: FloatArray, tolerance_s: float = 0.0) -> NDArray[np.intp]:
    """Return the places before which time, shape (n,), s, steps back by more than a tolerance."""
    return np.flatnonzero(np.diff(t_s) < -tolerance_s) + 1


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
    back = joints(t_s) - 1
    if 2 * back.size > max(steps.size, 1) or back.size > max(ALWAYS_ISOLATED, MOST_BACK * steps.size):
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
    return (f"time steps back {counted(back.size - 5, 'more time')}, split likewise",) if back.size > 5 else ()


def _refuse(sentence: str, t_s: FloatArray, back: NDArray[np.intp], next_step: str) -> None:
    facts: dict[str, object] = {"rows": t_s.size, "steps back": back.size}
    if t_s.size:
        facts |= {"first time (s)": f"{t_s[0]:.6g}", "last time (s)": f"{t_s[-1]:.6g}"}
    raise FormatError(sentence, facts, next_step)
