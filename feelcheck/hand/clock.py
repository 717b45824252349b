"""The device's report clock from the host's time stamps: interval, jitter, lost reports, gaps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from feelcheck.hand.numbers import (
    BRACKET_SLACK,
    CLOCK_COHERENCE,
    FAST_STEPS,
    FASTEST_S,
    FINEST_STAMP_S,
    GAP_REPORTS,
    LEAST_STEPS,
    MOST_OTHER,
    MOST_OUTSIDE,
    MOST_SEEN,
    MOVING_ROWS,
    NEAR_POLL,
    NONE_OF_N,
    SHORTEST_GAP_S,
    SLOW_LOOP_S,
)
from feelcheck.model import Caveat, Estimate, FloatArray, Gap, Recording, ReportClock, Stream, frozen_array
from feelcheck.numerics.report_grid import GridFit, common_multiple, fit_stretches, stamp_step

__all__ = ["recover_clock"]


_COUNT = "mean over counted reports"
_FIT = "scatter of the stamps about the grid"
_PARTS = "difference between parts of the recording, rounding of the stamps"
_LOST = "number of lost reports"
_DIGITS = "digits of the stated rate"

_NO_GRID = Caveat(
    code="clock_not_recovered",
    text="The time stamps do not fall on a regular clock, so the report interval cannot be told.",
    advice="Record with stamps of 0.1 ms or finer, with fast motion, and not through a busy program.",
)
_POLL = Caveat(
    code="poll_limited",
    text="The only regular rhythm in the stamps is that of the logging program's own polling.",
    advice="Poll at least four times as often as the pad reports.",
)
_OUTSIDE = Caveat(
    code="clock_outside_brackets",
    text="A regular clock does not agree with the instants between which the reports were seen.",
    advice="Record again on a quieter machine.",
)
_FEW = Caveat(
    code="too_few_reports",
    text="There are too few reports to tell their rhythm.",
    advice="Record at least ten seconds with fast motion.",
)
_COARSE = Caveat(
    code="coarse_stamps",
    text="The stamps are rounded to steps as long as the report interval or longer, so single instants are not known.",
    advice="Log stamps in microseconds.",
)
_COUNTED = Caveat(
    code="interval_counted",
    text="The interval is the mean over counted reports; lost or unlogged ones would make it too long.",
    advice="Log stamps in microseconds on a quiet machine.",
)
_STATED = Caveat(
    code="rate_stated",
    text="The log gives a rate or a regular grid, not the instants at which reports came.",
)
_LOOP = Caveat(
    code="maybe_logger_rate",
    text="This may be the rhythm of the logging program (a picture rate, say) and not that of the pad.",
    advice="Log every report of the pad as it comes.",
)
_CHANGES = Caveat(
    code="seen_from_changes",
    text="The log holds changes only; a pad that reports more often than it samples its stick looks the same.",
)
_UNSEEN_LOSS = Caveat(
    code="loss_not_seen",
    text="Lost reports cannot be told from reports that were not sent.",
    advice="Record fast motion with stamps of 0.1 ms or finer.",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """All reports of all axes in one order, ties in the order of the log."""

    t_lo_s: FloatArray
    t_hi_s: FloatArray
    place: Mapping[str, NDArray[np.intp]]
    every: bool
    regular_s: float | None


def recover_clock(recording: Recording) -> ReportClock:
    """Return the report clock of the device behind a recording.

    Parameters
    ----------
    recording : Recording
        Streams with their stamps; raw stamps are kept wherever no clock can be trusted.

    Notes
    -----
    See `feelcheck.numerics.report_grid.fit_stretches` for the fit. It is refused where the coherence is under 0.5,
    where its period is that of the logger's own polling, or where its instants leave the brackets by more than 0.45 of
    the interval. Where stamps are rounded as coarsely as the reports come, reports are counted instead.
    """
    streams = [s for s in recording.streams if s.codes.size]
    rows = _rows(streams)
    if rows is None or rows.t_hi_s.size < 3:
        return _refused(recording, (_FEW,))
    if rows.regular_s is not None:
        return _stated(recording, streams, rows.regular_s)
    step_s = stamp_step(rows.t_hi_s)
    if _steps_are_reports(rows, step_s):
        step_s = 0.0
    repeats = _repeats(streams, rows)
    fit = fit_stretches(rows.t_hi_s, shortest_s=max(FASTEST_S, 1.6 * step_s), repeats=repeats)
    if fit is not None and (times := _times_too_short(rows, fit.interval_s)) > 1:
        fit = fit_stretches(rows.t_hi_s, shortest_s=0.8 * times * fit.interval_s, repeats=repeats)
    why = _why_refused(rows, fit, step_s)
    if fit is None or why is not None:
        counted = _counted(rows, step_s)
        return _refused(recording, (why or _FEW,), counted)
    return _recovered(recording, streams, rows, fit, step_s)


def _rows(streams: list[Stream]) -> _Rows | None:
    if not streams:
        return None
    first = streams[0].time
    every = all(s.reports == "every" for s in streams)
    if all(s.time is first for s in streams):
        here = np.arange(first.t_hi_s.size)
        place = {s.name: here for s in streams}
        return _Rows(
            t_lo_s=first.t_lo_s, t_hi_s=first.t_hi_s, place=place, every=every, regular_s=first.regular_interval_s
        )
    t_hi_s = np.concatenate([s.time.t_hi_s for s in streams])
    turn = np.concatenate([_turns(s.time.t_hi_s) for s in streams])
    order = np.lexsort((turn, t_hi_s))
    new = (np.diff(t_hi_s[order], prepend=np.nan) != 0) | (np.diff(turn[order], prepend=-1) != 0)
    number = np.empty(order.size, dtype=np.intp)
    number[order] = np.cumsum(new) - 1
    t_lo_s = np.concatenate([s.time.t_lo_s for s in streams])[order][new]
    bounds = np.cumsum([0] + [s.codes.size for s in streams])
    place = {s.name: number[a:b] for s, a, b in zip(streams, bounds[:-1], bounds[1:], strict=True)}
    return _Rows(t_lo_s=t_lo_s, t_hi_s=t_hi_s[order][new], place=place, every=every, regular_s=None)


def _turns(t_s: FloatArray) -> NDArray[np.int64]:
    """Return for each stamp how many equal ones stand before it."""
    order = np.arange(t_s.size)
    starts = np.maximum.accumulate(np.where(np.diff(t_s, prepend=np.nan) != 0, order, 0))
    return order - starts


def _repeats(streams: list[Stream], rows: _Rows) -> NDArray[np.bool_]:
    """Return which rows say the same as the row before them."""
    same = np.ones(rows.t_hi_s.size, dtype=bool)
    for stream in streams:
        changed = np.diff(stream.codes, prepend=stream.codes[:1] - 1) != 0
        same[rows.place[stream.name][changed]] = False
    return same


def _times_too_short(rows: _Rows, interval_s: float) -> int:
    """Return by how much an interval is too short: between exact instants nearly all steps are multiples of that.

    The stamps of a stalled host come in bursts, which a third or a half of the interval fits better.
    """
    exact = rows.t_hi_s - rows.t_lo_s < 0.5 * interval_s
    steps = np.rint(np.diff(rows.t_hi_s)[exact[1:] & exact[:-1]] / interval_s)
    steps = steps[steps > 0]
    if steps.size < LEAST_STEPS:
        return 1
    return common_multiple(steps, (6, 4, 3, 2), MOST_OTHER)


def _why_refused(rows: _Rows, fit: GridFit | None, step_s: float) -> Caveat | None:
    if fit is None:
        return _COARSE if step_s else _NO_GRID
    if fit.coherence < CLOCK_COHERENCE:
        return _COARSE if step_s > 0.4 * fit.interval_s else _NO_GRID
    poll_s = float(np.median(rows.t_hi_s - rows.t_lo_s))
    if poll_s > 0 and (abs(fit.interval_s / poll_s - 1) < NEAR_POLL or fit.interval_s < poll_s):
        return _POLL
    slack_s = BRACKET_SLACK * fit.interval_s
    bracketed = rows.t_hi_s > rows.t_lo_s
    outside = (fit.t_s < rows.t_lo_s - slack_s) | (fit.t_s > rows.t_hi_s + slack_s)
    if np.any(bracketed) and float(np.mean(outside[bracketed])) > MOST_OUTSIDE:
        return _OUTSIDE
    return None


def _counted(rows: _Rows, step_s: float) -> Estimate | None:
    """Return the interval from counted reports, where every report has a row."""
    t_s = rows.t_hi_s
    if not rows.every or t_s.size < 100:
        return None
    if step_s:
        ticks = np.rint((t_s - t_s[0]) / step_s).astype(np.int64)
        per_tick = np.unique(ticks, return_counts=True)[1]
        usual = int(np.bincount(per_tick).argmax())
        share = float(np.mean(np.abs(per_tick - usual) <= (usual > 1)))
        mean = t_s.size / max(int(ticks[-1]), 1)
        if share > 0.85 and abs(mean / usual - 1) < 0.06:
            interval_s = step_s / usual
            u_s = max(5e-4, abs(mean / usual - 1) / 10) * interval_s
            return Estimate.measured(
                "report_interval", interval_s, u=u_s, unit="s", n=int(t_s.size), caveats=(_COARSE,), by=_COUNT
            )
    chunk = max(t_s.size // 40, 20)
    means = (t_s[chunk:] - t_s[:-chunk])[::chunk] / chunk
    # lost reports make some means longer, never shorter: the interval lies below the middle
    interval_s = float(np.percentile(means, 35))
    if interval_s <= 0:
        return None
    spread = float(np.subtract(*np.percentile(means, [75, 25]))) / interval_s
    if spread > 0.1:
        return None
    u_s = interval_s * max(0.02, spread)
    n, by = int(t_s.size), _COUNT
    return Estimate.measured("report_interval", interval_s, u=u_s, unit="s", n=n, caveats=(_COUNTED,), by=by)


def _raw_times(recording: Recording) -> Mapping[str, FloatArray]:
    return MappingProxyType({s.name: s.time.t_hi_s for s in recording.streams})


def _nothing(quantity: str, unit: str, caveats: tuple[Caveat, ...]) -> Estimate:
    return Estimate.not_resolved(quantity, unit=unit, caveats=caveats)


def _refused(recording: Recording, caveats: tuple[Caveat, ...], interval: Estimate | None = None) -> ReportClock:
    known = interval is not None
    if interval is None:
        interval = _nothing("report_interval", "s", caveats)
    elif interval.value is not None and interval.value > SLOW_LOOP_S:
        interval = interval.with_caveats(_LOOP)
    usual_s = interval.value if interval.value is not None else 0.0
    return ReportClock(
        interval=interval,
        jitter=_nothing("host_jitter", "s", caveats),
        lost_fraction=_nothing("lost_report_fraction", "fraction", caveats),
        report_t_s=_raw_times(recording),
        trusted=False,
        gaps=_gaps(recording, usual_s) if known else recording.gaps,
    )


def _steps_are_reports(rows: _Rows, step_s: float) -> bool:
    """Whether stamps lie on whole steps because the reports do: one a step, hardly any step without one.

    Rounding would now and then put two reports on one step.
    """
    if not step_s or not rows.every or rows.t_hi_s.size < 100:
        return False
    steps = np.rint(np.diff(rows.t_hi_s) / step_s)
    return bool(steps.min() >= 1 and np.mean(steps == 1) > 0.9)


def _stated(recording: Recording, streams: list[Stream], interval_s: float) -> ReportClock:
    n = max(s.codes.size for s in streams)
    return ReportClock(
        interval=Estimate.measured(
            "report_interval", interval_s, u=1e-6 * interval_s, unit="s", n=n, caveats=(_STATED,), by=_DIGITS
        ),
        jitter=_nothing("host_jitter", "s", (_STATED,)),
        lost_fraction=_nothing("lost_report_fraction", "fraction", (_STATED,)),
        report_t_s=_raw_times(recording),
        trusted=True,
        gaps=_gaps(recording, interval_s),
    )


def _recovered(recording: Recording, streams: list[Stream], rows: _Rows, fit: GridFit, step_s: float) -> ReportClock:
    t_s = _within_stretches(recording, rows, fit)
    interval = Estimate.measured(
        "report_interval", fit.interval_s, u=max(fit.u_s, 1e-6 * fit.interval_s), unit="s", n=int(t_s.size), by=_FIT
    )
    if fit.interval_s > SLOW_LOOP_S:
        interval = interval.with_caveats(_LOOP)
    if not rows.every:
        interval = interval.with_caveats(_CHANGES)
    caveats = (_COARSE,) if step_s > 0.4 * fit.interval_s else ()
    p50, p95, p99 = np.quantile(np.abs(fit.late_s), (0.5, 0.95, 0.99)).tolist()
    u_s = float(np.std(np.quantile(np.abs(_folded(fit.late_s)), 0.95, axis=1))) / 3 + step_s / 4
    jitter = _lateness("host_jitter", p95, u_s, int(t_s.size)).with_caveats(*caveats)
    extra = {
        name: _lateness(name, value, u_s, int(t_s.size))
        for name, value in (("host_jitter_p50", p50), ("host_jitter_p99", p99))
    }
    names = {s.name for s in streams}
    report_t_s = {
        s.name: frozen_array(t_s[rows.place[s.name]]) if s.name in names else s.time.t_hi_s for s in recording.streams
    }
    return ReportClock(
        interval=interval,
        jitter=jitter,
        lost_fraction=_lost(streams, rows, fit),
        report_t_s=MappingProxyType(report_t_s),
        trusted=True,
        gaps=_gaps(recording, fit.interval_s),
        extra=MappingProxyType(extra),
    )


def _lateness(quantity: str, value_s: float, u_s: float, n: int) -> Estimate:
    """Return a quantile of the lateness, a limit where rounded stamps hide it."""
    if value_s < max(FINEST_STAMP_S, 2 * u_s):
        return Estimate.at_most(quantity, max(FINEST_STAMP_S, value_s + 2 * u_s), unit="s", n=n)
    return Estimate.measured(quantity, value_s, u=u_s, unit="s", n=n, by=_PARTS)


def _folded(late_s: FloatArray) -> FloatArray:
    """Return the lateness in ten rows, for the spread of its quantiles."""
    width = max(late_s.size // 10, 1)
    return late_s[: 10 * width].reshape(-1, width)


def _within_stretches(recording: Recording, rows: _Rows, fit: GridFit) -> FloatArray:
    """Return the grid's instants, raw stamps where the grid strays (a stretch after a gap with a phase of its own)."""
    t_s = fit.t_s
    early_s, late_s = rows.t_lo_s - fit.interval_s, rows.t_hi_s + BRACKET_SLACK * fit.interval_s
    strayed = (t_s > late_s) | ((rows.t_lo_s < rows.t_hi_s) & (t_s < early_s - 8 * fit.interval_s))
    starts_s = np.sort([gap.start_s for gap in recording.gaps])
    strayed |= np.searchsorted(starts_s, rows.t_hi_s, side="right") > np.searchsorted(starts_s, t_s, side="right")
    return np.maximum.accumulate(np.where(strayed, rows.t_hi_s, t_s))


