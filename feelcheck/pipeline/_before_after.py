"""What a change between two sides of captures looks like, and which part it fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.errors import FeelcheckError
from feelcheck.model import BenchResult, Estimate, FloatArray, MetricComparison, Trace
from feelcheck.model.parts import PartChange
from feelcheck.model.quantities import DELAY, DIRECTIONS
from feelcheck.network import change_from, changes_that_fit, edge, fitted, single_filter
from feelcheck.pipeline._evidence import hashes_of
from feelcheck.pipeline._measuring import Measurements, ToMeasure
from feelcheck.pipeline._parts import ROLES, network_of
from feelcheck.pipeline._prediction import file_at_hand
from feelcheck.pipeline._specimens import LOOSE_AXIS, Specimen

__all__ = ["KnownParts", "overlaid_edges", "part_changes", "with_captures"]

N_GRID = 800
PLATEAU_FRACTION = 0.1
"""Share of an edge's samples, at either end, over which a level is read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownParts:
    """What a person says of the slower side's filter where no record does: ohm and farad, None if unknown."""

    resistor_ohm: float | None = None
    capacitor_f: float | None = None


def part_changes(
    base: Specimen, other: Specimen, rows: Sequence[MetricComparison], known: KnownParts
) -> tuple[PartChange, ...]:
    """Return the change of parts that the difference between two sides of captures fits, by axis.

    Parameters
    ----------
    base, other : Specimen
        Before and after.
    rows : sequence of MetricComparison
        Of their captures.
    known : KnownParts
        Used where no record notes parts.

    Notes
    -----
    A change that the record notes comes first; what is looked for is looked for where none is noted or it does not fit.
    """
    found: list[PartChange] = []
    for axis in dict.fromkeys(row.axis for row in rows):
        own = [row for row in rows if row.axis == axis and row.name == DELAY]
        before = {row.direction: row.baseline for row in own}
        after = {row.direction: row.candidate for row in own}
        noted = _noted_change(base, other, axis, before, after)
        changes = [*([noted] if noted is not None else [])]
        if noted is None or not noted.fits:
            changes += _looked_for(base, other, axis, before, after, known)
        found += [replace(change, candidate_name=other.label, axis=axis) for change in changes]
    return tuple(found)


def _noted_change(
    base: Specimen, other: Specimen, axis: str, before: Mapping[str, Estimate], after: Mapping[str, Estimate]
) -> PartChange | None:
    """The change of state that one record notes, held against what was measured."""
    if base.profile.specimen != other.profile.specimen or base.state == other.state:
        return None
    first, second = network_of(base, axis), network_of(other, axis)
    if first is None or second is None:
        return None
    state = next((state for state in other.profile.states if state.name == other.state), None)
    words = ", ".join(f"{place} {value}" for place, value in state.changes.items()) if state else ""
    change = change_from(first[0], second[0], words or other.state, before, after)
    return None if change is None else replace(change, noted=True)


def _looked_for(
    base: Specimen,
    other: Specimen,
    axis: str,
    before: Mapping[str, Estimate],
    after: Mapping[str, Estimate],
    known: KnownParts,
) -> tuple[PartChange, ...]:
    """The slower side holds the part: what would make it the quicker one."""
    quicker = _whole(after) < _whole(before)
    slow, slow_delays, fast_delays = (base, before, after) if quicker else (other, after, before)
    noted = network_of(slow, axis)
    if noted is not None:
        network, own = noted
        names = {ROLES[part.role]: part.position for part in own if part.fitted}
        changes = changes_that_fit(network, slow_delays, fast_delays, names=names)
    else:
        virtual = single_filter(slow_delays, resistor_ohm=known.resistor_ohm, capacitor_f=known.capacitor_f)
        if virtual is None:
            return ()
        network, told = virtual, (known.resistor_ohm or known.capacitor_f) is not None
        unknown = "behind_f" if known.capacitor_f is None else "series_ohm" if known.resistor_ohm is None else ""
        changes = changes_that_fit(network, slow_delays, fast_delays, by_value=told, inferred=unknown)
    return changes if quicker else tuple(fitted(change, network) for change in changes)


def _whole(delays: Mapping[str, Estimate]) -> float:
    return sum(own.value or own.bound or 0.0 for own in delays.values())


def overlaid_edges(base: Specimen, other: Specimen, changes: Sequence[PartChange]) -> tuple[Trace, ...]:
    """Return both sides' edges on one time axis that begins with the drive, with what the parts predict.

    Parameters
    ----------
    base, other : Specimen
        Before and after; the first capture of each is drawn.
    changes : sequence of PartChange
        The first that fits is drawn as the prediction.

    Notes
    -----
    Zero is where the drive is half-way; where no drive was captured, the onset of the edge.
    """
    if not (base.captures and other.captures):
        return ()
    return tuple(trace for direction in DIRECTIONS if (trace := _overlaid(base, other, direction, changes)) is not None)


def with_captures(specimens: Sequence[Specimen], measurements: Measurements) -> list[Specimen]:
    """Return specimens of records with a capture that is at hand unchanged, measured anew as the record was told to.

    Parameters
    ----------
    specimens : sequence of Specimen
        Those that were measured already, or have no such capture, stay as they are: a picture goes without their edges.
    measurements : Measurements
        What is measured already; the captures are added.

    Notes
    -----
    Captures of the first axis that all records hold are drawn over each other.
    """
    held = [{record.axis for record in one.bench} for one in specimens if one.bench and not one.captures]
    shared = set.intersection(*held) if held else set()
    at_hand = [[] if specimen.captures else _captures_at_hand(specimen, shared) for specimen in specimens]
    measurements.ahead((files[0] for files in at_hand if files), go_on=True)
    return [_with_capture(specimen, files, measurements) for specimen, files in zip(specimens, at_hand, strict=True)]


