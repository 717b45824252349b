"""Comparisons between specimens and between states, and gauge studies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from feelcheck.comparison import (
    DEFAULT_MARGINS,
    NOT_MOUNTED_ANEW,
    BeforeAfter,
    Plan,
    compare_before_after,
    compare_paired_states,
    compare_sides,
    pooled_estimate,
    repeatability_of,
    verdict_rates,
)
from feelcheck.errors import FormatError, NotComparableError, NotEnoughDataError
from feelcheck.formats.study import read_study_table, study_array
from feelcheck.model import Caveat, Comparison, Margin, MetricComparison, RepeatabilityResult
from feelcheck.numerics.uncertainty import coverage_interval, difference_of
from feelcheck.outputs import COMPARISON_FIGURE, REPEATABILITY_FIGURE
from feelcheck.pipeline._chain import chain_among, sensors_of, spread_of
from feelcheck.pipeline._feel import used_responses
from feelcheck.pipeline._hand import analyze
from feelcheck.pipeline._parts import axes_with_parts
from feelcheck.pipeline._prediction import recorded_tails
from feelcheck.pipeline._specimens import Specimen, sessions_in, specimen_of
from feelcheck.profiles import hand_record_of

__all__ = ["compare", "compare_specimens", "draw_comparison", "draw_repeatability", "repeatability"]

DELAY_METRICS = ("smoothing_delay",)


def compare(
    baseline: str | Path,
    candidates: str | Path | Sequence[str | Path],
    *,
    margin_ms: float = 1.0,
    fixed_beforehand: bool = False,
    paired: tuple[str, str] | None = None,
    tails: bool = False,
) -> Comparison:
    """Compare specimens (or states of one) in the hand, metric by metric.

    Parameters
    ----------
    baseline : str or Path
        Reference of the specimen that the others are held against; see `specimen_of`.
    candidates : str, Path or sequence of them
        References of the others.
    margin_ms : float, ms
        The largest difference of delay that does not matter.
    fixed_beforehand : bool
        Whether the number of recordings was fixed before the first one.
    paired : tuple of str, optional
        State before and state after: every specimen, the baseline too, is held against itself.
    tails : bool
        Whether flick tails of the latest recordings at hand are predicted from the bench (each is measured anew).

    Returns
    -------
    Comparison
        Differences and verdicts.

    Raises
    ------
    NotComparableError
        If recordings are unlike, or a paired specimen is named twice or with a state of its own.
    NotEnoughDataError
        If a side holds no hand session in the state asked for.
    """
    others = [candidates] if isinstance(candidates, str | Path) else candidates
    specimens = [specimen_of(str(reference)) for reference in (baseline, *others)]
    if paired is None:
        result = compare_specimens(specimens[0], specimens[1:], margin_ms=margin_ms, fixed_beforehand=fixed_beforehand)
    else:
        result = _compare_paired(specimens, *paired, plan=_plan(margin_ms, fixed_beforehand))
    states = (None,) if paired is None else paired
    shown = [s if state is None else replace(s, state=state) for s in specimens for state in states]
    return replace(result, traces=recorded_tails(shown)) if tails else result


def compare_specimens(
    base: Specimen, others: Sequence[Specimen], *, margin_ms: float, fixed_beforehand: bool = False
) -> Comparison:
    """Compare specimens that were looked up already; see `compare`."""
    plan = _plan(margin_ms, fixed_beforehand)
    metrics: list[MetricComparison] = []
    caveats: list[Caveat] = []
    for other in others:
        rows, more = _pair(base, other, plan)
        metrics += rows
        caveats += more
    if any(row.scope == "recording" for row in metrics):
        caveats.append(NOT_MOUNTED_ANEW)
    return _whole(base.label, [other.label for other in others], metrics, (base, *others), plan, caveats)


def _plan(margin_ms: float, fixed_beforehand: bool) -> Plan:
    margins = {**DEFAULT_MARGINS, **dict.fromkeys(DELAY_METRICS, Margin(value=margin_ms / 1e3))}
    return Plan(fixed_beforehand=fixed_beforehand, margins=margins)


def _whole(
    baseline: str,
    candidates: Sequence[str],
    metrics: Sequence[MetricComparison],
    everyone: Sequence[Specimen],
    plan: Plan,
    caveats: Sequence[Caveat],
) -> Comparison:
    """Add the chain, the boards and the rates to the verdicts on metrics."""
    chain = chain_among(everyone, margin_s=plan.margins[DELAY_METRICS[0]].value)
    boards = list({specimen.profile.specimen: specimen for specimen in reversed(everyone)}.values())[::-1]
    sensors = sensors_of(boards)
    metric_kinds = {"paired" if row.pairs else "metric" for row in metrics}
    kinds = {*metric_kinds, *(link.link for link in chain), *(["sensor"] if sensors else [])}
    return Comparison(
        baseline=baseline,
        candidates=tuple(candidates),
        metrics=tuple(metrics),
        chain=chain,
        sensors=sensors,
        rates=tuple(row for row in verdict_rates() if row.kind in kinds),
        spread=spread_of(boards),
        caveats=tuple({caveat.code: caveat for caveat in caveats}.values()),
    )


def _compare_paired(specimens: Sequence[Specimen], before: str, after: str, *, plan: Plan) -> Comparison:
    """Hold every specimen's state after against its own state before."""
    names = [specimen.profile.specimen for specimen in specimens]
    facts = {name: f"named {names.count(name)} times" for name in names if names.count(name) > 1}
    facts |= {s.label: "has a state of its own" for s in specimens if s.state != "as_found"}
    if facts or before == after:
        raise NotComparableError(
            "A paired comparison takes every specimen once, without a state, and two states for all of them.",
            facts or {"states": f"{before} and {after}"},
            "Such as: feelcheck compare alder.toml birch.toml --paired as_found c3_lifted",
        )
    records = {specimen.profile.specimen: specimen.profile.hand for specimen in specimens}
    found = compare_paired_states(records, before=before, after=after, plan=plan)
    both = [replace(specimen, state=state) for state in (before, after) for specimen in specimens]
    simulated = any(record.simulated for specimen in both for record in specimen.hand)
    return _whole(
        f"{before} ({', '.join(names)})",
        [after],
        _with_reassembly(found, after),
        both,
        plan,
        [*([SIMULATED] if simulated else []), *found.caveats],
    )


