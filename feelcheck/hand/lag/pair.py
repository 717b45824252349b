"""Two sticks on one grid of reports."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.axes import codes_at
from feelcheck.hand.lag.numbers import LONGEST_FILLED_S
from feelcheck.hand.silent import neighbours
from feelcheck.model import FloatArray, HandView, Stream

__all__ = ["AxisPair", "axis_pair"]

MOST_SLOTS = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AxisPair:
    """The same axis of two sticks, one value a report slot.

    Parameters
    ----------
    start_s, interval_s : float, s
        Instant of the first slot, and the report interval.
    a, b, across : ndarray, shape (n,)
        Fractions of nominal full throw of the first stick, of the second, and of the first stick's other axis; slots
        whose report was lost lie on a straight line between their neighbours.
    real : ndarray of bool, shape (n,)
        Where a report came, or where silence means that nothing changed.
    """

    start_s: float
    interval_s: float
    a: FloatArray
    b: FloatArray
    across: FloatArray
    real: NDArray[np.bool_]

    @property
    def t_s(self) -> FloatArray:
        """Instants of the slots, shape (n,), s."""
        return np.asarray(self.start_s + self.interval_s * np.arange(self.a.size))


def axis_pair(view: HandView, first: str, second: str, across: str = "") -> AxisPair | None:
    """Return two axes (and a third, the first stick's other one) on one grid of report slots.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    first, second, across : str
        Stream names; `across` may be empty.

    Returns
    -------
    AxisPair or None
        None where the report interval is not known or the axes have nothing in common.

    Notes
    -----
    A report carries all axes, so an axis without a row in a report holds its value. Slots between two reports that
    are neighbours in value were silent; others were lost, and are marked as not real.
    """
    interval_s = view.clock.interval.value
    names = [name for name in (first, second, across) if name]
    streams = [view.recording.stream(name) for name in names]
    if interval_s is None or any(stream.codes.size < 8 for stream in streams):
        return None
    t_s = np.unique(np.concatenate([view.clock.report_t_s[stream.name] for stream in view.recording.streams]))
    start_s = max(float(view.clock.report_t_s[name][0]) for name in names)
    t_s = t_s[t_s >= start_s]
    slot = np.rint((t_s - t_s[0]) / interval_s).astype(np.int64)
    if slot.size < 8 or slot[-1] > MOST_SLOTS:
        return None
    last = np.append(np.diff(slot) > 0, True)
    t_s, slot = t_s[last], slot[last]
    values = [_fractions(stream, view.clock.report_t_s[stream.name], t_s) for stream in streams]
    every = np.arange(slot[-1] + 1)
    real = _real(streams, values, slot, interval_s)
    held = np.searchsorted(slot, every, side="right") - 1
    filled = [np.where(real, row[held], np.interp(every, slot, row)) for row in values]
    return AxisPair(
        start_s=float(t_s[0]),
        interval_s=interval_s,
        a=filled[0],
        b=filled[1],
        across=filled[2] if across else np.zeros(every.size),
        real=real,
    )


def _fractions(stream: Stream, own_t_s: FloatArray, t_s: FloatArray) -> FloatArray:
    # a merged instant may differ from the axis' own by rounding
    return np.asarray((codes_at(stream, own_t_s, t_s + 1e-7) - stream.scale.centre) / stream.scale.reach)


def _real(
    streams: list[Stream], values: list[FloatArray], slot: NDArray[np.int64], interval_s: float
) -> NDArray[np.bool_]:
    real = np.zeros(int(slot[-1]) + 1, dtype=bool)
    real[slot] = True
    silent = np.full(slot.size - 1, any(stream.reports == "on_change" for stream in streams))
    silent &= neighbours(np.stack(values[:2]), 5.0)
    for k in np.flatnonzero(silent & (np.diff(slot) > 1)).tolist():
        real[slot[k] : slot[k + 1]] = True
    for k in np.flatnonzero(~silent & (np.diff(slot) * interval_s > LONGEST_FILLED_S)).tolist():
        real[max(slot[k] - 1, 0) : slot[k + 1] + 2] = False
    return real
