"""A simulated world as a source of events, as fast as it goes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from feelcheck.model import Recording, Script, SourceEvent
from feelcheck.sources.synthetic.named import staged_world
from feelcheck.sources.synthetic.world import simulate_recording

__all__ = ["SyntheticSource", "recording_events"]

BATCH = 2000


def recording_events(recording: Recording) -> list[SourceEvent]:
    """Return a recording as rows of a session's events file, in time order.

    Streams contribute one ``axis`` row for each sample, cues and buttons theirs; among equal times a cue comes first.

    Parameters
    ----------
    recording : Recording
        The recording.
    """
    rows: list[SourceEvent] = [(_ns(cue.t_s), _ns(cue.t_s), "cue", cue.text, 0) for cue in recording.cues]
    for button in recording.buttons:
        rows.append((_ns(button.t_lo_s), _ns(button.t_hi_s), "button", button.name, button.value))
    for stream in recording.streams:
        lows = np.rint(stream.time.t_lo_s * 1e9).astype(np.int64).tolist()
        highs = np.rint(stream.time.t_hi_s * 1e9).astype(np.int64).tolist()
        codes = stream.codes.tolist()
        rows += [(lo, hi, "axis", stream.name, code) for lo, hi, code in zip(lows, highs, codes, strict=True)]
    rows.sort(key=lambda row: row[1])
    return rows


def _ns(t_s: float) -> int:
    return round(t_s * 1e9)


class SyntheticSource:
    """A named world followed by a simulated person: a source without hardware, device library or waiting.

    Parameters
    ----------
    world_name : str
        One of `world_names`.
    script : Script
        What the person is asked to do.
    seed : int
        Seed of everything that is drawn.
    seconds : float or None
        Where to stop, if before the script's end.
    """

    name = "synthetic"

    def __init__(self, world_name: str, script: Script, seed: int, seconds: float | None = None) -> None:
        self.world = staged_world(world_name, script.name)
        self.script, self.seed, self.seconds = script, seed, seconds
        self.recording: Recording | None = None
        self._open = False

    def open(self) -> None:
        """Simulate the recording."""
        self.recording = simulate_recording(self.world, self.script, np.random.default_rng(self.seed))
        self._open = True

    def describe(self) -> dict[str, Any]:
        """Return what the session header records."""
        return {
            "device": self.world.name,
            "guid": "",
            "backend": "synthetic",
            "hints": {},
            "axes": [
                {"name": name, "centre": 0, "reach": 32767, "unit": "counts", "stick": name.rpartition("_")[0]}
                for name in self.world.axis_names
            ],
            "clock": "model",
            "simulated": True,
            "seed": self.seed,
            "world": self.world.name,
        }

    def events(self) -> Iterator[list[SourceEvent]]:
        """Yield batches of events in time order."""
        if self.recording is None:
            return
        rows = recording_events(self.recording)
        if self.seconds is not None:
            last = _ns(self.seconds)
            rows = [row for row in rows if row[1] <= last]
        for first in range(0, len(rows), BATCH):
            if not self._open:
                return
            yield rows[first : first + BATCH]

    def close(self) -> None:
        """Stop; safe to call twice."""
        self._open = False
