"""The text of `feelcheck analyze`: what a colleague would say about the recording, numbers first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from feelcheck.counted import counted
from feelcheck.model import (
    AxisResult,
    CoupledLag,
    DirectionResponse,
    Estimate,
    FlickRecord,
    HandResult,
    LagResult,
    MarkerLag,
    RimBracket,
    Status,
)
from feelcheck.model.quantities import Quantity, listed
from feelcheck.renderers._added import ADDED_HEADER, added_rows
from feelcheck.renderers._format import format_estimate, format_interval, model_words, name_of
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table, wrapped
from feelcheck.renderers.hand_answer import hand_answer

__all__ = ["hand_text", "lag_text", "swapped_text"]

RESPONSE: tuple[Quantity, ...] = listed("hand direction")[:3]
"""Columns of a response; the mean delay is the smoothing delay here."""


def hand_text(
    results: Sequence[HandResult], swapped: tuple[Estimate, Estimate] | None = None, *, full: bool = False
) -> str:
    """Return the results in words and tables, the answer first.

    Parameters
    ----------
    results : sequence of HandResult
        The recordings.
    swapped : (Estimate, Estimate) or None
        Delay of tied sensors and of their ports from two of the recordings.
    full : bool
        Whether tables that hold no answer are shown too.
    """
    parts = [_one(result, full=full) for result in results]
    return "\n\n".join(parts if swapped is None else [*parts, swapped_text(*swapped)])


def _one(result: HandResult, *, full: bool) -> str:
    remarks = Remarks()
    parts = [
        _opening(result),
        _response(result, remarks),
        lag_text(result.lag, remarks) if result.lag is not None and (full or _lag_applies(result, result.lag)) else "",
        _codes(result, remarks),
        _timing(result, remarks),
        _release(result, remarks, full=full),
        _flicks(result.flicks),
        _added(result),
    ]
    remarks.marks(result.caveats)
    parts += [remarks.section(), _source(result)]
    return "\n\n".join(part for part in parts if part)


def _lag_applies(result: HandResult, lag: LagResult) -> bool:
    """Return whether a lag was told, or was what the recording was made for."""
    told = any(e.status in (Status.OK, Status.AT_MOST, Status.AT_LEAST) for e in (lag.marker.delay, lag.coupled.delay))
    return told or result.recording.provenance.facts.get("script") in ("marker", "coupled")


def _opening(result: HandResult) -> str:
    """Return what it is, in one line, and the answer in one to three sentences."""
    provenance = result.recording.provenance
    name = ", ".join(filter(None, (provenance.specimen, provenance.state))) or name_of(provenance, "recording")
    facts = ["simulated"] if provenance.simulated else []
    facts += [] if provenance.complete else ["unfinished"]
    heading = f"In the hand: {name}" + (f" ({', '.join(facts)})" if facts else "")
    answer = wrapped(" ".join(hand_answer(result)), first="  ")
    return f"{heading}\n{answer}"


def _source(result: HandResult) -> str:
    """Return how the log was read."""
    provenance = result.recording.provenance
    name = provenance.path or provenance.specimen or "recording"
    facts = [f"{counted(result.n_reports, 'report')} in {result.duration_s:.1f} s", provenance.format]
    lines = ["Read", f"  {name} ({', '.join(filter(None, facts))})"]
    return "\n".join(lines + [f"  {remark}" for remark in provenance.remarks])


def _timing(result: HandResult, remarks: Remarks) -> str:
    timing = result.timing
    rows = [_row(of.words, getattr(timing, of.name), remarks) for of in listed("hand timing")]
    gaps = f"{len(timing.gaps)}" if timing.gaps else "none"
    rows.append(("gaps", gaps, "; ".join(_gap_words(result)), ""))
    return _titled("Reports", rows)


def _gap_words(result: HandResult) -> list[str]:
    return [f"{gap.end_s - gap.start_s:.3f} s at {gap.start_s:.1f} s" for gap in result.timing.gaps[:3]]


def _row(name: str, estimate: Estimate, remarks: Remarks) -> tuple[str, str, str, str]:
    return name, format_estimate(estimate, interval=False), format_interval(estimate), remarks.of(estimate)


def _titled(title: str, rows: Sequence[tuple[str, str, str, str]]) -> str:
    return f"{title}\n" + text_table(("", "value", "95 % interval", "remark"), rows)


def _response(result: HandResult, remarks: Remarks) -> str:
    rows: list[tuple[str, ...]] = []
    silent: list[AxisResult] = []
    for axis in result.axes.values():
        if not (_answers(axis.rising) or _answers(axis.falling)):
            silent.append(axis)
            continue
        for word, response in axis.sides.items():
            rows.append(_response_row(axis.name, word, response, remarks))
        if axis.asymmetry.is_ok:
            ratio = format_estimate(axis.asymmetry)
            rows.append(("", "falling / rising", ratio, "", "", "", "", "", remarks.of(axis.asymmetry)))
    header = (
        "axis",
        "code",
        *(quantity.words for quantity in RESPONSE),
        "model",
        "rim allows",
        "flicks",
        "remark",
    )
    lines = ["Electronics, from flicks that the rim stopped (95 % intervals in brackets)"]
    lines += [text_table(header, rows)] if rows else []
    lines += [_silence(silent, remarks)] if silent else []
    return "\n".join(lines)


def _answers(response: DirectionResponse) -> bool:
    return response.smoothing_delay.status is not Status.NOT_RESOLVED


def _silence(axes: Sequence[AxisResult], remarks: Remarks) -> str:
    estimates = [response.smoothing_delay for axis in axes for response in axis.sides.values()]
    return f"  not answered for {', '.join(axis.name for axis in axes)} {remarks.of(*estimates)}".rstrip()


def _response_row(axis: str, word: str, response: DirectionResponse, remarks: Remarks) -> tuple[str, ...]:
    estimates = [getattr(response, quantity.name) for quantity in RESPONSE]
    n_flicks = max(estimate.n for estimate in estimates)
    return (
        axis,
        word,
        *(format_estimate(estimate) for estimate in estimates),
        model_words(response.model) if _answers(response) else "",
        _bracket(response.rim_bracket),
        str(n_flicks) if n_flicks else "",
        remarks.of(*estimates, *response.extra.values()),
    )


def _bracket(bracket: RimBracket | None) -> str:
    """Return what the rim alone allows for the smoothing delay of the model, in ms."""
    if bracket is None or bracket.high_s is None:
        return ""
    high = f"{1e3 * bracket.high_s:.3g} ms"
    return f"at most {high}" if bracket.low_s is None else f"{1e3 * bracket.low_s:.3g} to {high}"


def _codes(result: HandResult, remarks: Remarks) -> str:
    rows = []
    of_codes = [quantity for quantity in listed("hand axis") if quantity.unit != "ratio"]
    for axis in result.axes.values():
        estimates = [getattr(axis, quantity.name) for quantity in of_codes]
        if any(estimate.status is not Status.NOT_RESOLVED for estimate in estimates):
            rows.append((axis.name, *(format_estimate(e, interval=False) for e in estimates), remarks.of(*estimates)))
    header = ("axis", *(quantity.words for quantity in of_codes), "remark")
    return "Codes and rest\n" + text_table(header, rows) if rows else ""


def _release(result: HandResult, remarks: Remarks, *, full: bool) -> str:
    told = any(estimate.status is not Status.NOT_RESOLVED for estimate in result.release.values())
    if not result.release or not (told or full):
        return ""
    rows = [_row(name.replace("_", " "), estimate, remarks) for name, estimate in result.release.items()]
    return _titled("Spring return after letting go", rows)


def _flicks(flicks: Sequence[FlickRecord]) -> str:
    used = sum(flick.used for flick in flicks)
    reasons = Counter(flick.why_not for flick in flicks if not flick.used)
    lines = [f"Flicks\n  {len(flicks)} found, {used} used"]
    lines += [f"  {count} left out: {reason}" for reason, count in reasons.most_common()]
    return "\n".join(lines)


def _added(result: HandResult) -> str:
    """What metrics of other packages found."""
    rows = added_rows(result)
    return "From other packages\n" + text_table(ADDED_HEADER, rows) if rows else ""


def lag_text(lag: LagResult, remarks: Remarks) -> str:
    """Return the tables of what a marker and a tied stick tell; empty where there was neither.

    Parameters
    ----------
    lag : LagResult
        Both ways.
    remarks : Remarks
        Gathers the caveats.
    """
    return "\n\n".join(part for part in (_marker(lag.marker, remarks), _coupled(lag.coupled, remarks)) if part)


def _marker(marker: MarkerLag, remarks: Remarks) -> str:
    if marker.delay.status is Status.NOT_PRESENT:
        return ""
    rows = [_row(of.words, getattr(marker, of.name), remarks) for of in listed("hand lag marker")]
    rows += [_row(f"{axis}, code {way}", estimate, remarks) for (axis, way), estimate in marker.directions.items()]
    events = f", {counted(marker.delay.n, 'event')}" if marker.delay.n else ""
    title = f"Delay behind the button {marker.button}" if marker.button else "Delay behind a button"
    return _titled(f"{title}{events}", rows)


def _coupled(coupled: CoupledLag, remarks: Remarks) -> str:
    if coupled.delay.status is Status.NOT_PRESENT:
        return ""
    rows = [] if coupled.axes else [_row("delay", coupled.delay, remarks)]
    for letter, axis in coupled.axes.items():
        rows += [_row(f"{letter}: {of.words}", getattr(axis, of.name), remarks) for of in listed("hand lag coupled")]
    return _titled(f"Tied sticks: {coupled.second} behind {coupled.first}", rows)


def swapped_text(sensors: Estimate, ports: Estimate) -> str:
    """Return the table of two recordings with ports swapped.

    Parameters
    ----------
    sensors : Estimate
        Delay of the second sensor behind the first.
    ports : Estimate
        Delay of the second port behind the first.
    """
    remarks = Remarks()
    rows = [
        _row("second sensor behind the first", sensors, remarks),
        _row("second port behind the first", ports, remarks),
    ]
    return _titled("Both recordings together: ports swapped, scan order taken off", rows)
