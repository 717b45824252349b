"""The four families of plugins, as the shapes they must have."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol, runtime_checkable

from feelcheck.model.hand import HandView, MetricOutput
from feelcheck.model.recording import Recording

__all__ = ["LogReader", "Metric", "Renderer", "Source", "SourceEvent"]

SourceEvent = tuple[int, int, str, str, int]
"""``(t_lo_ns, t_hi_ns, kind, name, value)``: one row of a session's events file, without the guard column."""


@runtime_checkable
class Source(Protocol):
    """Something that yields stick events: a pad, a simulated world, a replay.

    `open` may raise SourceError; `events` yields lists of events (possibly empty, so that the caller can look at the
    clock) until the source ends or `close` is called; `describe` gives what the session header records.
    """

    name: str

    def open(self) -> None:
        """Take hold of the device."""

    def describe(self) -> dict[str, Any]:
        """Return what the session header records: device name, GUID, backend, hints, axes, clock, simulated."""

    def events(self) -> Iterator[list[SourceEvent]]:
        """Yield batches of events in time order."""

    def close(self) -> None:
        """Let go of the device; safe to call twice."""


@runtime_checkable
class LogReader(Protocol):
    """A reader of in-hand logs.

    `claims` says how sure the reader is that the path is its own, from 0 (not mine) to 1, by looking at no more than
    the first 64 KiB; `read` returns the recording or raises FormatError.
    """

    name: str

    def claims(self, path: Path) -> float:
        """Return how sure this reader is that it can read `path`."""

    def read(self, path: Path, **options: Any) -> Recording:
        """Return the recording."""


@runtime_checkable
class Metric(Protocol):
    """An in-hand metric: looks at a prepared view, returns findings."""

    name: str

    def measure(self, view: HandView) -> MetricOutput:
        """Return what this metric can say; never raises on thin data, says not_resolved instead."""


@runtime_checkable
class Renderer(Protocol):
    """Turns a result into text or a file."""

    name: str
    suffix: str

    def render(self, result: Any) -> str | bytes:
        """Return the rendered document."""
