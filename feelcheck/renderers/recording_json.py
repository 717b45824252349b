"""The JSON document of a recording: what was read, without its samples (schema feelcheck.recording/1)."""

from __future__ import annotations

from typing import Any

from feelcheck.model import Recording, Stream
from feelcheck.renderers._json import encoded, picked

__all__ = ["RECORDING_SCHEMA", "recording_document"]

RECORDING_SCHEMA = "feelcheck.recording/1"


def recording_document(recording: Recording) -> dict[str, Any]:
    """Return the JSON object of a recording."""
    source = ("path", "format", "specimen", "state", "simulated", "complete", "sha256", "remarks", "facts")
    return {
        "schema": RECORDING_SCHEMA,
        "source": picked(recording.provenance, *source),
        "axes": {stream.name: _stream(stream) for stream in recording.streams},
        "sticks": encoded(recording.sticks),
        "buttons": sorted({event.name for event in recording.buttons}),
        "n_cues": len(recording.cues),
        "gaps": encoded(recording.gaps),
    }


def _stream(stream: Stream) -> dict[str, Any]:
    return {
        "n_codes": int(stream.codes.size),
        **picked(stream.time, "duration_s", "clock"),
        **picked(stream.scale, "unit", "centre", "reach"),
        "reports": stream.reports,
    }
