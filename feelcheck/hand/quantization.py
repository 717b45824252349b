"""The metric "quantization": the step between neighbouring codes of each axis, and the resolution it leaves."""

from __future__ import annotations

import math

import numpy as np

from feelcheck.hand.lattice import Lattice, axis_lattice
from feelcheck.model import Caveat, Estimate, Finding, HandView, MetricOutput, Stream, Trace

__all__ = ["METRIC", "QuantizationMetric"]

WHY_NOT = {
    "few_levels": Caveat(
        code="few_levels",
        text="Too few different values were logged to see the steps of the converter.",
        advice="Record the stick moving over its whole range.",
    ),
    "log_grid": Caveat(
        code="log_grid",
        text="Only the grid of the log's own numbers is seen; a coarser step of the converter is hidden by filtering, "
        "noise added after it, or is not there.",
        advice="Log the raw codes of the device, or switch its smoothing off.",
    ),
    "interpolated": Caveat(
        code="interpolated",
        text="The motion runs in straight pieces of several rows: the log was interpolated between reports.",
        advice="Log the reports themselves, with their own time stamps.",
    ),
    "hidden": Caveat(
        code="lattice_hidden",
        text="The values stand on no common lattice: the log was averaged, interpolated or rescaled unevenly.",
        advice="Log the raw codes of the device at its own report instants.",
    ),
}


class QuantizationMetric:
    """Step and resolution of each axis from the lattice of the logged values."""

    name = "quantization"

    def measure(self, view: HandView) -> MetricOutput:
        """Return step, resolution and step as a share of full throw for every axis of the recording."""
        findings: list[Finding] = []
        traces: list[Trace] = []
        for stream in view.recording.streams:
            lattice = axis_lattice(view, stream)
            findings += [Finding(estimate=e, axis=stream.name) for e in _estimates(stream, lattice)]
            if stream.codes.size:
                traces.append(_trace(stream, lattice))
        return MetricOutput(findings=tuple(findings), traces=tuple(traces))


LATTICE = "fit of the lattice"
METRIC = QuantizationMetric()


def _estimates(stream: Stream, lattice: Lattice) -> tuple[Estimate, ...]:
    unit = stream.scale.unit
    if lattice.step is None or lattice.u is None:
        why = (WHY_NOT[lattice.reason],)
        return (
            Estimate.not_resolved("quantization_step", unit=unit, n=lattice.n_levels, caveats=why),
            Estimate.not_resolved("resolution", unit="bits", n=lattice.n_levels, caveats=why),
        )
    step, u, n, caveats = lattice.step, lattice.u, lattice.n_levels, _caveats(lattice, unit)
    span = float(np.ptp(stream.codes))
    bits = math.log2(max(span / step, 1.0))
    throw = span / 2
    return (
        Estimate.measured("quantization_step", step, u=u, unit=unit, n=n, scale="log", caveats=caveats, by=LATTICE),
        Estimate.measured("resolution", bits, u=u / step / math.log(2), unit="bits", n=n, by=LATTICE),
        Estimate.measured(
            "quantization_step_of_throw", step / throw, u=u / throw, unit="fraction", n=n, scale="log", by=LATTICE
        ),
    )


def _caveats(lattice: Lattice, unit: str) -> tuple[Caveat, ...]:
    found: list[Caveat] = []
    if lattice.mixed_with is not None:
        found.append(
            Caveat(
                code="mixed_width",
                text=f"The log changes its step midway: part of it stands on {lattice.mixed_with:.4g} {unit}.",
                advice="Analyse the parts recorded with each device or setting on their own.",
            )
        )
    if lattice.finer is not None:
        found.append(
            Caveat(
                code="finer_in_motion",
                text=f"Held values stand on this step, values in motion on {lattice.finer:.4g} {unit}: the log is "
                "averaged or interpolated.",
            )
        )
    if lattice.halves:
        below, above = lattice.halves
        found.append(
            Caveat(
                code="sides_differ",
                text=f"The step is {below:.4g} {unit} below the centre and {above:.4g} above: each side is scaled "
                "on its own.",
            )
        )
    return tuple(found)


def _trace(stream: Stream, lattice: Lattice) -> Trace:
    levels, n_reports = np.unique(stream.codes, return_counts=True)
    marks = {"coherence": lattice.coherence, "false_alarm": lattice.false_alarm}
    if lattice.step is not None:
        marks["step"] = lattice.step
    return Trace(
        kind="lattice",
        axis=stream.name,
        arrays={"level": levels, "n_reports": n_reports, "gap": np.diff(levels)},
        marks=marks,
        labels={"unit": stream.scale.unit, "reason": lattice.reason},
    )
