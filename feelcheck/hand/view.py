"""From a recording to a prepared view, and from the metrics' findings to one result."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

import numpy as np

from feelcheck.errors import NotEnoughDataError
from feelcheck.hand.axes import pair_sticks, stick_reports, varying_streams
from feelcheck.hand.clock import recover_clock
from feelcheck.hand.numbers import FEW_REPORTS_IN_FLICK
from feelcheck.hand.segmentation import find_segments
from feelcheck.model import (
    AxisResult,
    Caveat,
    CoupledLag,
    DirectionResponse,
    Estimate,
    Finding,
    HandResult,
    HandView,
    LagResult,
    MarkerLag,
    Metric,
    MetricOutput,
    Recording,
    TimingResult,
)
from feelcheck.phases import phase

__all__ = ["analyse", "prepare"]

AXIS_UNITS = {
    "quantization_step": "counts",
    "resolution": "bits",
    "rest_noise": "counts",
    "return_error": "fraction",
    "dead_zone": "fraction",
    "update_interval": "s",
    "asymmetry": "ratio",
}
RESPONSE_UNITS = {"time_constant": "s", "transition_10_90": "s", "smoothing_delay": "s", "mean_delay": "s"}

_MISSING = Caveat(
    code="not_measured",
    text="Nothing in this recording answers this.",
    advice="Record the default script: rest, a slow roll, and quick flicks to the rim with holds and releases.",
)


_UNSEEN = Estimate.not_resolved("delay", unit="s", caveats=(_MISSING,))
_NO_MARKER = MarkerLag(delay=_UNSEEN, onset_delay=_UNSEEN.renamed("onset_delay"))
_NO_TIE = CoupledLag(delay=_UNSEEN)


def prepare(recording: Recording) -> HandView:
    """Return what every in-hand metric gets to see: clock, sticks, segments.

    Parameters
    ----------
    recording : Recording
        The recording.

    Raises
    ------
    NotEnoughDataError
        If no axis of the recording varies.
    """
    if not varying_streams(recording):
        raise NotEnoughDataError(
            "An in-hand recording needs at least one axis that moves.",
            {
                "path": recording.provenance.path or "(in memory)",
                "axes": ", ".join(s.name for s in recording.streams) or "none",
            },
            "Record again and move the stick, or name the axis columns with --axes.",
        )
    name = Path(recording.provenance.path).name or "the recording"
    phase(f"finding the clock of {name}")
    clock = recover_clock(recording)
    sticks = pair_sticks(recording)
    phase(f"finding flicks, holds and rests in {name}")
    view = HandView(recording=recording, clock=clock, sticks=sticks, segments=())
    return view.with_segments(find_segments(recording, clock, [stick_reports(view, stick) for stick in sticks]))


def analyse(view: HandView, metrics: Iterable[Metric]) -> HandResult:
    """Return everything the metrics find, put in its place.

    Parameters
    ----------
    view : HandView
        A prepared recording.
    metrics : iterable of Metric
        Each is asked once; what none of them answers is `not_resolved` with a reason.
    """
    outputs = [_measured(metric, view) for metric in metrics]
    findings = [finding for output in outputs for finding in output.findings]
    recording, clock = view.recording, view.clock
    timing = {**clock.extra, **_by_key(findings, "timing")}
    return HandResult(
        recording=recording,
        n_reports=_n_reports(recording),
        duration_s=max((s.time.duration_s for s in recording.streams), default=0.0),
        timing=TimingResult(
            report_interval=timing.pop("report_interval", clock.interval),
            host_jitter=timing.pop("host_jitter", clock.jitter),
            lost_report_fraction=timing.pop("lost_report_fraction", clock.lost_fraction),
            gaps=clock.gaps,
            extra=MappingProxyType(timing),
        ),
        axes=MappingProxyType({name: _axis(view, name, findings, outputs) for name in _axis_names(view)}),
        release=MappingProxyType(_by_key(findings, "release")),
        flicks=tuple(sorted((f for o in outputs for f in o.flicks), key=lambda flick: flick.start_s)),
        caveats=_unique([*_source_caveats(view), *(c for o in outputs for c in o.caveats)]),
        traces=tuple(trace for output in outputs for trace in output.traces),
        lag=_lag(outputs),
    )


def _measured(metric: Metric, view: HandView) -> MetricOutput:
    name = Path(view.recording.provenance.path).name or "the recording"
    phase(f"measuring {metric.name.replace('_', ' ')} in {name}")
    return metric.measure(view)


def _lag(outputs: Iterable[MetricOutput]) -> LagResult | None:
    """Return what marker and tied sticks tell, None where no metric looked at either."""
    found = LagResult(marker=_NO_MARKER, coupled=_NO_TIE)
    for output in outputs:
        found = replace(found, marker=output.marker or found.marker, coupled=output.coupled or found.coupled)
    return None if found.marker is _NO_MARKER and found.coupled is _NO_TIE else found


def _axis_names(view: HandView) -> list[str]:
    return [name for stick in view.sticks for name in (stick.x, stick.y) if name]


def _n_reports(recording: Recording) -> int:
    """Return how many reports were seen: distinct instants of axes with time bases of their own, else rows."""
    times = {id(s.time): s.time.t_hi_s for s in recording.streams}
    if len(times) == 1:
        return int(next(iter(times.values())).size)
    return int(np.unique(np.concatenate(list(times.values()))).size) if times else 0


def _by_key(
    findings: Iterable[Finding], group: str, axis: str | None = None, direction: str | None = None
) -> dict[str, Estimate]:
    """Return estimates of one place by quantity; on a stick's several answers the later one stands."""
    return {
        f.estimate.quantity: f.estimate
        for f in findings
        if f.group == group and (axis is None or f.axis == axis) and (direction is None or f.direction == direction)
    }


