"""A source: a weight that hangs on the stick and swings, as a second opinion on time stamps."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from feelcheck.model import Source, SourceEvent, SourceKind, SourceOptions

__all__ = ["PENDULUM"]

REACH = 2000
REPORT_NS = 4_000_000
SWING_S = 0.7


class Pendulum:
    """A swing that dies out, reported every 4 ms."""

    name = "pendulum"

    def __init__(self, seconds: float) -> None:
        self._n = int(seconds * 1e9 / REPORT_NS)
        self._open = False

    def open(self) -> None:
        """Let it swing."""
        self._open = True

    def describe(self) -> dict[str, Any]:
        """Return what the session header records."""
        axis = {"name": "left_x", "centre": 0, "reach": REACH, "unit": "counts", "stick": "left"}
        return {"device": "pendulum", "backend": "larch-bench", "axes": [axis], "clock": "model", "simulated": True}

    def events(self) -> Iterator[list[SourceEvent]]:
        """Yield each report."""
        for k in range(self._n):
            if not self._open:
                return
            t_s = k * REPORT_NS * 1e-9
            code = round(REACH * math.exp(-t_s / 5) * math.sin(2 * math.pi * t_s / SWING_S))
            yield [(k * REPORT_NS, k * REPORT_NS, "axis", "left_x", code)]

    def close(self) -> None:
        """Hold it."""
        self._open = False


def _make(options: SourceOptions) -> Source:
    return Pendulum(options.seconds or options.script.duration_s)


PENDULUM = SourceKind(name="pendulum", about="a weight that swings on the stick", make=_make, realtime=False)
