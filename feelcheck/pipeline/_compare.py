"""Comparisons between specimens and between states, and gauge studies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from feelcheck.comparison import DEFAULT_MARGINS, NOT_MOUNTED_ANEW, Plan, compare_paired_states, verdict_rates
from feelcheck.errors import FormatError, NotComparableError
from feelcheck.model import BenchRecord, Caveat, Comparison, HandRecord, Margin, MetricComparison
from feelcheck.phases import phase
from feelcheck.pipeline._before_after import KnownParts, overlaid_edges, with_captures
from feelcheck.pipeline._chain import chain_among, sensors_of, spread_of
from feelcheck.pipeline._measuring import Measurements
from feelcheck.pipeline._pairing import SIMULATED, check_like, check_polarity, compare_pair, with_reassembly
from feelcheck.pipeline._parts import known_parts
from feelcheck.pipeline._prediction import recorded_tails
from feelcheck.pipeline._references import listed
from feelcheck.pipeline._specimens import Specimen, side_of, specimens_of

__all__ = ["compare", "compare_specimens"]

DELAY_METRICS = ("smoothing_delay",)


def compare(
    baseline: str | Path,
    candidates: str | Path | Sequence[str | Path],
    *,
    margin_ms: float = 1.0,
    fixed_beforehand: bool = False,
    paired: tuple[str, str] | None = None,
    tails: bool = False,
    polarity: int | None = None,
    resistor: str = "",
    capacitor: str = "",
) -> Comparison:
    """Compare specimens, states of one, or captures before and after, metric by metric.

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
        Whether the captures that records name, and the tails of their latest recordings as the bench predicts them, are
        among the traces: what is at hand of them is measured anew.
    polarity : {1, -1}, optional
        Whether the code rises as the volts rise; asked for where a capture stands against a hand recording.
    resistor, capacitor : str
        What is known of the filter (``"4.7k"``, ``"1u"``) where no record notes it, so that a changed part is named.

    Returns
    -------
    Comparison
        Differences and verdicts.

    Raises
    ------
    NotComparableError
        If recordings are unlike, a paired specimen is named twice or with a state of its own, or a polarity is needed.
    NotEnoughDataError
        If a side holds nothing in the state asked for.
    """
    if polarity not in (None, 1, -1):
        facts = {"got": polarity}
        raise FormatError("A polarity is 1 or -1.", facts, "Push the stick and look which way the code goes.")
    ohm, farad = known_parts(resistor, capacitor)
    references = [*listed(baseline), *listed(candidates)]
    if paired is None:
        sides = [side_of(reference) for reference in references]
        check_like(sides[0], sides[1:])
        check_polarity(sides[0], sides[1:], polarity)
    measurements = Measurements()
    specimens = _told_apart(specimens_of(references, measurements), references)
    specimens = with_captures(specimens, measurements) if tails and paired is None else specimens
    if paired is None:
        result = compare_specimens(
            specimens[0],
            specimens[1:],
            margin_ms=margin_ms,
            fixed_beforehand=fixed_beforehand,
            known=KnownParts(resistor_ohm=ohm, capacitor_f=farad),
            polarity=polarity,
        )
    else:
        result = _compare_paired(specimens, *paired, plan=_plan(margin_ms, fixed_beforehand))
    states = (None,) if paired is None else paired
    shown = [s if state is None else replace(s, state=state) for s in specimens for state in states]
    return replace(result, traces=(*result.traces, *recorded_tails(shown, measurements))) if tails else result


def _told_apart(specimens: Sequence[Specimen], references: Sequence[str]) -> list[Specimen]:
    """Files of one name in several folders are called by their folder too."""
    labels = [specimen.label for specimen in specimens]
    return [
        replace(side, profile=replace(side.profile, specimen=f"{Path(reference).resolve().parent.name}/{side.label}"))
        if labels.count(side.label) > 1 and not side.profile.path
        else side
        for side, reference in zip(specimens, references, strict=True)
    ]


def compare_specimens(
    base: Specimen,
    others: Sequence[Specimen],
    *,
    margin_ms: float,
    fixed_beforehand: bool = False,
    known: KnownParts | None = None,
    polarity: int | None = None,
) -> Comparison:
    """Compare specimens that were looked up already; see `compare`."""
    plan = _plan(margin_ms, fixed_beforehand)
    phase(f"comparing {base.label} with {', '.join(other.label for other in others)}")
    pairings = [compare_pair(base, other, plan, known or KnownParts(), polarity) for other in others]
    metrics = [row for found in pairings for row in found.rows]
    caveats = [caveat for found in pairings for caveat in found.caveats]
    changes = tuple(change for found in pairings for change in found.changes)
    if any(row.scope == "recording" and row.sources == ("hand", "hand") for row in metrics):
        caveats.append(NOT_MOUNTED_ANEW)
    whole = _whole(base.label, [other.label for other in others], metrics, (base, *others), plan, caveats)
    traces = tuple(trace for other in others for trace in overlaid_edges(base, other, changes))
    return replace(whole, changes=changes, traces=traces)


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
    sensors = sensors_of([board for board in boards if board.profile.path or board.profile.parts])
    metric_kinds = {"paired" if row.pairs else "metric" for row in metrics if row.sources == ("hand", "hand")}
    metric_kinds |= {"paired" if row.pairs else "capture" for row in metrics if row.sources == ("bench", "bench")}
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
    records = _records_of(specimens, before, after)
    found = compare_paired_states(records, before=before, after=after, plan=plan)
    both = [replace(specimen, state=state) for state in (before, after) for specimen in specimens]
    simulated = any(record.simulated for own in records.values() for record in own if record.state in (before, after))
    return _whole(
        f"{before} ({', '.join(names)})",
        [after],
        with_reassembly(found, after),
        both,
        plan,
        [*([SIMULATED] if simulated else []), *found.caveats],
    )


def _records_of(
    specimens: Sequence[Specimen], before: str, after: str
) -> Mapping[str, Sequence[HandRecord] | Sequence[BenchRecord]]:
    """What all specimens have in both states: hand sessions, else captures."""
    kinds: list[Mapping[str, Sequence[HandRecord] | Sequence[BenchRecord]]] = [
        {specimen.profile.specimen: specimen.profile.hand for specimen in specimens},
        {specimen.profile.specimen: specimen.profile.bench for specimen in specimens},
    ]
    for records in kinds:
        if all({before, after} <= {record.state for record in own} for own in records.values()):
            return records
    return max(kinds, key=lambda records: sum(map(bool, records.values())))
