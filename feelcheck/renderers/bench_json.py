"""The JSON document of `feelcheck bench` (schema feelcheck.bench/1)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from feelcheck.model import BenchDirection, BenchResult, Placement
from feelcheck.renderers._json import caveat_object, dump, estimate_object
from feelcheck.renderers.survey_text import placement_object

__all__ = ["BENCH_SCHEMA", "bench_document", "bench_json"]

BENCH_SCHEMA = "feelcheck.bench/1"


def bench_json(results: Sequence[BenchResult], placed: Sequence[Placement] | None = None) -> str:
    """Return one JSON document for one result, or a list under ``results`` for several.

    Parameters
    ----------
    results : sequence of BenchResult
        The captures.
    placed : sequence of Placement or None
        Where they lie among the sensors of a table, under ``population``.
    """
    documents = [bench_document(result) for result in results]
    among = {} if placed is None else {"population": [placement_object(one) for one in placed]}
    return dump({**(documents[0] if len(documents) == 1 else {"schema": BENCH_SCHEMA, "results": documents}), **among})


def bench_document(result: BenchResult) -> dict[str, Any]:
    """Return the JSON object of one bench result."""
    capture = result.capture
    return {
        "schema": BENCH_SCHEMA,
        "source": {
            "path": capture.provenance.path,
            "format": capture.provenance.format,
            "sample_interval_s": capture.interval_s,
            "n_samples": int(capture.t_s.size),
            "drive": result.drive_name,
            "output": result.output_name,
            "understood": dict(capture.understood),
            "settings": dict(capture.provenance.facts),
            "remarks": list(capture.provenance.remarks),
            "simulated": capture.provenance.simulated,
            "sha256": capture.provenance.sha256,
        },
        "drive": _drive(result),
        "rising": _direction(result.rising),
        "falling": _direction(result.falling),
        "asymmetry": estimate_object(result.asymmetry),
        "update_interval": estimate_object(result.update_interval),
        "noise": estimate_object(result.noise),
        "swing": estimate_object(result.swing),
        **{name: estimate_object(estimate) for name, estimate in result.extra.items()},
        "outputs": {other.output_name: _beside(other) for other in result.outputs},
        "explanation": list(result.explanation),
        "caveats": [caveat_object(caveat) for caveat in result.caveats],
    }


def _beside(result: BenchResult) -> dict[str, Any]:
    """A further output of the same capture: what is its own."""
    whole = bench_document(result)
    return {name: value for name, value in whole.items() if name not in ("schema", "source", "outputs", "drive")}


def _drive(result: BenchResult) -> dict[str, Any] | None:
    if result.drive_transition is None or result.drive_swing is None:
        return None
    return {
        "transition_10_90": estimate_object(result.drive_transition),
        "swing": estimate_object(result.drive_swing),
        "kind": result.drive_kind,
    }


def _direction(direction: BenchDirection | None) -> dict[str, Any] | None:
    if direction is None:
        return None
    return {
        "time_constant": estimate_object(direction.time_constant),
        "poles": [estimate_object(pole) for pole in direction.poles],
        "transition_10_90": estimate_object(direction.transition_10_90),
        "step_transition_10_90": estimate_object(direction.step_transition_10_90),
        "dead_time": estimate_object(direction.dead_time),
        "smoothing_delay": estimate_object(direction.smoothing_delay),
        "mean_delay": estimate_object(direction.mean_delay),
        "settled_fraction": estimate_object(direction.settled_fraction),
        "saturated": direction.saturated,
        "n_edges": direction.n_edges,
        "model": direction.model,
        **{name: estimate_object(estimate) for name, estimate in direction.extra.items()},
    }
