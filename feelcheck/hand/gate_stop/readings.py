"""A stick's reports made ready for the fit: one row a report, doubled ones dropped, silent ones put back."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.axes import stick_reports
from feelcheck.hand.fast_motion import two_sided_speed
from feelcheck.hand.gate_stop.numbers import FEWEST_NEWS, LOST_FROM, REPEAT_REACH_S, REPEAT_SPEED, REPEATED
from feelcheck.hand.gate_stop.windows import StickReadings
from feelcheck.hand.refresh import update_interval
from feelcheck.hand.silent import neighbours, repeated
from feelcheck.model import FloatArray, HandView, StickAxes

__all__ = ["first_of_repeated", "held_s", "report_interval_s", "stamp_scatter_s", "stick_readings"]


def report_interval_s(view: HandView, t_s: FloatArray) -> float:
    """Return the report interval: the recovered one, or the median step while reports come close together, s.

    Parameters
    ----------
    view : HandView
        What the metrics see of the recording.
    t_s : ndarray, shape (n,)
        Instants of the stick's reports, s.
    """
    if view.clock.interval.value is not None:
        return view.clock.interval.value
    steps = np.diff(t_s)
    steps = steps[steps > 1e-5]
    if not steps.size:
        return 1.0
    return float(np.median(steps[steps <= 3 * np.percentile(steps, 25)]))


def stick_readings(view: HandView, stick: StickAxes) -> StickReadings:
    """Return the readings of a stick, made once for each view.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    stick : StickAxes
        One of its sticks.

    Notes
    -----
    A stream that speaks on change only is silent while its value stands: such reports are put back where the next value
    is a neighbour of the last. Where it is not, a report may have been lost, and nothing is put back. Of rows that a
    poller repeated the first stands, up to a poll late.
    """
    return view.once(_readings, stick)


def held_s(view: HandView, stick: StickAxes, interval_s: float) -> float:
    """Return how long the source of a stick holds a value over several reports, s; 0 where every report brings one.

    Parameters
    ----------
    view : HandView
        The prepared recording.
    stick : StickAxes
        One of its sticks.
    interval_s : float, s
        Interval of its reports.
    """
    streams = [view.recording.stream(name) for name in (stick.x, stick.y) if name]
    told_s = [view.once(update_interval, stream).value or 0.0 for stream in streams]
    return max((one_s for one_s in told_s if one_s > REPEATED * interval_s), default=0.0)


def _readings(view: HandView, stick: StickAxes) -> StickReadings:
    merged = stick_reports(view, stick)
    interval_s = report_interval_s(view, merged.t_s)
    xy = np.stack([merged.x_fs, merged.y_fs])
    nominal = np.full_like(xy, np.nan)
    silent = False
    for axis, name in enumerate((stick.x, stick.y)):
        if not name:
            xy[axis] = np.nan
            continue
        stream = view.recording.stream(name)
        codes = (merged.x_codes, merged.y_codes)[axis]
        nominal[axis] = (codes - stream.scale.centre) / stream.scale.reach
        silent = silent or stream.reports == "on_change"
    last = np.append(np.diff(merged.t_s) > 0.3 * interval_s, True)
    t, xy, nominal = merged.t_s[last], xy[:, last], nominal[:, last]
    scatter_s = 0.0 if view.clock.trusted else stamp_scatter_s(merged.t_s, interval_s)
    polled = first_of_repeated(xy, interval_s)
    if polled is not None:
        rows, report_s = polled
        t, xy, nominal = t[rows], xy[:, rows], nominal[:, rows]
        scatter_s = float(np.hypot(scatter_s, interval_s / np.sqrt(12.0)))
        interval_s, silent = report_s, True
    if silent:
        t, index = _with_silent_reports(t, xy, interval_s)
        xy, nominal = xy[:, index], nominal[:, index]
    return StickReadings(t_s=t, xy=xy, nominal=nominal, interval_s=interval_s, scatter_s=scatter_s)


def stamp_scatter_s(t_s: FloatArray, interval_s: float) -> float:
    """Return the standard deviation of one time stamp about an even clock, from the steps of neighbours, s.

    Parameters
    ----------
    t_s : ndarray, shape (n,)
        Time stamps, s.
    interval_s : float
        Interval of the clock behind them, s.

    Notes
    -----
    Steps of more than two and a half intervals are pauses or losses and are left out.

    Examples
    --------
    >>> round(stamp_scatter_s(np.array([0.0, 0.9, 2.1, 2.9, 4.1]), 1.0), 3)
    0.126
    """
    steps = np.diff(t_s)
    steps = steps[steps < 2.5 * interval_s]
    return float(np.std(steps) / np.sqrt(2.0)) if steps.size > 1 else 0.0


def _with_silent_reports(t_s: FloatArray, xy: FloatArray, interval_s: float) -> tuple[FloatArray, np.ndarray]:
    """Return instants with the silent reports in, and for each the row whose values stand."""
    gap = np.round(np.diff(t_s) / interval_s).astype(np.int64)
    missing = np.where(neighbours(xy, 10.0) & (gap > 1) & (gap < 3000), gap - 1, 0)
    index, ahead = repeated(np.append(missing, 0) + 1)
    stride = np.append(np.diff(t_s), interval_s) / np.append(np.maximum(gap, 1), 1)
    return t_s[index] + ahead * stride[index], index


def first_of_repeated(xy: FloatArray, interval_s: float) -> tuple[NDArray[np.intp], float] | None:
    """Return the rows that brought a report and the interval of the reports; None where every row did.

    Parameters
    ----------
    xy : ndarray, shape (2, n)
        Readings; NaN where an axis was not logged.
    interval_s : float, s
        Interval of the rows.

    Notes
    -----
    While the stick moves fast every report changes a value: the rows from change to change tell how many rows a report
    stands for. A row is kept where a value changed; what stands still is silent.

    Examples
    --------
    >>> way = np.repeat(np.cumsum(np.r_[np.ones(60), np.full(60, 20.0)]), 4)
    >>> rows, interval_s = first_of_repeated(np.array([way, np.zeros_like(way)]), 0.001)
    >>> rows[:3].tolist(), round(interval_s, 4)
    ([0, 4, 8], 0.004)
    """
    known = np.nan_to_num(xy)
    changed = np.append(True, np.any(np.diff(known, axis=1) != 0, axis=0))
    reach = max(4, round(REPEAT_REACH_S / interval_s))
    fast = np.zeros(changed.size, dtype=bool)
    for row in known:
        steps = np.abs(np.diff(row))
        if np.any(steps > 0):
            fast |= two_sided_speed(row, reach) > REPEAT_SPEED * np.percentile(steps[steps > 0], 5)
    rows = np.flatnonzero(changed)
    apart = np.diff(rows)[fast[rows[1:]] | fast[rows[:-1]]]
    if apart.size < FEWEST_NEWS:
        return None
    usual = float(np.mean(apart[apart < LOST_FROM * np.median(apart)]))
    return (rows, usual * interval_s) if usual > REPEATED else None