def _taken(found: dict[str, Estimate], units: Mapping[str, str]) -> dict[str, Estimate]:
    """Move the estimates that have a place of their own out of `found`; missing ones are not resolved."""
    return {
        key: found.pop(key, Estimate.not_resolved(key, unit=unit, caveats=(_MISSING,))) for key, unit in units.items()
    }


def _axis(view: HandView, name: str, findings: list[Finding], outputs: list[MetricOutput]) -> AxisResult:
    found = _by_key((f for f in findings if f.direction is None), "axis", name)
    found |= _by_key((f for f in findings if f.direction is None), "response", name)
    units = dict(AXIS_UNITS)
    if view.recording.stream(name).scale.unit == "fraction":
        units |= {"quantization_step": "fraction", "rest_noise": "fraction"}
    placed = _taken(found, units)
    return AxisResult(
        name=name,
        **placed,
        polarity=_polarity(view.recording, name, outputs),
        rising=_response(name, "rising", findings, outputs),
        falling=_response(name, "falling", findings, outputs),
        extra=MappingProxyType(found),
    )


def _response(name: str, direction: str, findings: list[Finding], outputs: list[MetricOutput]) -> DirectionResponse:
    found = _by_key(findings, "response", name, direction)
    placed = _taken(found, RESPONSE_UNITS)
    key = (name, direction)
    return DirectionResponse(
        **placed,
        poles=next((o.poles[key] for o in outputs if key in o.poles), ()),
        model=next((o.models[key] for o in outputs if key in o.models), "none"),
        rim_bracket=next((o.brackets[key] for o in outputs if key in o.brackets), None),
        extra=MappingProxyType(found),
    )


def _polarity(recording: Recording, name: str, outputs: list[MetricOutput]) -> int | None:
    """Return whether codes rise with the sensor's volts, where someone said so."""
    for output in outputs:
        if name in output.polarity:
            return output.polarity[name]
    stated = str(recording.provenance.facts.get(f"{name}.polarity", "")).strip()
    return {"1": 1, "+1": 1, "-1": -1}.get(stated)


def _source_caveats(view: HandView) -> list[Caveat]:
    recording, clock = view.recording, view.clock
    caveats = []
    if recording.provenance.simulated:
        caveats.append(
            Caveat(code="simulated", text="This recording was simulated; it says nothing about a real part.")
        )
    if not recording.provenance.complete:
        caveats.append(
            Caveat(
                code="incomplete_session",
                text="The recording was broken off; what was logged until then is used.",
                advice="Record again for a full set of flicks.",
            )
        )
    if not clock.interval.is_ok:
        caveats.append(
            Caveat(
                code="rate_unknown",
                text="The report interval of the pad could not be told, so the log's own time stamps are used.",
                advice="Record with stamps of 0.1 ms or finer, with fast motion, and not through a busy program.",
            )
        )
    return caveats + _no_stick(view) + _flick_caveats(view)


def _no_stick(view: HandView) -> list[Caveat]:
    """Return a remark on axes that move and were taken for no stick's, such as triggers and throttles."""
    placed = set(_axis_names(view))
    others = [stream.name for stream in varying_streams(view.recording) if stream.name not in placed]
    if not others or view.recording.sticks:
        return []
    return [
        Caveat(
            code="no_stick_axis",
            text=f"Taken for no axis of a stick and not measured: {', '.join(others)}.",
            advice="Name the columns with --axes if they are a stick's.",
        )
    ]


def _flick_caveats(view: HandView) -> list[Caveat]:
    flicks = [segment for segment in view.segments if segment.kind == "flick"]
    if not flicks:
        return [
            Caveat(
                code="no_flicks",
                text="No quick flick to the rim with a hold was found, so the response cannot be measured.",
                advice="Flick the stick to the rim quickly, hold it there for half a second, and let go; repeat.",
            )
        ]
    interval_s = view.clock.interval.value
    if interval_s is not None and interval_s > 0.1 / FEW_REPORTS_IN_FLICK:
        return [
            Caveat(
                code="few_reports_per_flick",
                text="The log holds few rows for each flick; time constants shorter than a row are out of reach.",
                advice="Log every report of the pad instead of one row a picture.",
            )
        ]
    return []


def _unique(caveats: list[Caveat]) -> tuple[Caveat, ...]:
    by_code: dict[str, Caveat] = {}
    for caveat in caveats:
        by_code.setdefault(caveat.code, caveat)
    return tuple(by_code.values())