def _with_reassembly(found: BeforeAfter, label: str) -> list[MetricComparison]:
    """The change, what reassembly alone does, and the change beyond it."""
    alone = [replace(row, candidate_name="reassembly alone") for row in found.reassembly]
    beyond = [replace(row, candidate_name=f"{label} beyond reassembly") for row in found.change_beyond_reassembly]
    return [*found.change, *alone, *beyond]


def _pair(base: Specimen, other: Specimen, plan: Plan) -> tuple[list[MetricComparison], list[Caveat]]:
    if base.hand and not other.hand and (other.bench or axes_with_parts(other)):
        return _predicted(base, other, plan), [PREDICTED]
    if not (base.hand or other.hand) and base.bench and other.bench:
        return [], [ON_THE_BENCH]
    for side in (base, other):
        if not side.hand:
            raise NotEnoughDataError(
                "A comparison needs hand sessions on both sides, or at least of the one that is named first.",
                {"specimen": side.label},
                "Add one with: feelcheck profile add",
            )
    caveats = [SIMULATED] if any(record.simulated for record in (*base.hand, *other.hand)) else []
    same = base.profile.specimen == other.profile.specimen
    if same and base.state != other.state and base.profile.path == other.profile.path:
        found = compare_before_after(
            base.profile.hand, before=base.state, after=other.state, specimen=other.label, plan=plan
        )
        return _with_reassembly(found, other.label), [*caveats, *found.caveats]
    rows = compare_sides(base.hand, other.hand, candidate_name=other.label, state=other.state, plan=plan)
    return list(rows), caveats


