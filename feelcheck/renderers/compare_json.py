"""The JSON documents of `feelcheck compare` and `feelcheck repeatability`."""

from __future__ import annotations

from typing import Any

from feelcheck.model import ChainLink, Comparison, Estimate, MetricComparison, RepeatabilityResult, Trace, VerdictRates
from feelcheck.renderers._format import shown
from feelcheck.renderers._json import displayed, dump, picked

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
    """Return the comparison as one JSON document.

    Parameters
    ----------
    result : Comparison
        The comparison.
    """
    return dump(compare_document(result))


def compare_document(result: Comparison) -> dict[str, Any]:
    """Return the JSON object of a comparison.

    Parameters
    ----------
    result : Comparison
        What the command gives.
    """
    return {
        "schema": COMPARE_SCHEMA,
        **picked(result, "baseline", "candidates"),
        "metrics": [_metric(row) for row in result.metrics],
        "chain": [_link(link) for link in result.chain],
        **picked(result, "sensors", "spread"),
        "rates": [_rates(row) for row in result.rates],
        "predictions": [_prediction(trace) for trace in result.traces if trace.kind == "prediction"],
        "part_changes": [
            picked(change, "candidate_name", "axis", "change", "fits", "noted", "predicted", "measured")
            for change in result.changes
        ],
        **picked(result, "caveats"),
    }


def _rates(row: VerdictRates) -> dict[str, Any]:
    shares = {"right": row.n_right / row.n, "open": row.n_open / row.n, "wrong": row.n_wrong / row.n}
    named = {f"{name}_fraction": share for name, share in shares.items()}
    return {**picked(row, "kind", "truth", "n"), **named, "wrong_at_most_fraction": row.wrong_at_most}


def _prediction(trace: Trace) -> dict[str, Any]:
    words = {"specimen": trace.labels.get("specimen"), "axis": trace.axis, "direction": trace.labels.get("direction")}
    return {**words, **{name: trace.marks[name] for name in ("inside_fraction", "mean_width_fraction")}}


def _metric(row: MetricComparison) -> dict[str, Any]:
    unit = row.difference.unit
    bootstrap90 = row.bootstrap90 or (None, None)
    return {
        "name": row.name,
        "direction": row.direction or None,
        **picked(row, "candidate_name", "axis", "state", "baseline", "candidate", "difference"),
        "margin": None if row.margin == 0 and not row.baseline.is_ok else displayed(row.margin, unit),
        **picked(row, "verdict", "detected"),
        "low90": displayed(row.low90, unit),
        "high90": displayed(row.high90, unit),
        **picked(row, "p_difference", "p_equivalence", "p_ranks"),
        "bootstrap_low90": displayed(bootstrap90[0], unit),
        "bootstrap_high90": displayed(bootstrap90[1], unit),
        "baseline_source": row.sources[0],
        "candidate_source": row.sources[1],
        **picked(row, "scope", "why", "more_recordings", "pairs"),
    }


def _link(link: ChainLink) -> dict[str, Any]:
    names = ("specimen", "direction", "link", "axis", "state", "predicted", "measured", "difference", "margin")
    margin = {"margin": displayed(link.margin, link.difference.unit)}
    return {**picked(link, *names), **margin, **picked(link, "verdict", "look_at")}


def repeatability_json(result: RepeatabilityResult) -> str:
    """Return a gauge study as one JSON document; standard deviations in display units.

    Parameters
    ----------
    result : RepeatabilityResult
        The study's result.
    """
    return dump(repeatability_document(result))


def repeatability_document(result: RepeatabilityResult) -> dict[str, Any]:
    """Return the JSON object of a gauge study.

    Parameters
    ----------
    result : RepeatabilityResult
        What the command gives.
    """
    tables = {
        name: {part: displayed(sd, result.unit) for part, sd in getattr(result, name).items()}
        for name in ("anova", "average_range")
    }
    return {
        "schema": REPEATABILITY_SCHEMA,
        "metric": result.metric,
        "unit": shown(Estimate.measured("m", 0.0, u=0.0, unit=result.unit)).unit,
        **picked(result, "n_operators", "n_specimens", "n_repeats"),
        **tables,
        **picked(result, "interaction_p", "interaction_pooled"),
        "n_distinct_raw": _finite(result.n_distinct_raw),
        **picked(result, "n_distinct", "shares", "dominant", "caveats"),
    }


def _finite(number: float) -> float | None:
    return number if abs(number) < float("inf") else None
