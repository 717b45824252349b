"""The JSON document of a recording: what was read, without its samples (schema feelcheck.recording/1)."""

from __future__ import annotations

from typing import Any

from feelcheck.model import Recording

__all__ = ["RECORDING_SCHEMA", "recording_document"]

RECORDING_SCHEMA = "feelcheck.recording/1"


def recording_document(recording: Recording) -> dict[str, Any]:
    """Return the JSON object of a recording."""
    provenance = recording.provenance
    return {
        "schema": RECORDING_SCHEMA,
        "source": {
            "path": provenance.path,
            "format": provenance.format,
            "specimen": provenance.specimen,
            "state": provenance.state,
            "simulated": provenance.simulated,
            "complete": provenance.complete,
            "sha256": provenance.sha256,
            "remarks": list(provenance.remarks),
            "facts": dict(provenance.facts),
        },
        "axes": {
            stream.name: {
                "n_codes": int(stream.codes.size),
                "duration_s": stream.time.duration_s,
                "clock": stream.time.clock,
                "unit": stream.scale.unit,
                "centre": stream.scale.centre,
                "reach": stream.scale.reach,
                "reports": stream.reports,
            }
            for stream in recording.streams
        },
        "sticks": [{"stick": stick.stick, "x": stick.x, "y": stick.y} for stick in recording.sticks],
        "buttons": sorted({event.name for event in recording.buttons}),
        "n_cues": len(recording.cues),
        "gaps": [{"start_s": gap.start_s, "end_s": gap.end_s, "reason": gap.reason} for gap in recording.gaps],
    }
