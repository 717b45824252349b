"""The JSON document of `feelcheck bench` (schema feelcheck.bench/1)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from feelcheck.model import BenchResult, Placement
from feelcheck.renderers._json import dump, encoded, picked

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
    among = {} if placed is None else {"population": encoded(list(placed))}
    return dump({**(documents[0] if len(documents) == 1 else {"schema": BENCH_SCHEMA, "results": documents}), **among})


def bench_document(result: BenchResult) -> dict[str, Any]:
    """Return the JSON object of one bench result.

    Parameters
    ----------
    result : BenchResult
        The result.
    """
    capture, provenance = result.capture, result.capture.provenance
    source = {
        **picked(provenance, "path", "format"),
        "sample_interval_s": capture.interval_s,
        "n_samples": int(capture.t_s.size),
        "drive": result.drive_name,
        "output": result.output_name,
        "understood": encoded(capture.understood),
        "settings": encoded(provenance.facts),
        **picked(provenance, "remarks", "simulated", "sha256"),
    }
    outputs = {other.output_name: _of_output(other) for other in result.outputs}
    own = _of_output(result)
    told = {name: own.pop(name) for name in ("explanation", "caveats")}
    return {"schema": BENCH_SCHEMA, "source": source, "drive": _drive(result), **own, "outputs": outputs, **told}


def _of_output(result: BenchResult) -> dict[str, Any]:
    """What is an output's own."""
    names = ("rising", "falling", "asymmetry", "update_interval", "noise", "swing", "extra", "explanation", "caveats")
    return picked(result, *names)


def _drive(result: BenchResult) -> dict[str, Any] | None:
    if result.drive_transition is None or result.drive_swing is None:
        return None
    numbers = {"transition_10_90": encoded(result.drive_transition), "swing": encoded(result.drive_swing)}
    return {**numbers, "kind": result.drive_kind}
