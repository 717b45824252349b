"""Several specimens before and after the same change, by hand sessions or captures: each is held against itself."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from feelcheck.comparison.before_after import NO_SHAM, BeforeAfter, is_sham
from feelcheck.comparison.capture_sides import (
    NO_REPEATS,
    capture_caveats,
    judged_by_drives,
    place_of,
    refuse_unlike_captures,
    with_bench_margins,
)
from feelcheck.comparison.decisions import Plan, decided, resampled, with_difference
from feelcheck.comparison.numbers import BOOTSTRAP_FROM
from feelcheck.comparison.pooling import joint_bound, side_estimate
from feelcheck.comparison.resampling import p_of_signed_ranks
from feelcheck.comparison.samples import (
    Found,
    MetricKey,
    Replicates,
    collect,
    mountings_known,
    refuse_unlike,
    replicates_of,
)
from feelcheck.comparison.tests_of_means import Difference, paired, side_mean
from feelcheck.errors import NotEnoughDataError
from feelcheck.model import BenchRecord, Caveat, Estimate, HandRecord, MetricComparison, PairedValues
from feelcheck.numerics.uncertainty import coverage_factor

Records = Sequence[HandRecord] | Sequence[BenchRecord]
"""All hand sessions, or all captures, of one specimen."""

__all__ = ["SpecimenPair", "compare_paired_states", "compare_pairs"]

TOO_FEW = "fewer than two specimens answer in both states"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenPair:
    """One specimen's hand sessions, or captures, before and after."""

    specimen: str
    before: Records
    after: Records

    @property
    def caveats(self) -> tuple[Caveat, ...]:
        """What the captures of both states leave open; repeats are not asked for, since the specimens are many."""
        found = capture_caveats(captures_of(self.before), captures_of(self.after))
        return tuple(caveat for caveat in found if caveat != NO_REPEATS)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """One specimen's difference: it lies between two ends, which are equal unless a side is only a bound."""

    values: PairedValues
    low: float
    high: float
    u: float


def compare_pairs(
    pairs: Sequence[SpecimenPair], *, candidate_name: str, state: str, plan: Plan | None = None
) -> tuple[MetricComparison, ...]:
    """Compare two states over several specimens, metric by metric.

    Parameters
    ----------
    pairs : sequence of SpecimenPair
        Every specimen with its sessions in both states.
    candidate_name, state : str
        Label of the later side and its state.
    plan : Plan, optional
        Strictness and margins.

    Returns
    -------
    tuple of MetricComparison
        In order of axis, direction and name, each with every specimen's own two values.

    Raises
    ------
    NotComparableError
        If a specimen's two states were recorded under unlike conditions.

    Notes
    -----
    Student's paired test on the differences of specimen means; signed ranks only warn. A specimen with only a bound on
    one side lies anywhere between the ends of its difference: decisions are by the worst case.
    """
    wanted = plan or Plan()
    of_captures = any(captures_of(pair.before) for pair in pairs)
    wanted = with_bench_margins(wanted) if of_captures else wanted
    for pair in pairs:
        refuse_unlike(hands_of(pair.before), hands_of(pair.after), specimen=pair.specimen)
        refuse_unlike_captures(captures_of(pair.before), captures_of(pair.after), specimen=pair.specimen)
    found = [(pair, _collected(pair.before), _collected(pair.after)) for pair in pairs]
    known = {key for _, before, after in found for key in before if key in after and key.name in wanted.margins}
    rows, notes = [], []
    for key in sorted(known, key=lambda key: (key.axis, *place_of(key))) if of_captures else sorted(known):
        sides = [(pair, before.get(key, []), after.get(key, [])) for pair, before, after in found]
        answers = {pair.specimen: _difference_within(key, pair, *both) for pair, *both in sides}
        told = [own for own in answers.values() if own is not None]
        if told:
            rows.append(_judge(key, told, wanted, candidate_name, state))
            notes.append(_note(answers))
    told_rows = [
        replace(row, why=f"{row.why}{note}", sources=("bench", "bench") if of_captures else row.sources)
        for row, note in zip(decided(rows, wanted.alpha), notes, strict=True)
    ]
    return judged_by_drives(told_rows, [caveat for pair in pairs for caveat in pair.caveats])


