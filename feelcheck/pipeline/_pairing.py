"""Two sides of a comparison: which evidence both have, and what it says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

from feelcheck.comparison import (
    BeforeAfter,
    Plan,
    capture_caveats,
    compare_before_after,
    compare_captures,
    compare_sides,
    joined_direction,
    pooled_capture_estimate,
    pooled_estimate,
)
from feelcheck.comparison.samples import refuse_unlike
from feelcheck.errors import NotComparableError, NotEnoughDataError
from feelcheck.model import BenchRecord, Caveat, Estimate, MetricComparison
from feelcheck.model.comparison import Evidence
from feelcheck.model.parts import PartChange
from feelcheck.model.quantities import DELAY, DIRECTIONS
from feelcheck.numerics.uncertainty import coverage_interval, difference_of
from feelcheck.pipeline._before_after import KnownParts, part_changes
from feelcheck.pipeline._parts import axes_with_parts, delay_from_parts
from feelcheck.pipeline._specimens import HELD_AXES, LOOSE_AXIS, Specimen

__all__ = ["SIMULATED", "Pairing", "check_like", "check_polarity", "compare_pair", "with_reassembly"]


PREDICTED = Caveat(
    code="predicted",
    text="A side without hand sessions is predicted from its bench result or its parts; what firmware adds is not in "
    "it, and behind parts alone not what the sensor itself adds.",
    advice="Record it in the hand before you believe a verdict.",
)
PREDICTED_BENCH = Caveat(
    code="predicted",
    text="A side without captures is predicted from its parts; what the sensor itself adds is not in it.",
    advice="Capture it on the bench before you believe a verdict.",
)
SIMULATED = Caveat(
    code="simulated",
    text="At least one side was simulated: the verdicts say nothing about real sticks.",
    advice="Record real sessions with: feelcheck log",
)
WHY = {
    "parts": "predicted from the parts, not yet measured",
    "bench": "measured on the bench on one side and in the hand on the other: firmware and reports are in one only",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairing:
    """What two sides say of each other.

    Parameters
    ----------
    rows : tuple of MetricComparison
        The metrics.
    caveats : tuple of Caveat
        What holds for all of them.
    changes : tuple of PartChange
        Which part a difference between captures fits.
    """

    rows: tuple[MetricComparison, ...]
    caveats: tuple[Caveat, ...] = ()
    changes: tuple[PartChange, ...] = ()


def compare_pair(base: Specimen, other: Specimen, plan: Plan, known: KnownParts, polarity: int | None) -> Pairing:
    """Compare what both sides have: sessions in the hand before captures, captures before what parts predict.

    Raises
    ------
    NotEnoughDataError
        If a side holds nothing in the state asked for.
    NotComparableError
        If recordings are unlike.
    """
    kinds = _kind(base), _kind(other)
    for side, kind in zip((base, other), kinds, strict=True):
        if kind is None:
            raise NotEnoughDataError(
                "A comparison needs hand sessions on both sides, or captures, or at least parts.",
                {"specimen": side.label},
                "Add one with: feelcheck profile add",
            )
    if kinds == ("hand", "hand"):
        return _in_the_hand(base, other, plan)
    if base.bench and other.bench:
        return _on_the_bench(base, other, plan, known)
    return _unlike_kinds(base, other, cast("tuple[Evidence, Evidence]", kinds), plan, polarity)


def _kind(side: Specimen) -> Evidence | None:
    return "hand" if side.hand else "bench" if side.bench else "parts" if axes_with_parts(side) else None


def _in_the_hand(base: Specimen, other: Specimen, plan: Plan) -> Pairing:
    caveats = [SIMULATED] if any(record.simulated for record in (*base.hand, *other.hand)) else []
    same = base.profile.specimen == other.profile.specimen
    if same and base.state != other.state and base.profile.path == other.profile.path:
        found = compare_before_after(
            base.profile.hand, before=base.state, after=other.state, specimen=other.label, plan=plan
        )
        return Pairing(rows=tuple(with_reassembly(found, other.label)), caveats=(*caveats, *found.caveats))
    rows = compare_sides(base.hand, other.hand, candidate_name=other.label, state=other.state, plan=plan)
    return Pairing(rows=rows, caveats=tuple(caveats))


def with_reassembly(found: BeforeAfter, label: str) -> list[MetricComparison]:
    """Return the change, what reassembly alone does, and the change beyond it."""
    alone = [replace(row, candidate_name="reassembly alone") for row in found.reassembly]
    beyond = [replace(row, candidate_name=f"{label} beyond reassembly") for row in found.change_beyond_reassembly]
    return [*found.change, *alone, *beyond]


def _on_the_bench(base: Specimen, other: Specimen, plan: Plan, known: KnownParts) -> Pairing:
    rows: list[MetricComparison] = []
    caveats: list[Caveat] = [SIMULATED] if any(record.simulated for record in (*base.bench, *other.bench)) else []
    for axis, mine, theirs in _sensors(base, other):
        rows += compare_captures(mine, theirs, candidate_name=other.label, axis=axis, state=other.state, plan=plan)
        caveats += capture_caveats(mine, theirs)
    changes = part_changes(base, other, rows, known)
    return Pairing(rows=tuple(rows), caveats=tuple(dict.fromkeys(caveats)), changes=changes)


def _sensors(base: Specimen, other: Specimen) -> Iterator[tuple[str, Sequence[BenchRecord], Sequence[BenchRecord]]]:
    """Which captures belong together: those of one axis, and a loose capture with every axis of the other side.

    Two loose captures have no axis to name.
    """
    mine, theirs = ({record.axis for record in side.bench} for side in (base, other))
    common = sorted(mine & theirs)
    pairs = [(axis, axis) for axis in common] or [(a, b) for a in sorted(mine) for b in sorted(theirs)]
    for a, b in pairs:
        if a == b or LOOSE_AXIS in (a, b):
            name = "" if a == b == LOOSE_AXIS else b if a == LOOSE_AXIS else a
            yield name, [r for r in base.bench if r.axis == a], [r for r in other.bench if r.axis == b]


def _unlike_kinds(
    base: Specimen, other: Specimen, kinds: tuple[Evidence, Evidence], plan: Plan, polarity: int | None
) -> Pairing:
    """Hold sides against each other that were measured in different ways: it decides nothing."""
    margin = plan.margins[DELAY].value
    rows = []
    for axis in _shared_axes(base, other, kinds):
        for direction in DIRECTIONS:
            sides = [
                _delay(side, kind, axis, _behind((base, other), kind, kinds, axis, direction, polarity))
                for side, kind in zip((base, other), kinds, strict=True)
            ]
            difference = difference_of(sides[1], sides[0], quantity="difference")
            low90, high90 = coverage_interval(difference, 0.90)
            rows.append(
                MetricComparison(
                    name=DELAY,
                    direction=direction,
                    axis=axis,
                    state=other.state,
                    candidate_name=other.label,
                    baseline=sides[0].renamed(DELAY),
                    candidate=sides[1].renamed(DELAY),
                    difference=difference,
                    margin=margin,
                    low90=low90,
                    high90=high90,
                    scope="within_recording",
                    sources=kinds,
                    why=WHY["parts" if "parts" in kinds else "bench"],
                )
            )
    return Pairing(rows=tuple(rows), caveats=(PREDICTED if "hand" in kinds else PREDICTED_BENCH,))


def _shared_axes(base: Specimen, other: Specimen, kinds: tuple[Evidence, Evidence]) -> list[str]:
    mine, theirs = (_axes(side, kind) for side, kind in zip((base, other), kinds, strict=True))
    shared = [axis for axis in mine if axis in theirs]
    if shared:
        return shared
    return mine if _unnamed(theirs) else theirs if _unnamed(mine) else []


def _unnamed(axes: Sequence[str]) -> bool:
    return bool({LOOSE_AXIS, HELD_AXES} & set(axes))


def _axes(side: Specimen, kind: Evidence) -> list[str]:
    if kind == "hand":
        return list(dict.fromkeys(axis for record in side.hand for axis in record.axes))
    if kind == "bench":
        return list(dict.fromkeys(record.axis for record in side.bench))
    return axes_with_parts(side)


def _delay(side: Specimen, kind: Evidence, axis: str, direction: str) -> Estimate:
    if kind == "hand":
        return pooled_estimate(side.hand, axis, direction, DELAY)
    if kind == "bench":
        own = [record for record in side.bench if record.axis in (axis, LOOSE_AXIS)]
        return pooled_capture_estimate(own, direction, DELAY)
    predicted = delay_from_parts(side, axis if axis in axes_with_parts(side) else LOOSE_AXIS, direction)
    return Estimate.not_resolved(DELAY, unit="s") if predicted is None else predicted.whole


def _behind(
    sides: tuple[Specimen, Specimen],
    kind: Evidence,
    kinds: tuple[Evidence, Evidence],
    axis: str,
    direction: str,
    polarity: int | None,
) -> str:
    """The direction of the volts behind one of the code, where one side is a hand; unknown polarity leaves it."""
    if kind == "hand" or "hand" not in kinds:
        return direction
    return joined_direction(direction, _polarity(sides, axis, polarity)) or direction


def _polarity(sides: Sequence[Specimen], axis: str, polarity: int | None) -> int | None:
    noted: list[Mapping[str, int]] = [side.profile.polarity for side in sides]
    return polarity or next((own[axis] for own in noted if axis in own), None)


def check_like(base: Specimen, others: Sequence[Specimen]) -> None:
    """Refuse sessions whose headers already say that they were recorded in unlike ways.

    Raises
    ------
    NotComparableError
        Naming every key that differs.
    """
    for other in others:
        if base.hand and other.hand:
            refuse_unlike(base.hand, other.hand)


def check_polarity(base: Specimen, others: Sequence[Specimen], polarity: int | None) -> None:
    """Refuse to hold a capture against a hand recording whose polarity nobody told.

    Raises
    ------
    NotComparableError
        Naming the axis.
    """
    for other in others:
        kinds = _kind(base), _kind(other)
        if set(kinds) != {"hand", "bench"} or (base.bench and other.bench):
            continue
        axes = _shared_axes(base, other, cast("tuple[Evidence, Evidence]", kinds))
        unknown = [axis for axis in axes if _polarity((base, other), axis, polarity) is None]
        if unknown:
            raise NotComparableError(
                "A capture knows volts and a hand recording knows codes: only the polarity joins rising with rising.",
                {"sides": f"{base.label} and {other.label}", "axes without a polarity": ", ".join(unknown)},
                "Give --polarity 1 if the code rises as the volts rise, else --polarity -1 (push the stick and look).",
            )