def _per_slot(streams: list[Stream], rows: _Rows) -> FloatArray:
    """Return for each row the change of the axis that changed most, in steps of that axis."""
    most = np.zeros(rows.t_hi_s.size)
    for stream in streams:
        change = np.abs(np.diff(stream.codes.astype(np.float64), prepend=float(stream.codes[0])))
        seen = change[change > 0]
        if seen.size:
            step = float(max(np.percentile(seen, 2), 0.5 * np.percentile(seen, 30)))
            np.maximum.at(most, rows.place[stream.name], change / step)
    return most


def _lost(streams: list[Stream], rows: _Rows, fit: GridFit) -> Estimate:
    """Return the share of slots without a report, where the stick moves so fast that none can have been silent.

    Where changes alone are logged and most slots are empty even then, the sensor is slower than the reports and
    nothing can be said.
    """
    steps = np.diff(fit.index, prepend=fit.index[0] - 1)
    most = _per_slot(streams, rows)
    judged = (_moving_rows if rows.every else _fast_rows)(most, steps) & (steps > 0) & (steps <= GAP_REPORTS)
    judged[:1] = judged[-1:] = False
    n_slots, n_seen = int(steps[judged].sum()), int(np.count_nonzero(judged))
    if n_seen < 50:
        return _nothing("lost_report_fraction", "fraction", (_UNSEEN_LOSS,))
    share = (n_slots - n_seen) / n_slots
    if n_slots == n_seen:
        none = Estimate.at_most("lost_report_fraction", NONE_OF_N / n_slots, unit="fraction", n=n_slots)
        return none.because("NONE_OF_N")
    u = float(np.sqrt(share * (1 - share) / n_slots))
    return Estimate.measured("lost_report_fraction", share, u=u, unit="fraction", n=n_slots, scale="log", by=_LOST)


