"""A recording played again as a source of events."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

from feelcheck.errors import SourceError
from feelcheck.model import Recording, SourceEvent
from feelcheck.sources.synthetic import recording_events

__all__ = ["ReplaySource"]

_WAIT_S = 0.002


class ReplaySource:
    """Plays a recording at its own pace, faster, or at once.

    Parameters
    ----------
    recording : Recording
        What is played; its codes must be whole counts.
    pace : float
        How many recorded seconds pass in one second; 0 plays everything at once.

    Raises
    ------
    SourceError
        If the recording is in fractions or the pace is negative.
    """

    name = "replay"

    def __init__(self, recording: Recording, pace: float = 1.0) -> None:
        in_fractions = [stream.name for stream in recording.streams if stream.codes.dtype.kind != "i"]
        if in_fractions:
            raise SourceError(
                "A replay needs a recording in whole counts.", {"in fractions": ", ".join(in_fractions)}, "Record one."
            )
        if not pace >= 0:
            raise SourceError("The pace of a replay cannot be negative.", {"got": pace}, "Give 0, 1 or more.")
        self.recording, self.pace = recording, pace
        self._rows: list[SourceEvent] = []
        self._open = False

    def open(self) -> None:
        """Order the recording's events."""
        gaps = [(round(g.start_s * 1e9), round(g.end_s * 1e9), "gap", g.reason, 0) for g in self.recording.gaps]
        self._rows = sorted([*recording_events(self.recording), *gaps], key=lambda row: row[1])
        self._open = True

    def describe(self) -> dict[str, Any]:
        """Return what the session header records."""
        sticks = {name: pair.stick for pair in self.recording.sticks for name in (pair.x, pair.y) if name}
        origin = self.recording.provenance
        streams = self.recording.streams
        return {
            "device": f"replay of {origin.path or origin.specimen or 'a recording'}",
            "guid": "",
            "backend": "replay",
            "hints": {},
            "clock": streams[0].time.clock if streams else "log",
            "simulated": origin.simulated,
            "truth": dict(self.recording.truth),
            "axes": [
                {
                    "name": stream.name,
                    "index": k,
                    "stick": sticks.get(stream.name, ""),
                    "centre": stream.scale.centre,
                    "reach": stream.scale.reach,
                    "unit": stream.scale.unit,
                }
                for k, stream in enumerate(streams)
            ],
        }

    def events(self) -> Iterator[list[SourceEvent]]:
        """Yield the recorded events when they are due, with their own stamps."""
        first_ns = self._rows[0][1] if self._rows else 0
        start_ns, k = time.perf_counter_ns(), 0
        while self._open and k < len(self._rows):
            until = len(self._rows)
            if self.pace > 0:
                played_ns = first_ns + (time.perf_counter_ns() - start_ns) * self.pace
                until = k
                while until < len(self._rows) and self._rows[until][1] <= played_ns:
                    until += 1
            yield self._rows[k:until]
            if until == k:
                time.sleep(_WAIT_S)
            k = until

    def close(self) -> None:
        """Stop; safe to call twice."""
        self._open = False