def _captures_at_hand(specimen: Specimen, axes: AbstractSet[str]) -> list[ToMeasure]:
    """The captures that a record names and that are unchanged, the shared axes' first."""
    ordered = sorted(specimen.bench, key=lambda record: (record.axis not in axes, record.axis))
    found = ((record, file_at_hand(record.path, specimen)) for record in ordered)
    return [
        ToMeasure.capture(place, record.told)
        for record, place in found
        if place is not None and place.is_file() and hashes_of(place).get(place.name) == record.sha256
    ]


def _with_capture(specimen: Specimen, files: Sequence[ToMeasure], measurements: Measurements) -> Specimen:
    for one in files:
        with suppress(FeelcheckError):
            found = measurements.of(one)
            return replace(specimen, captures=(found,)) if isinstance(found, BenchResult) else specimen
    return specimen


def _overlaid(base: Specimen, other: Specimen, direction: str, changes: Sequence[PartChange]) -> Trace | None:
    first, second = (_edge_of(side, direction) for side in (base, other))
    if first is None or second is None:
        return None
    arrays = {**_side_arrays("before", first), **_side_arrays("now", second)}
    change = next((c for c in changes if c.fits and c.candidate_name == other.label), None)
    labels = {"direction": direction, "before": base.label, "now": other.label}
    if change is not None and direction in change.predicted:
        arrays |= _predicted(second, change, direction)
        labels["predicted"] = change.change
    labels["unit"] = _unit(base) if _unit(base) == _unit(other) else ""
    return Trace(kind="before_after", axis=LOOSE_AXIS, arrays=arrays, labels=labels, marks=_marks(first, second))


def _unit(side: Specimen) -> str:
    result = side.captures[0]
    return result.capture.channel(result.output_name).unit


def _edge_of(side: Specimen, direction: str) -> Trace | None:
    return next(
        (t for r in side.captures for t in r.traces if t.kind == "edge" and t.labels.get("direction") == direction),
        None,
    )


def _marks(first: Trace, second: Trace) -> dict[str, float]:
    """Where both edges are over, so that a picture can end there, s after zero."""
    ends = [edge.marks["t90_s"] - _zero_s(edge) for edge in (first, second) if "t90_s" in edge.marks]
    return {"t90_s": max(ends)} if ends else {}


def _side_arrays(word: str, trace: Trace) -> dict[str, FloatArray]:
    zero = _zero_s(trace)
    arrays = {
        f"{word}_t_s": np.asarray(trace.arrays["t_s"]) - zero,
        f"{word}_output": np.asarray(trace.arrays["output"]),
    }
    return arrays | ({f"{word}_drive": np.asarray(trace.arrays["drive"])} if "drive" in trace.arrays else {})


def _levels(values: FloatArray) -> tuple[float, float]:
    n = max(1, int(PLATEAU_FRACTION * values.size))
    return float(np.median(values[:n])), float(np.median(values[-n:]))


def _zero_s(trace: Trace) -> float:
    """The instant at which the drive is half-way; the onset where there is no drive."""
    if "drive" not in trace.arrays:
        return float(trace.marks.get("onset_s", 0.0))
    drive = np.asarray(trace.arrays["drive"], dtype=np.float64)
    first, last = _levels(drive)
    beyond = np.sign(last - first) * (drive - (first + last) / 2) > 0
    passes = np.flatnonzero(beyond[1:] != beyond[:-1])
    if passes.size == 0:
        return float(trace.marks.get("onset_s", 0.0))
    t_s = np.asarray(trace.arrays["t_s"], dtype=np.float64)
    return float((t_s[passes[0]] + t_s[passes[-1] + 1]) / 2)


def _predicted(trace: Trace, change: PartChange, direction: str) -> dict[str, FloatArray]:
    """The later capture's own drive through the parts after the change, between that capture's levels."""
    if "drive" not in trace.arrays:
        return {}
    t_s = np.asarray(trace.arrays["t_s"], dtype=np.float64)
    grid = np.linspace(t_s[0], t_s[-1], N_GRID)
    drive = _smooth(np.interp(grid, t_s, trace.arrays["drive"]))
    first, last = _levels(drive)
    shape = (drive - first) / (last - first) if last != first else np.zeros_like(drive)
    fit = np.asarray(trace.arrays["fit"], dtype=np.float64)
    steps = np.diff(shape, prepend=0.0)
    response = _step_response(change, direction, grid - grid[0])
    whole = np.convolve(steps, response)[: grid.size]
    return {"predicted_t_s": grid - _zero_s(trace), "predicted_output": fit[0] + (fit[-1] - fit[0]) * whole}


def _smooth(values: FloatArray) -> FloatArray:
    width = 9
    padded = np.pad(values, width // 2, mode="edge")
    return np.asarray(np.convolve(padded, np.full(width, 1 / width), mode="valid"))


def _step_response(change: PartChange, direction: str, t_s: FloatArray) -> FloatArray:
    """The network's step response, stretched to the delay that the board before calibrated it to."""
    found = edge(change.network, rising=direction == "rising")
    own, wanted = found.area_s(), change.predicted[direction].value or 0.0
    if own <= 0 or wanted <= 0:
        return np.ones_like(t_s)
    volts = found.output_v(t_s * own / wanted)
    return np.asarray((volts - found.first_v) / (found.last_v - found.first_v))
