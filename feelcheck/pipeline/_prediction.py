"""The tails of recorded flicks predicted from the bench alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from feelcheck.comparison import joined_direction, predict_tail, prediction_trace
from feelcheck.model import Estimate, HandResult, Trace
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.pipeline._measuring import Measurements, ToMeasure
from feelcheck.pipeline._specimens import Specimen

__all__ = ["file_at_hand", "latest_session", "predictions_of", "recorded_tails"]

GUARD_INTERVALS = 2.0
GUARD_QUICK = 3.0
"""Time constants of a second pole after which the slowest alone governs a tail."""
POLES = ("one_pole", "two_pole")
TAILS_EACH = 3
LEAST_REPORTS = 8
LONGEST_TAUS = 6.0
WIDEST_BAND = 0.5
"""Mean width of a band, relative to its tail, above which the prediction says nothing and is not shown."""


def recorded_tails(specimens: Sequence[Specimen], measurements: Measurements) -> tuple[Trace, ...]:
    """Return predicted and recorded tails of every specimen with a bench result whose latest session is at hand.

    Parameters
    ----------
    specimens : sequence of Specimen
        Whose.
    measurements : Measurements
        What is measured already; the sessions are added.
    """
    found = [(own, ToMeasure.recording(path)) for own in specimens if own.bench and (path := latest_session(own))]
    measurements.ahead(file for _, file in found)
    results = ((own, measurements.of(file)) for own, file in found)
    return tuple(
        trace for own, result in results if isinstance(result, HandResult) for trace in predictions_of(own, result)
    )


def latest_session(specimen: Specimen) -> Path | None:
    """Return the latest recording that is at hand; None where none is."""
    paths = (file_at_hand(record.path, specimen) for record in reversed(specimen.hand))
    return next((path for path in paths if path is not None), None)


def file_at_hand(path: str, specimen: Specimen) -> Path | None:
    """Return the file as recorded, or beside the specimen's record; None if it is gone."""
    places = [Path(path), Path(specimen.profile.path).parent.parent / path] if path else []
    return next((place for place in places if place.exists()), None)


def predictions_of(specimen: Specimen, result: HandResult) -> tuple[Trace, ...]:
    """Return the predicted and recorded tails of a few flicks a direction, for axes with a bench result.

    Notes
    -----
    From the log comes where a tail starts, and what follows is judged; its shape comes from the bench. The start is
    taken two report intervals after contact, when the stick itself stands still, and later where a second pole still
    shows.
    """
    traces = []
    for record in specimen.bench:
        for direction in DIRECTIONS:
            behind = joined_direction(direction, specimen.profile.polarity.get(record.axis)) or ""
            found = record.directions.get(behind, {})
            tau = found.get("time_constant")
            if record.models.get(behind) in POLES and tau is not None and tau.value and tau.u is not None:
                second = found.get("pole_2")
                quick_s = second.value if second is not None and second.value else 0.0
                traces += list(_tails(specimen, result, record.axis, direction, tau, quick_s))
    return tuple(traces)


def _tails(
    specimen: Specimen, result: HandResult, axis: str, direction: str, tau: Estimate, quick_s: float
) -> Iterator[Trace]:
    flicks = [t for t in result.traces if t.kind == "flick" and t.axis == axis and t.labels["direction"] == direction]
    guard_s = GUARD_INTERVALS * (result.timing.report_interval.value or 0.0) + GUARD_QUICK * quick_s
    found = result.axes.get(axis)
    if found is None or tau.value is None or tau.u is None:
        return
    reach = result.recording.stream(axis).scale.reach
    for flick in flicks[:TAILS_EACH]:
        t_s, values = np.asarray(flick.arrays["raw_t_s"]), np.asarray(flick.arrays["raw_fs"])
        since = t_s - flick.marks["contact_s"]
        used = np.isfinite(values) & (since > guard_s) & (since < LONGEST_TAUS * tau.value)
        if used.sum() < LEAST_REPORTS:
            continue
        tail = predict_tail(
            t_s[used],
            values[used],
            tau.value,
            u_relative=tau.u / tau.value,
            step_fs=(found.quantization_step.value or 0.0) / reach,
            noise_fs=(found.rest_noise.value or 0.0) / reach,
            jitter_s=result.timing.host_jitter.value or 0.0,
        )
        if tail.mean_width_fraction > WIDEST_BAND:
            continue
        trace = prediction_trace(tail, axis, direction)
        yield replace(trace, labels={**trace.labels, "specimen": specimen.label})
