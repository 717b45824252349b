"""The JSON document of `feelcheck analyze` (schema feelcheck.hand/1)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from feelcheck.model import Estimate, Gap, HandResult, Placement
from feelcheck.renderers._json import dump, encoded, picked

__all__ = ["HAND_SCHEMA", "hand_document", "hand_json", "swapped_object"]

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
    among = {} if placed is None else {"population": encoded(list(placed))}
    if len(documents) == 1:
        return dump({**documents[0], **among})
    if swapped is not None:
        among = {"lag": swapped_object(*swapped), **among}
    return dump({"schema": HAND_SCHEMA, "results": documents, **among})


def hand_document(result: HandResult) -> dict[str, Any]:
    """Return the JSON object of one in-hand result.

    Parameters
    ----------
    result : HandResult
        The result.
    """
    provenance = result.recording.provenance
    return {
        "schema": HAND_SCHEMA,
        "source": {
            **picked(provenance, "path", "format"),
            **picked(result, "n_reports", "duration_s"),
            "axes": list(result.axes),
            **picked(provenance, "specimen", "state", "simulated", "complete", "sha256", "remarks", "facts"),
        },
        "timing": {**encoded(result.timing), "gaps": [_gap(gap) for gap in result.timing.gaps]},
        **picked(result, "axes", "release", "flicks", "caveats", "lag"),
    }


def _gap(gap: Gap) -> dict[str, Any]:
    return {"start_s": gap.start_s, "duration_ms": (gap.end_s - gap.start_s) * 1e3, "reason": gap.reason}


def swapped_object(sensors: Estimate, ports: Estimate) -> dict[str, Any]:
    """Return the JSON object of two recordings with ports swapped: the sensors' delay, and the ports'.

    Parameters
    ----------
    sensors : Estimate
        Delay of the second sensor behind the first.
    ports : Estimate
        Delay of the second port behind the first.
    """
    return {"coupled_swapped": {"delay": encoded(sensors), "port_delay": encoded(ports)}}