def hands_of(records: Records) -> list[HandRecord]:
    """Return the hand sessions among records.

    Parameters
    ----------
    records : sequence of records
        Of one specimen.
    """
    return [record for record in records if isinstance(record, HandRecord)]


def captures_of(records: Records) -> list[BenchRecord]:
    """Return the captures among records.

    Parameters
    ----------
    records : sequence of records
        Of one specimen.
    """
    return [record for record in records if isinstance(record, BenchRecord)]


def _collected(records: Records) -> dict[MetricKey, list[Found]]:
    """Every metric of the records, captures by the axis that they belong to."""
    captures = captures_of(records)
    found = dict(collect(hands_of(records)))
    for axis in dict.fromkeys(record.axis for record in captures):
        own = collect([record for record in captures if record.axis == axis])
        found |= {replace(key, axis=axis): values for key, values in own.items()}
    return found


def _note(answers: Mapping[str, _Pair | None]) -> str:
    """Who did not answer, and who answered with a bound."""
    silent = [name for name, own in answers.items() if own is None]
    bounded = [name for name, own in answers.items() if own is not None and own.low < own.high]
    words = (("only a bound from", bounded), ("no answer from", silent))
    return "".join(f"; {said} {', '.join(names)}" for said, names in words if names)


def compare_paired_states(
    records: Mapping[str, Records], *, before: str, after: str, plan: Plan | None = None
) -> BeforeAfter:
    """Compare two states over several specimens, and what reassembly alone does where every specimen has a sham.

    Parameters
    ----------
    records : Mapping[str, sequence of HandRecord or of BenchRecord]
        All hand sessions, or all captures, by specimen.
    before, after : str
        The two states.
    plan : Plan, optional
        Strictness and margins.

    Raises
    ------
    NotEnoughDataError
        If a specimen has no record in one of the states, by name.
    NotComparableError
        If a specimen's two states were recorded under unlike conditions.
    """
    of_captures = any(map(captures_of, records.values()))
    alike: dict[str, Records] = {n: captures_of(own) if of_captures else hands_of(own) for n, own in records.items()}
    states = {name: [record.state for record in own] for name, own in alike.items()}
    _refuse_lacking(states, before, after, "capture" if of_captures else "hand session")

    def between(first: str, second: str) -> tuple[MetricComparison, ...]:
        pairs = [_pair(name, own, first, second) for name, own in alike.items()]
        return compare_pairs(pairs, candidate_name=second, state=second, plan=plan)

    both = [_pair(name, own, before, after) for name, own in alike.items()]
    drives = tuple(dict.fromkeys(caveat for pair in both for caveat in pair.caveats))
    shams = [state for state in dict.fromkeys(state for own in states.values() for state in own) if is_sham(state)]
    common = next((state for state in shams if all(state in own for own in states.values())), None)
    if common is None or common in (before, after):
        return BeforeAfter(
            change=between(before, after),
            reassembly=(),
            change_beyond_reassembly=(),
            caveats=drives if is_sham(before) or is_sham(after) else (*drives, NO_SHAM),
        )
    return BeforeAfter(
        change=between(before, after),
        reassembly=between(before, common),
        change_beyond_reassembly=between(common, after),
        caveats=drives,
    )


def _refuse_lacking(states: Mapping[str, Sequence[str]], before: str, after: str, kind: str) -> None:
    """Refuse specimens that have no record in one of two states, by name."""
    lacking = {
        name: f"no {kind} in {' and '.join(missing)} (has {', '.join(dict.fromkeys(own)) or 'none'})"
        for name, own in states.items()
        if (missing := [state for state in (before, after) if state not in own])
    }
    if lacking:
        raise NotEnoughDataError(
            "A paired comparison needs every specimen in both states.",
            lacking,
            "Record what is missing, or leave that specimen out: all by hand sessions, or all by captures.",
        )


def _pair(specimen: str, records: Records, before: str, after: str) -> SpecimenPair:
    def within(state: str) -> Records:
        captures = [record for record in captures_of(records) if record.state == state]
        return captures or [record for record in hands_of(records) if record.state == state]

    return SpecimenPair(specimen=specimen, before=within(before), after=within(after))


