"""From hand sessions and captures to replicates: which values belong to one metric, and what is one replicate."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from feelcheck.errors import NotComparableError
from feelcheck.model import BenchRecord, Estimate, HandRecord, Status

__all__ = [
    "LIKE_KEYS",
    "Found",
    "MetricKey",
    "Replicates",
    "collect",
    "found_in",
    "mountings_known",
    "refuse_copies",
    "refuse_unlike",
    "replicates_of",
]

LIKE_KEYS = (
    "report_rate_hz",
    "script",
    "source",
    "axis_scale",
    "connection",
    "firmware",
    "cap",
    "spring",
    "recalibrated",
)
Scope = Literal["mounting", "recording", "within_recording"]


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class MetricKey:
    """A quantity of one axis in one direction (empty where there is none)."""

    axis: str
    direction: str
    name: str


Found = tuple[HandRecord | BenchRecord, Estimate]
"""A recording and what it says of one metric."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Replicates:
    """One side's replicates of one metric.

    Parameters
    ----------
    values, u_within : tuple of float
        One value a replicate and its uncertainty from within.
    bounds, floors : tuple of float
        Upper and lower bounds of recordings that gave only a bound.
    n_absent : int
        Recordings that looked for it and saw none.
    single : Estimate or None
        What the only recording says, where there is one.
    scope : {"mounting", "recording", "within_recording"}
        What a replicate is.
    unit : str
        Unit of the values.
    """

    values: tuple[float, ...]
    u_within: tuple[float, ...]
    bounds: tuple[float, ...]
    scope: Scope
    unit: str
    floors: tuple[float, ...] = ()
    n_absent: int = 0
    single: Estimate | None = None

    @property
    def answers(self) -> bool:
        """Whether there is a value or a bound."""
        return bool(self.values or self.bounds or self.floors)


def refuse_unlike(baseline: Sequence[HandRecord], candidate: Sequence[HandRecord], *, specimen: str = "") -> None:
    """Refuse to compare sessions that were recorded under unlike conditions, naming the specimen if it is given.

    Parameters
    ----------
    baseline : sequence of HandRecord
        Sessions of one side.
    candidate : sequence of HandRecord
        Sessions of the other.
    specimen : str, optional
        Its name, for the message.

    Raises
    ------
    NotComparableError
        Naming every key that differs with both values; a key that one side does not know is not held against it. Also
        where one recording stands on both sides.
    """
    refuse_copies(baseline, candidate)
    facts: dict[str, object] = {}
    for key in LIKE_KEYS:
        sides = [{r.condition.facts[key] for r in side if key in r.condition.facts} for side in (baseline, candidate)]
        if sides[0] and sides[1] and sides[0] != sides[1]:
            facts[key] = f"{', '.join(sorted(sides[0]))} against {', '.join(sorted(sides[1]))}"
    if {r.simulated for r in baseline} != {r.simulated for r in candidate} and baseline and candidate:
        facts["simulated"] = "a simulated side against a real one"
    if facts and specimen:
        facts = {"specimen": specimen, **facts}
    if facts:
        raise NotComparableError("Only like recordings can be compared.", facts, "Record both sides the same way.")


def refuse_copies(baseline: Sequence[HandRecord | BenchRecord], candidate: Sequence[HandRecord | BenchRecord]) -> None:
    """Refuse a recording that stands on both sides.

    Parameters
    ----------
    baseline : sequence of records
        Records of the side that the other one is held against.
    candidate : sequence of records
        Records of the other side.

    Raises
    ------
    NotComparableError
        Naming what stands on both.
    """
    hashes = {record.sha256 for record in baseline if record.sha256}
    both = [record.session if isinstance(record, HandRecord) else record.path for record in candidate
            if record.sha256 in hashes]  # fmt: skip
    if both:
        raise NotComparableError(
            "A recording counts on one side only: a copy would look like agreement.",
            {"on both sides": ", ".join(both)},
            "Name two different specimens or states.",
        )


def collect(records: Sequence[HandRecord] | Sequence[BenchRecord]) -> Mapping[MetricKey, list[Found]]:
    """Return every metric found in sessions or captures, with the record it came from.

    Parameters
    ----------
    records : sequence of HandRecord or of BenchRecord
        Of one specimen; captures have the axis left out: the caller says which sensors are meant.
    """
    found: dict[MetricKey, list[Found]] = defaultdict(list)
    for record in records:
        for axis, groups in _axes(record).items():
            for direction, estimates in groups.items():
                for name, estimate in estimates.items():
                    found[MetricKey(axis=axis, direction=direction, name=name)].append((record, estimate))
    return found


def _axes(record: HandRecord | BenchRecord) -> Mapping[str, Mapping[str, Mapping[str, Estimate]]]:
    return record.axes if isinstance(record, HandRecord) else {"": {**record.directions, "": record.overall}}


def found_in(records: Sequence[HandRecord], key: MetricKey) -> list[Found]:
    """Return one metric of the sessions that have it, each with its session.

    Parameters
    ----------
    records : sequence of HandRecord
        Sessions of one specimen.
    key : MetricKey
        Which metric: axis, direction and name.
    """
    groups = ((record, record.axes.get(key.axis, {}).get(key.direction, {})) for record in records)
    return [(record, group[key.name]) for record, group in groups if key.name in group]


def replicates_of(found: Sequence[Found], *, by_mounting: bool) -> Replicates:
    """Return the replicates behind one metric: means of mountings, or single recordings.

    Parameters
    ----------
    found : sequence of (HandRecord or BenchRecord, Estimate)
        From `collect`.
    by_mounting : bool
        Whether each mounting (known for every session) is one replicate.
    """
    groups: dict[object, list[Estimate]] = defaultdict(list)
    for number, (record, estimate) in enumerate(found):
        if estimate.status is Status.OK:
            own = record.condition.mounting if by_mounting and isinstance(record, HandRecord) else number
            groups[own].append(estimate)
    values, u_within = [], []
    for group in groups.values():
        values.append(float(np.mean([estimate.value for estimate in group if estimate.value is not None])))
        u_squares = [estimate.u**2 for estimate in group if estimate.u is not None]
        u_within.append(float(np.sqrt(np.sum(u_squares)) / len(group)))
    bounds = _bounds(found, Status.AT_MOST)
    floors = _bounds(found, Status.AT_LEAST)
    n_absent = sum(estimate.status is Status.NOT_PRESENT for _, estimate in found)
    scope: Scope = "mounting" if by_mounting else "recording"
    return Replicates(
        values=tuple(values),
        u_within=tuple(u_within),
        bounds=bounds,
        floors=floors,
        n_absent=n_absent,
        scope=scope if len(values) + len(bounds) + len(floors) > 1 else "within_recording",
        unit=found[0][1].unit if found else "",
        single=found[0][1] if len(found) == 1 else None,
    )


def _bounds(found: Sequence[Found], status: Status) -> tuple[float, ...]:
    return tuple(e.bound for _, e in found if e.status is status and e.bound is not None)


def mountings_known(records: Sequence[HandRecord]) -> bool:
    """Return whether every session says its mounting and there are at least two of them.

    Parameters
    ----------
    records : sequence of HandRecord
        Sessions, or captures, of one specimen.
    """
    mountings = {record.condition.mounting for record in records}
    return None not in mountings and len(mountings) > 1
