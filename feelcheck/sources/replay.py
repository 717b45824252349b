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
    seconds : float or None, s
        Where to stop, counted from the first event.

    Raises
    ------
    SourceError
        If the recording is in fractions or the pace is negative.
    """

    name = "replay"

    def __init__(self, recording: Recording, pace: float = 1.0, *, seconds: float | None = None) -> None:
        in_fractions = [stream.name for stream in recording.streams if stream.codes.dtype.kind != "i"]
        if in_fractions:
            raise SourceError(
                "A replay needs a recording in whole counts.", {"in fractions": ", ".join(in_fractions)}, "Record one."
            )
        if not pace >= 0:
            raise SourceError("The pace of a replay cannot be negative.", {"got": pace}, "Give 0, 1 or more.")
        self.recording, self.pace = recording, pace
        gaps = [(round(g.start_s * 1e9), round(g.end_s * 1e9), "gap", g.reason, 0) for g in recording.gaps]
        rows: list[SourceEvent] = sorted([*recording_events(recording), *gaps], key=lambda row: row[1])
        last_ns = rows[0][1] + round(seconds * 1e9) if rows and seconds is not None else None
        self._rows = rows if last_ns is None else [row for row in rows if row[1] <= last_ns]
        self._open = False

    @property
    def duration_s(self) -> float:
        """From the first event to the last, s."""
        return (self._rows[-1][1] - self._rows[0][1]) * 1e-9 if self._rows else 0.0

    def open(self) -> None:
        """Be ready to play."""
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
