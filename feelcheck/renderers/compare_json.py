"""The JSON documents of `feelcheck compare` and `feelcheck repeatability`."""

from __future__ import annotations

from typing import Any

from feelcheck.model import ChainLink, Comparison, Estimate, MetricComparison, RepeatabilityResult, VarianceShare
from feelcheck.model.parts import PartChange
from feelcheck.renderers._format import shown
from feelcheck.renderers._json import caveat_object, dump, estimate_object

__all__ = [
    "COMPARE_SCHEMA",
    "REPEATABILITY_SCHEMA",
    "compare_document",
    "compare_json",
    "repeatability_document",
    "repeatability_json",
]

COMPARE_SCHEMA = "feelcheck.compare/1"
REPEATABILITY_SCHEMA = "feelcheck.repeatability/1"


def compare_json(result: Comparison) -> str:
    """Return the comparison as one JSON document."""
    return dump(compare_document(result))


def compare_document(result: Comparison) -> dict[str, Any]:
    """Return the JSON object of a comparison."""
    return {
        "schema": COMPARE_SCHEMA,
        "baseline": result.baseline,
        "candidates": list(result.candidates),
        "metrics": [_metric(row) for row in result.metrics],
        "chain": [_link(link) for link in result.chain],
        "sensors": [
            {
                "first": verdict.first,
                "second": verdict.second,
                "verdict": verdict.verdict,
                "decided_by": list(verdict.decided_by),
                "evidence": {name: estimate_object(e) for name, e in verdict.evidence.items()},
                "remarks": list(verdict.remarks),
            }
            for verdict in result.sensors
        ],
        "spread": [_share(share) for share in result.spread],
        "rates": [
            {
                "kind": row.kind,
                "truth": row.truth,
                "n": row.n,
                "right_fraction": row.n_right / row.n,
                "open_fraction": row.n_open / row.n,
                "wrong_fraction": row.n_wrong / row.n,
                "wrong_at_most_fraction": row.wrong_at_most,
            }
            for row in result.rates
        ],
        "predictions": [
            {
                "specimen": trace.labels.get("specimen"),
                "axis": trace.axis,
                "direction": trace.labels.get("direction"),
                "inside_fraction": trace.marks["inside_fraction"],
                "mean_width_fraction": trace.marks["mean_width_fraction"],
            }
            for trace in result.traces
            if trace.kind == "prediction"
        ],
        "part_changes": [_change(change) for change in result.changes],
        "caveats": [caveat_object(caveat) for caveat in result.caveats],
    }


def _change(change: PartChange) -> dict[str, Any]:
    return {
        "candidate_name": change.candidate_name,
        "axis": change.axis,
        "change": change.change,
        "fits": change.fits,
        "noted": change.noted,
        "predicted": {direction: estimate_object(e) for direction, e in change.predicted.items()},
        "measured": {direction: estimate_object(e) for direction, e in change.measured.items()},
    }


def _displayed(value: float | None, unit: str) -> float | None:
    """A bare number of the metric in its display unit."""
    if value is None:
        return None
    return shown(Estimate.measured("number", value, u=0.0, unit=unit)).value


def _metric(row: MetricComparison) -> dict[str, Any]:
    unit = row.difference.unit
    return {
        "name": row.name,
        "direction": row.direction or None,
        "candidate_name": row.candidate_name,
        "axis": row.axis,
        "state": row.state,
        "baseline": estimate_object(row.baseline),
        "candidate": estimate_object(row.candidate),
        "difference": estimate_object(row.difference),
        "margin": None if row.margin == 0 and not row.baseline.is_ok else _displayed(row.margin, unit),
        "verdict": row.verdict,
        "detected": row.detected,
        "low90": _displayed(row.low90, unit),
        "high90": _displayed(row.high90, unit),
        "p_difference": row.p_difference,
        "p_equivalence": row.p_equivalence,
        "p_ranks": row.p_ranks,
        "bootstrap_low90": _displayed(row.bootstrap90[0], unit) if row.bootstrap90 else None,
        "bootstrap_high90": _displayed(row.bootstrap90[1], unit) if row.bootstrap90 else None,
        "baseline_source": row.sources[0],
        "candidate_source": row.sources[1],
        "scope": row.scope,
        "why": row.why,
        "more_recordings": row.more_recordings,
        "pairs": [
            {
                "specimen": own.specimen,
                "baseline": estimate_object(own.baseline),
                "candidate": estimate_object(own.candidate),
            }
            for own in row.pairs
        ],
    }


def _link(link: ChainLink) -> dict[str, Any]:
    return {
        "specimen": link.specimen,
        "direction": link.direction,
        "link": link.link,
        "axis": link.axis,
        "state": link.state,
        "predicted": estimate_object(link.predicted),
        "measured": estimate_object(link.measured),
        "difference": estimate_object(link.difference),
        "margin": _displayed(link.margin, link.difference.unit),
        "verdict": link.verdict,
        "look_at": list(link.look_at),
    }


def _share(share: VarianceShare) -> dict[str, Any]:
    return {"source": share.source, "sd": estimate_object(share.sd), "share_fraction": share.share_fraction}


def repeatability_json(result: RepeatabilityResult) -> str:
    """Return a gauge study as one JSON document; standard deviations in display units."""
    return dump(repeatability_document(result))


def repeatability_document(result: RepeatabilityResult) -> dict[str, Any]:
    """Return the JSON object of a gauge study."""
    return {
        "schema": REPEATABILITY_SCHEMA,
        "metric": result.metric,
        "unit": shown(Estimate.measured("m", 0.0, u=0.0, unit=result.unit)).unit,
        "n_operators": result.n_operators,
        "n_specimens": result.n_specimens,
        "n_repeats": result.n_repeats,
        "anova": {name: _displayed(sd, result.unit) for name, sd in result.anova.items()},
        "average_range": {name: _displayed(sd, result.unit) for name, sd in result.average_range.items()},
        "interaction_p": result.interaction_p,
        "interaction_pooled": result.interaction_pooled,
        "n_distinct_raw": _finite(result.n_distinct_raw),
        "n_distinct": result.n_distinct,
        "shares": [_share(share) for share in result.shares],
        "dominant": result.dominant,
        "caveats": [caveat_object(caveat) for caveat in result.caveats],
    }


def _finite(number: float) -> float | None:
    return number if abs(number) < float("inf") else None
