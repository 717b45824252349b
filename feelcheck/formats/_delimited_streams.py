"""From the columns of a log to streams that share a time base."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats._columns import find_column, usual_step
from feelcheck.formats._delimited_axes import as_codes, assign_roles, button_events, button_states, is_trigger
from feelcheck.formats._delimited_events import LongLog, sort_by_axis
from feelcheck.formats._delimited_options import LogOptions
from feelcheck.formats._delimited_scale import Deduction, deduce_scales, stated_scale
from feelcheck.formats._delimited_time import LogTime
from feelcheck.formats.numbers import (
    FEW_MISSING,
    FEW_RUNS,
    GAP_S,
    GAP_STEPS,
    PAUSE_S,
    REPEATED,
    SILENCE,
)
from feelcheck.model import ButtonEvent, FloatArray, Gap, Stream, TimeBase

__all__ = ["Streams", "long_streams", "wide_streams"]

Columns = Mapping[str, NDArray[Any]]
Reports = Literal["every", "on_change"]


_MIN_ROWS = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Streams:
    """What the columns of a log give.

    Parameters
    ----------
    streams : tuple of Stream
        The axes.
    buttons : tuple of ButtonEvent
        Changes of buttons, in time order.
    gaps : tuple of Gap
        Silences of a log that otherwise has every report.
    remarks : tuple of str
        What had to be decided.
    facts : dict of str to str
        How rows and reports relate.
    """

    streams: tuple[Stream, ...]
    buttons: tuple[ButtonEvent, ...]
    gaps: tuple[Gap, ...]
    remarks: tuple[str, ...]
    facts: dict[str, str]


def wide_streams(columns: Columns, time: LogTime, options: LogOptions) -> Streams:
    """Return the streams of a wide log (one column an axis).

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (n_rows,)
        The table, all rows.
    time : LogTime
        The time of its rows.
    options : LogOptions
        What the user stated.

    Raises
    ------
    FormatError
        Where no column is an axis, or too few rows are left.
    """
    kept = {name: time.timed.take(cells) for name, cells in columns.items()}
    roles = assign_roles(kept, time.used, options)
    states = {name: states for name in roles.buttons if (states := button_states(kept[name])) is not None}
    finite = {name: _usable(kept[name]) for name in roles.axes}
    whole_rows = np.logical_and.reduce(list(finite.values()))
    n_missing = int(whole_rows.size - np.count_nonzero(whole_rows))
    sparse = n_missing > max(1.0, FEW_MISSING * whole_rows.size)
    common = np.flatnonzero(whole_rows)
    rows = {name: np.flatnonzero(finite[name]) if sparse else common for name in roles.axes}
    codes = {name: as_codes(kept[name][own] if n_missing else kept[name]) for name, own in rows.items()}
    patchy = sparse and max(np.count_nonzero(np.diff(own)) for own in finite.values()) > FEW_RUNS
    shared = [kept[name][whole_rows] if sparse else own for name, own in codes.items()]
    reports = (
        _reports_of_each(codes, {name: time.line.t_s[own] for name, own in rows.items()})
        if patchy
        else _reports(shared, states, whole_rows, time.line.t_s)
    )
    streams, remarks = _streams(codes, rows, time, reports, options)
    if sparse:
        remarks = (*remarks, f"{counted(n_missing, 'row')} with empty cells: taken as no report of that axis")
    elif n_missing:
        remarks = (*remarks, f"{counted(n_missing, 'row')} with an empty or impossible cell left out")
    remarks += tuple(f"column '{name}' is no axis: {why}" for name, why in _worth_saying(roles.ignored))
    pressed = [event for name, own in states.items() for event in button_events(name, own, time.line.t_s)]
    return Streams(
        streams=streams,
        buttons=tuple(sorted(pressed, key=lambda event: event.t_hi_s)),
        gaps=_gaps(streams) if reports == "every" else (),
        remarks=remarks,
        facts={"layout": "one column an axis", "reports": reports},
    )


def _usable(cells: NDArray[Any]) -> NDArray[np.bool_]:
    return np.ones(cells.size, bool) if cells.dtype.kind in "iu" else np.isfinite(cells)


def long_streams(columns: Columns, time: LogTime, long: LongLog, options: LogOptions) -> Streams:
    """Return the streams of a long log (one row an event); shapes and errors as for `wide_streams`."""
    usable = np.isfinite(time.timed.take(columns[long.value]))
    kept = {name: time.timed.take(columns[name])[usable] for name in (long.name, long.value, long.kind) if name}
    axes, buttons = sort_by_axis(kept, long)
    if options.axes:
        names = list(axes)
        axes = {name: axes[name] for name in (names[find_column(names, one, "--axes")] for one in options.axes)}
    t_s = time.line.t_s[usable]
    codes = {name: as_codes(kept[long.value][own]) for name, own in axes.items()}
    still = [name for name, values in codes.items() if not options.axes and (values.size < 2 or not np.ptp(values))]
    codes = {name: values for name, values in codes.items() if name not in still}
    if not codes:
        raise FormatError(
            "A stick log needs at least one axis: numbers that vary.",
            {"name column": long.name, "value column": long.value, "names": ", ".join(list(axes)[:12])},
            "Record while the stick moves, or name the axes with --axes A,B.",
        )
    repeats = max(float(np.mean(values[1:] == values[:-1])) if values.size > 1 else 0.0 for values in codes.values())
    instants = {name: t_s[axes[name]] for name in codes}
    alike = len({own.tobytes() for own in instants.values()}) == 1 < len(instants)
    reports: Reports = "every" if repeats >= REPEATED else "on_change"
    if alike and reports == "on_change":
        reports = _reports_of_each(codes, instants)
    streams, remarks = _streams(codes, axes, time, reports, options, t_s=t_s)
    pressed = [
        event
        for name, own in buttons.items()
        if (states := button_states(kept[long.value][own])) is not None
        for event in button_events(name, states, t_s[own])
    ]
    return Streams(
        streams=streams,
        buttons=tuple(sorted(pressed, key=lambda event: event.t_hi_s)),
        gaps=(),
        remarks=remarks + tuple(f"axis '{name}' was left out: constant" for name in still),
        facts={"layout": "one row an event", "reports": reports, "name column": long.name, "value column": long.value},
    )


def _streams(
    codes: Mapping[str, NDArray[Any]],
    rows: Mapping[str, NDArray[np.intp]],
    time: LogTime,
    reports: Reports,
    options: LogOptions,
    *,
    t_s: FloatArray | None = None,
) -> tuple[tuple[Stream, ...], tuple[str, ...]]:
    t_s = time.line.t_s if t_s is None else t_s
    scales, remarks = _scales(codes, options)
    bases: dict[bytes | int, TimeBase] = {}
    streams = []
    for name, values in codes.items():
        own = rows[name]
        if own.size < _MIN_ROWS:
            raise FormatError(
                "A log needs at least three rows with a time and a value.",
                {"axis": name, "rows": own.size},
                "Check that the whole file was copied, and record longer.",
            )
        key = t_s.size if own.size == t_s.size else own.tobytes()
        if key not in bases:
            whole = own.size == t_s.size
            regular = time.regular_interval_s if whole and not time.line.gaps else None
            bases[key] = TimeBase.from_instants(t_s if whole else t_s[own], clock="log", regular_interval_s=regular)
        streams.append(Stream(name=name, time=bases[key], codes=values, scale=scales[name].scale, reports=reports))
    return tuple(streams), remarks


def _scales(codes: Mapping[str, NDArray[Any]], options: LogOptions) -> tuple[dict[str, Deduction], tuple[str, ...]]:
    triggers = frozenset(name for name in codes if is_trigger(name))
    if options.full_scale is not None:
        found = {name: stated_scale(own, options.full_scale, name in triggers) for name, own in codes.items()}
    else:
        found = deduce_scales(dict(codes), triggers)
    remarks = []
    for name, deduction in found.items():
        if not deduction.certain:
            remarks.append(
                f"full scale of '{name}' cannot be told from its numbers: fractions are of "
                f"{deduction.scale.reach:g} about {deduction.scale.centre:g}; state it with --full-scale"
            )
        if deduction.n_beyond:
            remarks.append(f"{counted(deduction.n_beyond, 'value')} of '{name}' beyond full scale")
    return found, tuple(remarks)


def _reports(
    codes: Sequence[NDArray[Any]],
    states: Mapping[str, NDArray[np.int64]],
    whole_rows: NDArray[np.bool_],
    t_s: FloatArray,
) -> Reports:
    """Return whether every report has a row.

    Rows that repeat the one before in every axis and button show it. Axes that each repeat often, but never all at
    once, show the contrary: rows were written on a change. Where neither can be told, a log that falls silent for much
    of its time speaks on change; one that never does has a row for every report. A silence is as many steps long as a
    gap of a log that has a row for every report; pauses of ten seconds and more show nothing.
    """
    complete = bool(whole_rows.all())
    steps = np.diff(t_s)  # a row without numbers breaks a silence too
    same = (steps if complete else np.diff(t_s[whole_rows])) > 0
    expected = float(same.size)
    for values in (*codes, *(own if complete else own[whole_rows] for own in states.values())):
        repeats = values[1:] == values[:-1]
        expected *= float(np.count_nonzero(repeats)) / max(repeats.size, 1)
        same &= repeats
    n_same = np.count_nonzero(same)
    enough = max(1.0, REPEATED * same.size)
    if n_same >= enough:
        return "every"
    if expected > enough and n_same < 0.1 * expected:
        return "on_change"
    usual = usual_step(t_s)
    if not usual:
        return "on_change"
    steps = steps[steps < PAUSE_S]
    silent_s = float(steps[steps > GAP_STEPS * usual].sum())
    return "on_change" if silent_s > SILENCE * float(steps.sum()) else "every"


def _reports_of_each(codes: Columns, t_s: Mapping[str, FloatArray]) -> Reports:
    """Return the same for axes with rows of their own: every report has one where that holds for each of them.

    One axis has to be in nearly all rows, else they are events of one axis or another.
    """
    instants = np.unique(np.concatenate(list(t_s.values()))).size
    if max(own.size for own in codes.values()) < (1 - FEW_MISSING) * instants:
        return "on_change"
    every = (_reports([own], {}, np.ones(own.size, dtype=bool), t_s[name]) == "every" for name, own in codes.items())
    return "every" if all(every) else "on_change"


def _gaps(streams: Sequence[Stream]) -> tuple[Gap, ...]:
    t_s = streams[0].time.t_s
    usual = usual_step(t_s)
    long = np.flatnonzero(np.diff(t_s) > max(GAP_S, GAP_STEPS * usual)) if usual else ()
    return tuple(Gap(start_s=float(t_s[i]), end_s=float(t_s[i + 1]), reason="no rows") for i in long)


def _worth_saying(ignored: Mapping[str, str]) -> list[tuple[str, str]]:
    quiet = ("it tells the time or counts rows", "its name says it is no axis", "other axes were named")
    return [(name, why) for name, why in ignored.items() if why not in quiet][:8]
