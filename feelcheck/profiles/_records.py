"""From a result of `analyze` or `bench` to the record that a profile keeps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from feelcheck.errors import ProfileError
from feelcheck.model import (
    AxisResult,
    BenchDirection,
    BenchRecord,
    BenchResult,
    Condition,
    DirectionResponse,
    Estimate,
    HandRecord,
    HandResult,
)
from feelcheck.model.labels import AS_FOUND

__all__ = ["bench_record_of", "hand_record_of"]

CONDITION_KEYS = ("script", "source", "connection", "firmware", "cap", "spring", "recalibrated")


def hand_record_of(
    result: HandResult,
    *,
    state: str = AS_FOUND,
    mounting: int | None = None,
    operator: str = "",
    date: str = "",
) -> HandRecord:
    """Return the record of one hand session.

    Parameters
    ----------
    result : HandResult
        From `feelcheck analyze`.
    state : str
        State of the specimen when it was recorded.
    mounting : int, optional
        Number of the mounting.
    operator, date : str
        Who and when.

    Raises
    ------
    ProfileError
        If the session is unfinished: half a script is no repeat of a whole one.
    """
    provenance = result.recording.provenance
    if not provenance.complete:
        raise ProfileError(
            "Only a finished session goes into a record.", {"session": provenance.path}, "Record it again to the end."
        )
    return HandRecord(
        session=Path(provenance.path).name or provenance.specimen,
        state=state,
        path=provenance.path,
        sha256=provenance.sha256,
        date=date or provenance.facts.get("started", ""),
        condition=Condition(
            facts=_conditions(result), mounting=mounting, operator=operator or provenance.facts.get("operator", "")
        ),
        axes={name: _axis_groups(axis) for name, axis in result.axes.items()},
        release=_bare(result.release.values()),
        report_interval=replace(result.timing.report_interval, caveats=()),
        simulated=provenance.simulated,
    )


def _conditions(result: HandResult) -> Mapping[str, str]:
    facts = result.recording.provenance.facts
    found = {key: facts[key] for key in CONDITION_KEYS if facts.get(key)}
    interval = result.timing.report_interval
    if interval.value:
        found["report_rate_hz"] = f"{float(f'{1 / interval.value:.2g}'):g}"
    scales = {f"{stream.scale.unit} {stream.scale.reach:g}" for stream in result.recording.streams}
    found["axis_scale"] = ", ".join(sorted(scales))
    return found


def _axis_groups(axis: AxisResult) -> Mapping[str, Mapping[str, Estimate]]:
    both = (
        axis.quantization_step,
        axis.resolution,
        axis.rest_noise,
        axis.return_error,
        axis.dead_zone,
        axis.update_interval,
        axis.asymmetry,
    )
    return {
        "": _bare((*both, *axis.extra.values())),
        "rising": _direction_group(axis.rising),
        "falling": _direction_group(axis.falling),
    }


def _direction_group(response: DirectionResponse) -> Mapping[str, Estimate]:
    found = (
        response.time_constant,
        response.transition_10_90,
        response.smoothing_delay,
        response.mean_delay,
        *response.extra.values(),
    )
    return {**_bare(found), **_poles(response.poles)}


def _poles(poles: tuple[Estimate, ...]) -> Mapping[str, Estimate]:
    return _bare(pole.renamed(f"pole_{number}") for number, pole in enumerate(poles, start=1))


def _bare(estimates: Iterable[Estimate]) -> Mapping[str, Estimate]:
    """Estimates by quantity without their caveats: a record is read by people, the data tells the caveats again."""
    return {estimate.quantity: replace(estimate, caveats=()) for estimate in estimates}


def bench_record_of(result: BenchResult, *, axis: str, state: str = AS_FOUND, date: str = "") -> BenchRecord:
    """Return the record of one bench capture of one axis.

    Parameters
    ----------
    result : BenchResult
        The result.
    axis : str
        Name of the axis.
    state : str, optional
        Name of the state.
    date : str, optional
        Date of the capture, ISO 8601.
    """
    provenance = result.capture.provenance
    directions = {name: _bench_group(side) for name, side in result.sides.items()}
    models = {name: side.model for name, side in result.sides.items()}
    overall = [result.update_interval, result.noise, result.swing, result.asymmetry, *result.extra.values()]
    if result.drive_transition is not None:
        overall.append(result.drive_transition.renamed("drive_transition"))
    overall += _saturation(result)
    return BenchRecord(
        axis=axis,
        state=state,
        path=provenance.path,
        sha256=provenance.sha256,
        date=date,
        drive_kind=result.drive_kind,
        output_unit=result.capture.channel(result.output_name).unit,
        directions=directions,
        overall=_bare(overall),
        models=models,
        simulated=provenance.simulated,
        caveats=result.caveats,
    )


def _saturation(result: BenchResult) -> list[Estimate]:
    """The swing between the flat tops of a saturated output; only a lower limit where one direction alone is flat."""
    flat = [side.saturated for side in (result.rising, result.falling) if side is not None]
    name, swing = "saturation_swing", result.swing
    if not any(flat) or swing.value is None:
        return []
    return [swing.renamed(name) if all(flat) else Estimate.at_least(name, swing.value, unit=swing.unit)]


def _bench_group(direction: BenchDirection) -> Mapping[str, Estimate]:
    found = (
        direction.time_constant,
        direction.transition_10_90,
        direction.step_transition_10_90,
        direction.dead_time,
        direction.smoothing_delay,
        direction.mean_delay,
        direction.settled_fraction,
        *direction.extra.values(),
    )
    return {**_bare(found), **_poles(direction.poles)}
