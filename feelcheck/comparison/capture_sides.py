"""Captures before and after, or of two boards: every quantity of the bench, judged like recordings in the hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from feelcheck.comparison.decisions import Plan
from feelcheck.comparison.numbers import LIKE_DRIVES
from feelcheck.comparison.pooling import side_estimate
from feelcheck.comparison.samples import MetricKey, Replicates, collect, refuse_copies, replicates_of
from feelcheck.comparison.verdicts import judge_sides
from feelcheck.errors import NotComparableError
from feelcheck.model import BenchRecord, Caveat, Estimate, Margin, MetricComparison

__all__ = [
    "BENCH_DELAYS", "BENCH_ORDER", "capture_caveats", "compare_captures", "judged_by_drives", "place_of",
    "pooled_capture_estimate", "refuse_unlike_captures", "with_bench_margins",
]  # fmt: skip

BENCH_DELAYS = ("time_constant", "smoothing_delay", "transition_10_90", "dead_time")
"""Times of an edge: judged against the margin of delay."""
BENCH_MARGINS: Mapping[str, Margin] = MappingProxyType(
    {
        "swing": Margin(value=0.05, relative=True),
        "sensitivity": Margin(value=0.05, relative=True),
        "noise": Margin(value=0.3, relative=True),
        "update_interval": Margin(value=0.1, relative=True),
        "asymmetry": Margin(value=0.1, relative=True),
    }
)
"""Margins of what is no delay (common practice, no source)."""
BENCH_ORDER = (*BENCH_DELAYS, *BENCH_MARGINS)
WITH_DRIVE = ("time_constant", "smoothing_delay", "transition_10_90", "dead_time", "asymmetry")

DRIVE_ON_ONE_SIDE = Caveat(
    code="drive_on_one_side",
    text="One side's captures hold the drive and the other's do not: there the drive's own slowness is inside every "
    "delay.",
    advice="Record the drive on both sides, or measure that side with bench --drive-rise and add it to a record.",
)
DRIVES_DIFFER = Caveat(
    code="drives_differ",
    text="The drive itself is not the same on both sides: 10 to 90 % as read shows that too, the time constant does "
    "not.",
    advice="Step the field the same way on both sides.",
)
NO_REPEATS = Caveat(
    code="within_capture_only",
    text="With one capture on a side the difference and its interval hold for these captures only: what moving the "
    "sensor and stepping again changes is in neither, so there is no verdict.",
    advice="Capture each side three times and name the two folders.",
)


def compare_captures(
    baseline: Sequence[BenchRecord],
    candidate: Sequence[BenchRecord],
    *,
    candidate_name: str,
    axis: str = "",
    state: str = "as_found",
    plan: Plan | None = None,
) -> tuple[MetricComparison, ...]:
    """Compare two sides of captures of one sensor, quantity by quantity.

    Parameters
    ----------
    baseline, candidate : sequences of BenchRecord
        The captures of each side; several are repeats, and their scatter is the spread.
    candidate_name, axis, state : str
        Labels.
    plan : Plan, optional
        Strictness; its margin of ``smoothing_delay`` holds for every time of an edge.

    Returns
    -------
    tuple of MetricComparison
        In the order of `BENCH_ORDER`, rising before falling; those that at least one side answers.

    Raises
    ------
    NotComparableError
        If one capture stands on both sides, or simulated captures against real ones.

    Notes
    -----
    With one capture on a side the verdict is always undecided, and the scope says so.
    """
    refuse_unlike_captures(baseline, candidate)
    wanted = with_bench_margins(plan or Plan())
    sides = collect(baseline), collect(candidate)
    keys = sorted((key for key in sides[0] if key in sides[1] and key.name in wanted.margins), key=place_of)
    pairs: dict[MetricKey, tuple[Replicates, Replicates]] = {
        replace(key, axis=axis): (
            replicates_of(sides[0][key], by_mounting=False),
            replicates_of(sides[1][key], by_mounting=False),
        )
        for key in keys
    }
    rows = judge_sides(pairs, candidate_name=candidate_name, state=state, plan=wanted, source="bench")
    return judged_by_drives(rows, capture_caveats(baseline, candidate))


def refuse_unlike_captures(
    baseline: Sequence[BenchRecord], candidate: Sequence[BenchRecord], *, specimen: str = ""
) -> None:
    """Refuse captures of which one stands on both sides, or simulated ones against real ones.

    Parameters
    ----------
    baseline, candidate : sequences of BenchRecord
        The captures of each side.
    specimen : str, optional
        Its name, for the message.

    Raises
    ------
    NotComparableError
        Naming what is unlike.
    """
    refuse_copies(baseline, candidate)
    if len({record.simulated for record in (*baseline, *candidate)}) > 1:
        facts = {"specimen": specimen} if specimen else {}
        facts |= {"simulated": "a simulated side against a real one"}
        raise NotComparableError("Only like captures can be compared.", facts, "Record both sides the same way.")


def with_bench_margins(plan: Plan) -> Plan:
    """Return a plan with margins for what captures tell: that of ``smoothing_delay`` holds for every time of an edge.

    Parameters
    ----------
    plan : Plan
        Strictness and the margin of delay.
    """
    return replace(plan, margins={**BENCH_MARGINS, **dict.fromkeys(BENCH_DELAYS, plan.margins["smoothing_delay"])})


def judged_by_drives(rows: Sequence[MetricComparison], caveats: Sequence[Caveat]) -> tuple[MetricComparison, ...]:
    """Return the rows, those that hold the drive's slowness on one side only without a verdict.

    Parameters
    ----------
    rows : sequence of MetricComparison
        What was judged.
    caveats : sequence of Caveat
        From `capture_caveats`.
    """
    uneven = DRIVE_ON_ONE_SIDE in caveats
    return tuple(_without_verdict(row) if uneven and row.name in WITH_DRIVE else row for row in rows)


def place_of(key: MetricKey) -> tuple[int, bool]:
    """Return where a metric of captures stands among the others: in the order of `BENCH_ORDER`, rising first.

    Parameters
    ----------
    key : MetricKey
        One of those that captures are compared by.
    """
    return BENCH_ORDER.index(key.name), key.direction == "falling"


def _without_verdict(row: MetricComparison) -> MetricComparison:
    why = "on one side the drive's own slowness is inside this number"
    return replace(row, verdict="undecided", detected=False, more_recordings=None, why=why)


def capture_caveats(baseline: Sequence[BenchRecord], candidate: Sequence[BenchRecord]) -> tuple[Caveat, ...]:
    """Return what both sides' captures leave open, whatever their values.

    Parameters
    ----------
    baseline : sequence of BenchRecord
        Captures of one side.
    candidate : sequence of BenchRecord
        Captures of the other.
    """
    found = []
    if len({record.drive_kind == "none" for record in (*baseline, *candidate)}) > 1:
        found.append(DRIVE_ON_ONE_SIDE)
    elif not _drives_alike(baseline, candidate):
        found.append(DRIVES_DIFFER)
    if min(len(baseline), len(candidate)) < 2:
        found.append(NO_REPEATS)
    return tuple(found)


def _drives_alike(baseline: Sequence[BenchRecord], candidate: Sequence[BenchRecord]) -> bool:
    taken = [
        drive.value
        for record in (*baseline, *candidate)
        if (drive := record.overall.get("drive_transition")) is not None and drive.value
    ]
    return not taken or max(taken) < LIKE_DRIVES * min(taken)


def pooled_capture_estimate(records: Sequence[BenchRecord], direction: str, name: str) -> Estimate:
    """Return one quantity pooled over captures; a single one speaks for itself.

    Parameters
    ----------
    records : sequence of BenchRecord
        Captures of one side.
    direction : str
        ``rising`` or ``falling`` volts.
    name : str
        The quantity.
    """
    key = MetricKey(axis="", direction=direction, name=name)
    found = collect(records).get(key, [])
    if not found:
        return Estimate.not_resolved(name, unit="s")
    return side_estimate(key, replicates_of(found, by_mounting=False))
