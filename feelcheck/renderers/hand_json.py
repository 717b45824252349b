"""The JSON document of `feelcheck analyze` (schema feelcheck.hand/1)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from feelcheck.model import AxisResult, DirectionResponse, Estimate, HandResult, Placement, RimBracket
from feelcheck.renderers._json import caveat_object, dump, estimate_object
from feelcheck.renderers.lag_json import lag_object, swapped_object
from feelcheck.renderers.survey_text import placement_object

__all__ = ["HAND_SCHEMA", "hand_document", "hand_json"]

HAND_SCHEMA = "feelcheck.hand/1"


def hand_json(
    results: Sequence[HandResult],
    swapped: tuple[Estimate, Estimate] | None = None,
    placed: Sequence[Placement] | None = None,
) -> str:
    """Return one JSON document for one result, or a list under ``results`` for several.

    Parameters
    ----------
    results : sequence of HandResult
        The recordings.
    swapped : (Estimate, Estimate) or None
        Delay of tied sensors and of their ports from two of the recordings, under ``lag``.
    placed : sequence of Placement or None
        Where they lie among the sticks of a table, under ``population``.
    """
    documents = [hand_document(result) for result in results]
    among = {} if placed is None else {"population": [placement_object(one) for one in placed]}
    if len(documents) == 1:
        return dump({**documents[0], **among})
    over_all = among if swapped is None else {"lag": swapped_object(*swapped), **among}
    return dump({"schema": HAND_SCHEMA, "results": documents, **over_all})


def hand_document(result: HandResult) -> dict[str, Any]:
    """Return the JSON object of one in-hand result."""
    timing = result.timing
    return {
        "schema": HAND_SCHEMA,
        "source": _source(result),
        "timing": {
            "report_interval": estimate_object(timing.report_interval),
            "host_jitter": estimate_object(timing.host_jitter),
            "lost_report_fraction": estimate_object(timing.lost_report_fraction),
            "gaps": [
                {"start_s": gap.start_s, "duration_ms": (gap.end_s - gap.start_s) * 1e3, "reason": gap.reason}
                for gap in timing.gaps
            ],
            **{name: estimate_object(estimate) for name, estimate in timing.extra.items()},
        },
        "axes": {name: _axis(axis) for name, axis in result.axes.items()},
        "release": {name: estimate_object(estimate) for name, estimate in result.release.items()},
        "flicks": [
            {
                "start_s": flick.start_s,
                "direction_deg": flick.direction_deg,
                "kind": flick.kind,
                "used": flick.used,
                "why_not": flick.why_not,
                "stick": flick.stick,
            }
            for flick in result.flicks
        ],
        "caveats": [caveat_object(caveat) for caveat in result.caveats],
        "lag": None if result.lag is None else lag_object(result.lag),
    }


def _source(result: HandResult) -> dict[str, Any]:
    provenance = result.recording.provenance
    return {
        "path": provenance.path,
        "format": provenance.format,
        "n_reports": result.n_reports,
        "duration_s": result.duration_s,
        "axes": list(result.axes),
        "specimen": provenance.specimen,
        "state": provenance.state,
        "simulated": provenance.simulated,
        "complete": provenance.complete,
        "sha256": provenance.sha256,
        "remarks": list(provenance.remarks),
        "facts": dict(provenance.facts),
    }


def _axis(axis: AxisResult) -> dict[str, Any]:
    return {
        "quantization_step": estimate_object(axis.quantization_step),
        "resolution": estimate_object(axis.resolution),
        "rest_noise": estimate_object(axis.rest_noise),
        "return_error": estimate_object(axis.return_error),
        "dead_zone": estimate_object(axis.dead_zone),
        "update_interval": estimate_object(axis.update_interval),
        "polarity": axis.polarity,
        "rising": _direction(axis.rising),
        "falling": _direction(axis.falling),
        "asymmetry": estimate_object(axis.asymmetry),
        **{name: estimate_object(estimate) for name, estimate in axis.extra.items()},
    }


def _direction(response: DirectionResponse) -> dict[str, Any]:
    return {
        "time_constant": estimate_object(response.time_constant),
        "poles": [estimate_object(pole) for pole in response.poles],
        "transition_10_90": estimate_object(response.transition_10_90),
        "smoothing_delay": estimate_object(response.smoothing_delay),
        "mean_delay": estimate_object(response.mean_delay),
        "model": response.model,
        "rim_bracket": _bracket(response.rim_bracket),
        **{name: estimate_object(estimate) for name, estimate in response.extra.items()},
    }


def _bracket(bracket: RimBracket | None) -> dict[str, Any] | None:
    """Return what the rim allows, in ms; None where no flick says anything."""
    if bracket is None:
        return None
    low, high = (None if bound_s is None else 1e3 * bound_s for bound_s in (bracket.low_s, bracket.high_s))
    return {"family": bracket.family, "low": low, "high": high, "n": bracket.n}