def _moving_rows(most: FloatArray, steps: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return the rows about which the stick moves by a step a slot or more on average."""
    window = np.ones(MOVING_ROWS)
    change, slots = np.convolve(most, window, mode="same"), np.convolve(np.minimum(steps, GAP_REPORTS), window, "same")
    return np.asarray(change >= slots)


def _fast_rows(most: FloatArray, steps: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return the rows of a log of changes between two others so fast that no slot can have been silent."""
    rate = most / np.maximum(steps, 1)
    slower = np.minimum(np.roll(rate, 1), np.roll(rate, -1))
    judged = (slower >= FAST_STEPS) & ((rate >= 0.75 * slower) | (steps == 1))
    seen = float(np.mean(steps[judged] == 1)) if judged.any() else 0.0
    return judged if seen >= MOST_SEEN else np.zeros_like(judged)


def _gaps(recording: Recording, interval_s: float) -> tuple[Gap, ...]:
    """Return the reader's own gaps and long stretches that silence does not explain."""
    found = list(recording.gaps)
    limit_s = max(GAP_REPORTS * interval_s, SHORTEST_GAP_S)
    tables = {id(s.time): s for s in recording.streams if s.codes.size > 1 and s.reports == "every"}
    for stream in tables.values():
        t_s = stream.time.t_hi_s
        for k in np.flatnonzero(np.diff(t_s) > limit_s).tolist():
            start_s, end_s = float(t_s[k]), float(t_s[k + 1])
            if not any(g.start_s <= end_s and start_s <= g.end_s for g in found):
                found.append(Gap(start_s=start_s, end_s=end_s, reason="no reports"))
    return tuple(sorted(found, key=lambda gap: gap.start_s))