def _predicted(base: Specimen, other: Specimen, plan: Plan) -> list[MetricComparison]:
    """Hold a side that was not in a hand yet against one that was: a prediction decides nothing."""
    rows = []
    for response in used_responses(other):
        for direction, candidate in (("rising", response.rising), ("falling", response.falling)):
            baseline = pooled_estimate(base.hand, response.axis, direction, "smoothing_delay")
            difference = difference_of(candidate, baseline, quantity="difference")
            low90, high90 = coverage_interval(difference, 0.90)
            rows.append(
                MetricComparison(
                    name="smoothing_delay",
                    direction=direction,
                    axis=response.axis,
                    state=other.state,
                    candidate_name=other.label,
                    baseline=baseline,
                    candidate=candidate.renamed("smoothing_delay"),
                    difference=difference,
                    margin=plan.margins["smoothing_delay"].value,
                    low90=low90,
                    high90=high90,
                    scope="within_recording",
                    why=f"predicted from the {response.origin}, not yet measured in the hand",
                )
            )
    return rows


PREDICTED = Caveat(
    code="predicted",
    text="A side without hand sessions is predicted from its bench result or its parts; what firmware adds is not in "
    "it, and behind parts alone not what the sensor itself adds.",
    advice="Record it in the hand before you believe a verdict.",
)
ON_THE_BENCH = Caveat(
    code="bench_only",
    text="Neither side was recorded in a hand: only boards and parts are held against each other.",
    advice="Record both sides with: feelcheck log",
)
SIMULATED = Caveat(
    code="simulated",
    text="At least one side was simulated: the verdicts say nothing about real sticks.",
    advice="Record real sessions with: feelcheck log",
)


def draw_comparison(result: Comparison, path: Path) -> None:
    """Draw the differences against their margins."""
    from feelcheck.renderers._saving import save_figure
    from feelcheck.renderers.compare_figures import compare_figure

    save_figure(compare_figure(result), path, COMPARISON_FIGURE)


def repeatability(
    source: Path, *, metric: str = "smoothing_delay", axis: str = "", direction: str = "rising"
) -> RepeatabilityResult:
    """Run a gauge study.

    Parameters
    ----------
    source : Path
        A folder ``operator/specimen/recording``, or a table with columns operator, specimen, repeat, value.
    metric, axis, direction : str
        Quantity taken from each recording; the first axis that answers if none is named.
    """
    if not source.exists():
        raise FormatError("There is no such file or folder.", {"path": source}, "Check the path.")
    if source.is_file():
        rows, unit = read_study_table(source)
        return repeatability_of(study_array(rows), metric=metric, unit=unit)
    rows = []
    for operator in sorted(child for child in source.iterdir() if child.is_dir()):
        for specimen in sorted(child for child in operator.iterdir() if child.is_dir()):
            for repeat, session in enumerate(sessions_in(specimen), start=1):
                value, unit = _one_value(session, metric, axis, direction)
                rows.append((operator.name, specimen.name, str(repeat), value))
    if not rows:
        raise NotEnoughDataError(
            "A gauge study is a folder operator/specimen/recording.", {"path": source}, "Sort the recordings so."
        )
    return repeatability_of(study_array(rows), metric=metric, unit=unit)


def draw_repeatability(result: RepeatabilityResult, path: Path) -> None:
    """Draw how the variance of a gauge study splits."""
    from feelcheck.renderers._saving import save_figure
    from feelcheck.renderers.compare_figures import repeatability_figure

    save_figure(repeatability_figure(result), path, REPEATABILITY_FIGURE)


def _one_value(session: Path, metric: str, axis: str, direction: str) -> tuple[float, str]:
    groups = hand_record_of(analyze(session)).axes
    for name in [axis] if axis else list(groups):
        estimate = groups.get(name, {}).get(direction, {}).get(metric) or groups.get(name, {}).get("", {}).get(metric)
        if estimate is not None and estimate.value is not None:
            return estimate.value, estimate.unit
    raise NotEnoughDataError(
        "Every recording of a gauge study must answer the metric.",
        {"recording": session, "metric": metric, "axis": axis or "any", "direction": direction},
        "Record it again, or study another metric.",
    )
