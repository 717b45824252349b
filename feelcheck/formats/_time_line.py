"""A time column that wraps, restarts, steps back or holds impossible stamps, made sense of for logs and captures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats._columns import are_whole, usual_step
from feelcheck.formats.numbers import (
    ALWAYS_ISOLATED,
    JOIN_GAP_S,
    MOST_BACK,
    MOST_STRAY_ROWS,
    OVERLAP,
    STRAY_END_S,
    STRAY_END_SPANS,
    STRAY_S,
    STRAY_STEPS,
)
from feelcheck.model import FloatArray, Gap

__all__ = [
    "TimeLine", "TimedRows", "anew", "far_s", "in_order", "joints", "lay_out", "steps_back", "strays", "unwrapped",
]  # fmt: skip

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
    usual = usual_step(ticks)
    if not usual or not are_whole(ticks):
        return ticks, ""
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimedRows:
    """The rows of a table that have a time, in order of time but for where it begins anew.

    Parameters
    ----------
    rows : ndarray of int, shape (n,)
        The table's rows.
    t_s : ndarray, shape (n,), s
        Their times.
    remarks : tuple of str
        What was left out or turned round.
    """

    rows: NDArray[np.intp]
    t_s: FloatArray
    remarks: tuple[str, ...] = ()

    def take(self, cells: NDArray[Any]) -> NDArray[Any]:
        """Return the cells of a table's column, shape (n_rows,), at these times; the column itself for every row.

        Parameters
        ----------
        cells : ndarray, shape (n_rows,)
            The column as it stands in the table.
        """
        every = self.rows.size == cells.size and cells.size > 1 and self.rows[0] == 0 and self.rows[1] == 1
        return cells if every else cells[self.rows]


def in_order(t_s: FloatArray, tolerance_s: float = 0.0, *, keeps: bool = False) -> TimedRows:
    """Return the rows of a table that have a time that can be, the earliest first.

    Parameters
    ----------
    t_s : ndarray, shape (n_rows,), s
        A time of each row, NaN where it has none.
    tolerance_s : float, s
        Steps back that rounding explains.
    keeps : bool
        Whether a row among others whose time cannot be takes that of the row before: a report came, only its stamp is
        wrong, and a row left out would count as lost.
    """
    rows, remarks = np.arange(t_s.size), []
    timed = np.isfinite(t_s)
    if not timed.all():
        remarks.append(f"{counted(int(np.count_nonzero(~timed)), 'row')} without a time left out")
        rows, t_s = rows[timed], t_s[timed]
    if _is_downward(t_s):
        remarks.append("the times run downwards; the rows were turned round")
        rows, t_s = rows[::-1], t_s[::-1]
    out = strays(t_s, tolerance_s)
    if keeps and out.any():
        t_s, kept = _as_before(t_s, out)
        remarks += [f"{counted(kept, 'row')} with a time out of order took that of the row before"] if kept else []
    if out.any():
        first = f"(the first is row {int(rows[out].min()) + 1})"
        remarks.append(f"{counted(int(np.count_nonzero(out)), 'row')} with an impossible time left out {first}")
        rows, t_s = rows[~out], t_s[~out]
    return TimedRows(rows=rows, t_s=t_s, remarks=tuple(remarks))


def _as_before(t_s: FloatArray, out: NDArray[np.bool_]) -> tuple[FloatArray, int]:
    """Return times in which those that are out, and not far off, take the last one before them, and how many do.

    They are out no more.
    """
    place = np.arange(t_s.size)
    before = t_s[np.maximum.accumulate(np.where(out, np.argmin(out), place))]
    inner = (place > np.argmin(out)) & (place < out.size - 1 - np.argmin(out[::-1]))
    near = out & inner & (np.abs(t_s - before) <= far_s(t_s))
    out[near] = False
    return np.where(near, before, t_s), int(np.count_nonzero(near))


def _is_downward(t_s: FloatArray) -> bool:
    """Whether all times fall: the rows stand with the newest first."""
    steps = np.diff(t_s)
    return bool(steps.size > 1 and np.all(steps <= 0) and np.any(steps))


def strays(t_s: FloatArray, tolerance_s: float = 0.0) -> NDArray[np.bool_]:
    """Return which stamps, shape (n,), s, are impossible beside those before and behind them.

    Notes
    -----
    Where time steps back by more than the tolerance, a run of at most `MOST_STRAY_ROWS` rows before or behind the step
    is impossible if time runs forward without it. At the beginning and the end, where time may run forward with it too,
    it is impossible where it is more than a day and `STRAY_END_SPANS` lengths of all the rest away. Of too many steps
    back none is a stray's.

    Examples
    --------
    >>> strays(np.array([0.0, 0.01, 3e7, 0.03, 0.04, 0.02, 0.05, 0.06])).nonzero()[0]
    array([2, 5])
    """
    found = np.zeros(t_s.size, dtype=bool)
    if t_s.size <= 2 * MOST_STRAY_ROWS:
        return found
    back = joints(t_s, tolerance_s)
    if back.size <= _most_isolated(t_s.size):
        for k in back.tolist():
            runs = _runs(t_s, k, tolerance_s)
            found[min(runs, key=lambda run: run.stop - run.start, default=slice(0, 0))] = True
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


def _runs(t_s: FloatArray, k: int, tolerance_s: float) -> list[slice]:
    """Return the short runs of rows behind and before row `k`, without which time does not step back there."""
    behind = t_s[k : k + MOST_STRAY_ROWS + 1] >= t_s[k - 1] - tolerance_s
    before = t_s[max(0, k - 1 - MOST_STRAY_ROWS) : k][::-1] <= t_s[k] + tolerance_s
    n_behind, n_before = (int(np.argmax(on)) if on.any() else on.size for on in (behind, before))
    runs = (slice(k, k + n_behind), slice(k - n_before, k))
    return [run for run in runs if run.stop - run.start <= MOST_STRAY_ROWS]


def far_s(t_s: FloatArray) -> float:
    """Return by how much a stamp among those of several clocks, shape (n,), s, is off at least, to be impossible."""
    usual = usual_step(t_s)
    return max(STRAY_S, STRAY_STEPS * usual) if usual else np.inf


def _is_away(jump_s: float, rest: FloatArray) -> bool:
    return rest.size > 2 * MOST_STRAY_ROWS and abs(jump_s) > max(STRAY_END_S, STRAY_END_SPANS * float(np.ptp(rest)))


def _most_isolated(n: int) -> float:
    return max(ALWAYS_ISOLATED, MOST_BACK * n)


def joints(t_s: FloatArray, tolerance_s: float = 0.0) -> NDArray[np.intp]:
    """Return the places before which time, shape (n,), s, steps back by more than a tolerance."""
    return np.flatnonzero(np.diff(t_s) < -tolerance_s) + 1


def steps_back(t_s: FloatArray, tolerance_s: float = 0.0) -> NDArray[np.intp]:
    """Return the places before which time, shape (n,), s, steps back, where they are few enough for a time.

    Raises
    ------
    FormatError
        When time steps back too often.
    """
    back = joints(t_s, tolerance_s)
    if 2 * back.size > max(t_s.size - 1, 1) or back.size > _most_isolated(t_s.size - 1):
        _refuse(
            "Time must run forward: isolated steps back part a record, this many mean it is no time.",
            t_s,
            back,
            "Sort the rows by time, name another column with --time, or state the rate or the interval of the rows.",
        )
    return back


def anew(t_s: FloatArray, back: NDArray[np.intp]) -> list[int]:
    """Return those of the steps back at which time begins anew: by more than `OVERLAP` of the stretch before."""
    starts = [0]
    for k in back.tolist():
        if t_s[k - 1] - t_s[k] > OVERLAP * (t_s[k - 1] - t_s[starts[-1]]):
            starts.append(k)
    return starts[1:]


def lay_out(t_s: FloatArray) -> TimeLine:
    """Return times, shape (n,), s, as one non-decreasing line.

    Raises
    ------
    FormatError
        When time does not advance, or steps back too often.

    Notes
    -----
    A backward step ends a stretch. The next one keeps its own pace and is laid `JOIN_GAP_S` after the end of the one
    before, with a gap between, so that nothing is ever measured across the joint.
    """
    back = steps_back(t_s)
    steps = np.diff(t_s)
    if not np.any(steps > 0):
        _refuse("A log needs a time that advances.", t_s, back, "Name another column with --time, or give --rate-hz.")
    if not back.size:
        return TimeLine(t_s=t_s)
    shift = np.zeros(t_s.size)
    shift[back] = JOIN_GAP_S - steps[back - 1]
    line = np.maximum.accumulate(t_s + np.cumsum(shift))
    begun = anew(t_s, back)
    said = [
        f"time {'restarts' if k in begun else 'steps back'} at row {k + 1} ({t_s[k - 1]:.6g} s to {t_s[k]:.6g} s): "
        f"the log is split there and the next stretch laid {JOIN_GAP_S:g} s later"
        for k in back[:5].tolist()
    ]
    said += [f"time steps back {counted(back.size - 5, 'more time')}, split likewise"] if back.size > 5 else []
    gaps = (Gap(start_s=float(line[k - 1]), end_s=float(line[k]), reason="time steps back") for k in back.tolist())
    return TimeLine(t_s=line, gaps=tuple(gaps), remarks=tuple(said))


def _refuse(sentence: str, t_s: FloatArray, back: NDArray[np.intp], next_step: str) -> None:
    facts: dict[str, object] = {"rows": t_s.size, "steps back": back.size}
    if t_s.size:
        facts |= {"first time (s)": f"{t_s[0]:.6g}", "last time (s)": f"{t_s[-1]:.6g}"}
    raise FormatError(sentence, facts, next_step)