def _difference_within(
    key: MetricKey,
    pair: SpecimenPair,
    before: Sequence[Found],
    after: Sequence[Found],
) -> _Pair | None:
    """One specimen's difference; None where one of its sides does not answer."""
    first = replicates_of(before, by_mounting=mountings_known(hands_of(pair.before)))
    second = replicates_of(after, by_mounting=mountings_known(hands_of(pair.after)))
    ends = _ends(first), _ends(second)
    if ends[0] is None or ends[1] is None or first.unit != second.unit:
        return None
    return _Pair(
        values=PairedValues(
            specimen=pair.specimen, baseline=side_estimate(key, first), candidate=side_estimate(key, second)
        ),
        low=ends[1][0] - ends[0][1],
        high=ends[1][1] - ends[0][0],
        u=math.hypot(ends[0][2], ends[1][2]),
    )


def _ends(side: Replicates) -> tuple[float, float, float] | None:
    """Between what a side's value lies, and its uncertainty from within; None where nothing is known."""
    if not side.values:
        return (0.0, joint_bound(side), 0.0) if side.bounds else None
    mean = side_mean(side.values, side.u_within).mean
    u = math.sqrt(sum(u**2 for u in side.u_within)) / len(side.u_within)
    return (0.0, max(mean, joint_bound(side)), u) if side.bounds else (mean, mean, u)


def _judge(key: MetricKey, pairs: Sequence[_Pair], plan: Plan, name: str, state: str) -> MetricComparison:
    unit = pairs[0].values.baseline.unit
    baseline = _over_specimens(key, [pair.values.baseline for pair in pairs])
    blank = MetricComparison(
        name=key.name,
        direction=key.direction,
        axis=key.axis,
        state=state,
        candidate_name=name,
        baseline=baseline,
        candidate=_over_specimens(key, [pair.values.candidate for pair in pairs]),
        difference=Estimate.not_resolved("difference", unit=unit),
        margin=plan.margins[key.name].absolute(baseline.value or baseline.bound or 0.0),
        scope="specimen",
        pairs=tuple(pair.values for pair in pairs),
    )
    if len(pairs) < 2:
        return replace(blank, scope="within_recording", why=TOO_FEW, more_recordings=2)
    if any(pair.low < pair.high for pair in pairs):
        return _by_worst_case(blank, pairs)
    differences = np.array([pair.low for pair in pairs])
    ranks = p_of_signed_ranks(differences.tolist())
    found = paired(differences.tolist(), [pair.u for pair in pairs])
    row = with_difference(blank, found, blank.margin, n=len(pairs), alpha=plan.alpha, p_ranks=ranks)
    return resampled(row, (differences,), np.mean, plan.alpha) if len(pairs) >= BOOTSTRAP_FROM else row


def _over_specimens(key: MetricKey, values: Sequence[Estimate]) -> Estimate:
    known = [estimate for estimate in values if estimate.value is not None]
    return side_estimate(
        key,
        Replicates(
            values=tuple(estimate.value or 0.0 for estimate in known),
            u_within=(0.0,) * len(known),
            bounds=tuple(estimate.bound for estimate in values if estimate.bound is not None),
            scope="recording",
            unit=values[0].unit,
        ),
    )


def _by_worst_case(blank: MetricComparison, pairs: Sequence[_Pair]) -> MetricComparison:
    """Judge where some differences are known only between two ends: the mean lies anywhere in their mean range."""
    halves = [(pair.high - pair.low) / 2 for pair in pairs]
    middle = paired([(pair.high + pair.low) / 2 for pair in pairs], [pair.u for pair in pairs])
    half, u = float(np.mean(halves)), middle.u + max(halves) / math.sqrt(len(pairs))
    size, sign = abs(middle.value), math.copysign(1.0, middle.value)
    near = Difference(value=max(size - half, 0.0), u=u, dof=middle.dof)
    far = Difference(value=size + half, u=u, dof=middle.dof)
    nearest, unit = near.interval(0.95)[0], blank.difference.unit
    bound = (Estimate.at_least if sign > 0 else Estimate.at_most)("difference", sign * nearest, unit=unit)
    more = coverage_factor(middle.dof, 0.90) * u
    ends = sorted((sign * (size - half - more), sign * (size + half + more)))
    return replace(
        blank,
        difference=bound if nearest > 0 else blank.difference,
        low90=ends[0],
        high90=ends[1],
        p_difference=near.p_difference,
        p_equivalence=far.p_equivalence(blank.margin),
    )
