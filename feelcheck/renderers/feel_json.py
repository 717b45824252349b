"""The JSON of `feelcheck feel`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from feelcheck.model import EvidenceNote, FeelResult
from feelcheck.renderers._json import caveat_object, dump, estimate_object

__all__ = ["FEEL_SCHEMA", "feel_document", "feel_json"]

FEEL_SCHEMA = "feelcheck.feel/1"


def feel_json(results: Sequence[FeelResult]) -> str:
    """Return one JSON document; a list under ``results`` for several specimens."""
    documents = [feel_document(result) for result in results]
    return dump(documents[0] if len(documents) == 1 else {"schema": FEEL_SCHEMA, "results": documents})


def feel_document(result: FeelResult) -> dict[str, Any]:
    """Return the JSON object of one specimen."""
    play = result.play
    return {
        "schema": FEEL_SCHEMA,
        "specimen": result.specimen,
        "play": {name: getattr(play, name) for name in play.__dataclass_fields__},
        "axes": [
            {
                "axis": axis.axis,
                "state": axis.state,
                "origin": axis.origin,
                "plane": axis.plane,
                "estimates": {name: estimate_object(estimate) for name, estimate in axis.estimates.items()},
                "notes": [_note(note) for note in axis.notes],
                "caveats": [caveat_object(caveat) for caveat in axis.caveats],
            }
            for axis in result.axes
        ],
        "difference": None if result.difference is None else estimate_object(result.difference),
        "difference_at": result.difference_at,
        "notes": [_note(note) for note in result.notes],
        "caveats": [caveat_object(caveat) for caveat in result.caveats],
        "cautions": list(result.cautions),
    }


def _note(note: EvidenceNote) -> dict[str, Any]:
    return {name: getattr(note, name) for name in note.__dataclass_fields__}
