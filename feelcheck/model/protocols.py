"""The families of plugins, as the shapes they must have; a flick script is a `Script`, or a function giving one."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol, runtime_checkable

from feelcheck.model.bench import Capture
from feelcheck.model.hand import HandView, MetricOutput
from feelcheck.model.recording import Recording
from feelcheck.model.script import Script, Step

__all__ = [
    "BoardPattern",
    "CaptureReader",
    "Listener",
    "LogReader",
    "Metric",
    "Mover",
    "Renderer",
    "Source",
    "SourceEvent",
    "SourceKind",
    "SourceOptions",
]

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
class Listener(Protocol):
    """A source whose simulated person hears what is asked while it is recorded."""

    def hear(self, t_ns: int, step: Step) -> None:
        """Take one request; returns at once.

        Parameters
        ----------
        t_ns : int, ns
            When it was shown, on the recording's clock.
        step : Step
            What is asked.
        """


@runtime_checkable
class Mover(Protocol):
    """A source whose simulated person does what it is told to."""

    def do(self, order: Mapping[str, Any]) -> None:
        """Take one order; returns at once.

        Parameters
        ----------
        order : mapping
            Such as where to hold the stick, or which button to press.
        """


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceOptions:
    """What a recording asks of a source; each takes what concerns it.

    Parameters
    ----------
    script : Script
        What the person is asked to do.
    simulate : str
        Name of the simulated world.
    seed : int
        Seed of everything that a simulated world draws.
    seconds : float or None
        Where to stop, if before the script's end.
    low_power : bool
        Rest between polls instead of polling as often as possible.
    device : str
        Which pad, by part of its name or by number; or which recording a replay plays.
    led : bool
        Whether a simulated person waits for requests instead of playing the script by itself.
    """

    script: Script
    simulate: str = ""
    seed: int = 0
    seconds: float | None = None
    low_power: bool = False
    device: str = ""
    led: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceKind:
    """A source that a plugin offers: what stands behind an entry point of the sources.

    Parameters
    ----------
    name : str
        As in ``--source``.
    about : str
        One line for the list of plugins.
    make : callable
        Returns the source for the given options; heavy libraries are imported only here.
    realtime : bool
        Whether it goes in real time and so needs a process of its own; else it is read as fast as it goes.
    gives_cues : bool
        Whether its events hold the script's cues already.
    led : bool
        Whether its simulated person can also be asked for one action at a time, as a real one is: the source then is a
        `Listener` where its options say so.
    """

    name: str
    about: str
    make: Callable[[SourceOptions], Source]
    realtime: bool = True
    gives_cues: bool = False
    led: bool = False


class _Reader(Protocol):
    """What readers of logs and of captures share."""

    name: str

    def claims(self, path: Path) -> float:
        """Return how sure this reader is that it can read a path, from 0 to 1.

        Parameters
        ----------
        path : Path
            A file or folder; no more than its first 64 KiB are looked at.
        """


@runtime_checkable
class LogReader(_Reader, Protocol):
    """A reader of in-hand logs."""

    def read(self, path: Path, **options: Any) -> Recording:
        """Return the recording.

        Parameters
        ----------
        path : Path
            What `claims` was asked of.
        **options
            What the user states of it: ``time``, ``time_unit``, ``rate_hz``, ``axes``, ``full_scale``.

        Raises
        ------
        FormatError
            If the path holds no such log; its text says what is wrong and what to do.
        """


@runtime_checkable
class CaptureReader(_Reader, Protocol):
    """A reader of scope captures."""

    def read(self, path: Path, **options: Any) -> Capture:
        """Return the capture.

        Parameters
        ----------
        path : Path
            What `claims` was asked of.
        **options
            What the user states of it: ``drive``, ``output``, ``time``, ``time_unit``, ``interval_s``.

        Raises
        ------
        FormatError
            If the path holds no such capture; its text says what is wrong and what to do.
        """


@runtime_checkable
class Metric(Protocol):
    """An in-hand metric: looks at a prepared view, returns findings.

    One with an attribute `numbers`, a module of `feelcheck.model.numbers`, has `feelcheck why` tell what decided.
    """

    name: str

    def measure(self, view: HandView) -> MetricOutput:
        """Return what this metric can say; never raises on thin data, says not_resolved instead.

        Parameters
        ----------
        view : HandView
            The recording with its clock, sticks and segments; the same for every metric, and not to be changed.
        """


@runtime_checkable
class Renderer(Protocol):
    """Turns a result into a document: ``--as NAME``.

    `takes` names the results it understands, of ``"hand"`` (one HandResult or more), ``"bench"`` (one BenchResult or
    more), ``"comparison"`` (a Comparison) and ``"report"`` (a Report); `suffix` ends the files it makes.
    """

    name: str
    takes: Collection[str]
    suffix: str

    def render(self, result: Any) -> str | bytes:
        """Return the document.

        Parameters
        ----------
        result : sequence of HandResult or of BenchResult, Comparison or Report
            Of a kind that `takes` names.
        """


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPattern:
    """Parts that a kind of board has where nobody has looked yet: ``feelcheck parts --board NAME``.

    Parameters
    ----------
    name, about : str
        As in ``--board``, and one line for a person.
    parts : Mapping[str, str]
        Options of ``feelcheck parts`` without their dashes, with values as a person types them; what is typed beside
        ``--board`` stands in their place.

    Examples
    --------
    >>> BoardPattern(name="club", about="a plain filter", parts={"resistor": "4.7k"}).parts["resistor"]
    '4.7k'
    """

    name: str
    about: str
    parts: Mapping[str, str]
