"""The chain of one specimen: parts predict the bench, the bench predicts the hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from feelcheck.comparison import (
    BoardResponse,
    Circumstances,
    SpecimenDelays,
    compare_sensors,
    explain_spread,
    joined_direction,
    judge_link,
    pooled_estimate,
)
from feelcheck.model import BenchRecord, Caveat, ChainLink, Estimate, Part, SensorVerdict, Status, VarianceShare
from feelcheck.model.quantities import DELAY, DIRECTIONS
from feelcheck.pipeline._parts import PredictedDelay, delay_from_parts
from feelcheck.pipeline._specimens import Specimen

__all__ = ["chain_among", "chain_of", "sensors_of", "spread_of"]

MEAN_DELAY = "mean_delay"
UNJOINED = Caveat(
    code="polarity_unknown",
    text="Whether the code rises with the volts is not noted, so bench and hand cannot be joined.",
    advice="Note it in the record: polarity = {left_x = 1}, or -1 if the code falls while the volts rise.",
)
DECADE_FIT = 1.25
"""How near a prediction with one part ten times off must come, as a ratio, before that slip is suspected."""


def chain_of(specimen: Specimen, *, margin_s: float) -> tuple[ChainLink, ...]:
    """Return every link of one specimen in one state that both its ends are there for."""
    return (*_parts_links(specimen, margin_s), *_hand_links(specimen, margin_s))


def chain_among(specimens: Sequence[Specimen], *, margin_s: float) -> tuple[ChainLink, ...]:
    """Return every specimen's links; one that disagrees is also tried with the other specimens' parts and captures."""
    return tuple(
        _with_swap(link, [other for other in specimens if other is not specimen])
        for specimen in specimens
        for link in chain_of(specimen, margin_s=margin_s)
    )


def _with_swap(link: ChainLink, others: Sequence[Specimen]) -> ChainLink:
    """Put first whose parts, or whose capture, would explain what was measured."""
    if link.verdict != "disagree" or link.measured.value is None:
        return link
    hints = []
    for other in others:
        predicted = _prediction_by(other, link)
        if predicted is not None and abs(link.measured.value - predicted) < link.margin:
            what = "parts recorded" if link.link == "parts-bench" else "capture taken"
            hints.append(f"the {what} for {other.label} would explain it: boards or records mixed up?")
    return replace(link, look_at=(*hints, *link.look_at))


def _prediction_by(other: Specimen, link: ChainLink) -> float | None:
    if link.link == "parts-bench":
        predicted = delay_from_parts(other, link.axis, link.direction)
        return None if predicted is None else predicted.estimate.value
    behind = joined_direction(link.direction, other.profile.polarity.get(link.axis))
    bench = _bench_estimate(other, link.axis, behind or link.direction)
    return None if bench is None else bench.value


def _parts_links(specimen: Specimen, margin_s: float) -> Iterator[ChainLink]:
    for record in specimen.bench:
        for direction, found in record.directions.items():
            predicted = delay_from_parts(specimen, record.axis, direction)
            if predicted is None or DELAY not in found:
                continue
            link = judge_link(
                predicted.estimate,
                found[DELAY],
                specimen=specimen.label,
                axis=record.axis,
                state=specimen.state,
                direction=direction,
                link="parts-bench",
                margin_s=margin_s,
                circumstances=_parts_circumstances(record, direction, predicted),
            )
            yield _with_misreading(link, specimen)


def _with_misreading(link: ChainLink, specimen: Specimen) -> ChainLink:
    """Put first which part, ten times larger or smaller than noted, would explain what was measured."""
    measured, predicted = link.measured.value, link.predicted.value
    if link.verdict != "disagree" or not measured or not predicted or 0.5 < measured / predicted < 2.0:
        return link
    hints = []
    for factor, word in ((10.0, "small"), (0.1, "large")):
        places = [
            part.position
            for part in specimen.profile.parts
            if _near(_delay_with(specimen, part, factor, link), measured)
        ]
        if places:
            hints.append(f"{' or '.join(places)} read ten times too {word}")
    return replace(link, look_at=(*hints, *link.look_at))


def _delay_with(specimen: Specimen, part: Part, factor: float, link: ChainLink) -> float:
    """Delay that the record would predict with one part `factor` times as large, s; 0 where it predicts none."""
    parts = [replace(p, value=factor * p.value) if p is part else p for p in specimen.profile.parts]
    changed = replace(specimen, profile=replace(specimen.profile, parts=tuple(parts)))
    predicted = delay_from_parts(changed, link.axis, link.direction)
    return 0.0 if predicted is None else predicted.estimate.value or 0.0


def _near(predicted: float, measured: float) -> bool:
    return 1 / DECADE_FIT < predicted / measured < DECADE_FIT


def _parts_circumstances(record: BenchRecord, direction: str, predicted: PredictedDelay) -> Circumstances:
    other = record.directions.get("falling" if direction == "rising" else "rising", {}).get(DELAY)
    own = record.directions[direction][DELAY]
    ratio = own.value / other.value if own.value and other is not None and other.value else None
    return Circumstances(
        band_s=predicted.band_s,
        class_2_capacitor=predicted.class_2,
        saturated="saturation_swing" in record.overall,
        other_direction_ratio=ratio,
        parts_known=predicted.measured,
    )


def _hand_links(specimen: Specimen, margin_s: float) -> Iterator[ChainLink]:
    for axis, direction in _hand_directions(specimen):
        behind = joined_direction(direction, specimen.profile.polarity.get(axis))
        bench = _bench_estimate(specimen, axis, behind or direction)
        if bench is None:
            continue
        predicted = bench if behind else Estimate.not_resolved(DELAY, unit="s", caveats=(UNJOINED,))
        yield judge_link(
            predicted,
            pooled_estimate(specimen.hand, axis, direction, DELAY),
            specimen=specimen.label,
            axis=axis,
            state=specimen.state,
            direction=direction,
            link="bench-hand",
            margin_s=margin_s,
            circumstances=Circumstances(report_interval_s=_slowest_interval_s(specimen)),
        )


def _slowest_interval_s(specimen: Specimen) -> float:
    return max((r.report_interval.value or 0.0 for r in specimen.hand if r.report_interval), default=0.0)


def _hand_directions(specimen: Specimen) -> list[tuple[str, str]]:
    axes = dict.fromkeys(axis for record in specimen.hand for axis in record.axes)
    return [(axis, direction) for axis in axes for direction in DIRECTIONS]


def _bench_estimate(specimen: Specimen, axis: str, direction: str) -> Estimate | None:
    for record in reversed(specimen.bench):
        if record.axis == axis and DELAY in record.directions.get(direction, {}):
            return record.directions[direction][DELAY]
    return None


def sensors_of(specimens: Sequence[Specimen]) -> tuple[SensorVerdict, ...]:
    """Return for every pair of boards with a bench result whether they can carry one sensor."""
    boards = [board for specimen in specimens for board in _boards(specimen)]
    return tuple(compare_sensors(a, b) for k, a in enumerate(boards) for b in boards[k + 1 :])


def _boards(specimen: Specimen) -> Iterator[BoardResponse]:
    for record in specimen.bench:
        delays = {d: found[MEAN_DELAY] for d, found in record.directions.items() if MEAN_DELAY in found}
        quickest = min(delays, key=lambda d: delays[d].value or float("inf"), default=None)
        if quickest is None:
            continue
        predicted, drive = delay_from_parts(specimen, record.axis, quickest), record.overall.get("drive_transition")
        yield BoardResponse(
            name=specimen.label,
            delay=delays[quickest],
            network_delay=predicted.whole if predicted else Estimate.not_resolved(DELAY, unit="s"),
            drive_s=drive.value or 0.0 if drive is not None else 0.0,
            update_interval=record.overall.get("update_interval", Estimate.not_resolved("update_interval", unit="s")),
            sensitivity=record.overall.get("sensitivity", Estimate.not_resolved("sensitivity", unit="")),
            saturation_swing=record.overall.get(
                "saturation_swing", Estimate.not_present("saturation_swing", unit=record.output_unit)
            ),
            drive_unit=record.overall["sensitivity"].unit if "sensitivity" in record.overall else "",
        )


def spread_of(specimens: Sequence[Specimen]) -> tuple[VarianceShare, ...]:
    """Return what the spread of three or more specimens comes from; empty where the chain is not whole for three."""
    rows = [row for specimen in specimens for row in _delays(specimen)]
    whole = [row for row in rows if row.parts.is_ok and row.bench.is_ok and row.hand.is_ok]
    return explain_spread(whole) if len(whole) >= 3 else ()


def _delays(specimen: Specimen) -> Iterator[SpecimenDelays]:
    for record in specimen.bench[-1:]:
        behind = joined_direction("rising", specimen.profile.polarity.get(record.axis)) or "rising"
        predicted = delay_from_parts(specimen, record.axis, behind)
        bench = _bench_estimate(specimen, record.axis, behind)
        if predicted is None or bench is None:
            continue
        update = record.overall.get("update_interval")
        yield SpecimenDelays(
            name=specimen.label,
            parts=predicted.estimate,
            bench=bench,
            hand=pooled_estimate(specimen.hand, record.axis, "rising", DELAY),
            refresh_s=update.value if update is not None and update.status is Status.OK and update.value else 0.0,
        )
