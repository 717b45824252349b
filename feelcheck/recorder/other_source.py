"""A source of another package at arm's length: whatever it does wrong ends the recording with one message."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from numbers import Integral
from typing import Any, TypeVar

from feelcheck.errors import SourceError
from feelcheck.guarding import NonsenseError, required
from feelcheck.model import Source, SourceKind, SourceOptions
from feelcheck.plugins import Plugin

__all__ = ["OtherSource", "source_of", "told_whose"]

T = TypeVar("T")
CELLS = (Integral, Integral, str, str, Integral)
"""Of an event: both ends of its instant, kind, name, value."""
END = object()


def source_of(plugin: Plugin, kind: SourceKind, options: SourceOptions) -> Source:
    """Return the source that a plugin makes: the tool's own as it is, another package's at arm's length.

    Parameters
    ----------
    plugin : Plugin
        Whose it is.
    kind : SourceKind
        What makes it.
    options : SourceOptions
        What is asked of it.

    Raises
    ------
    PluginError
        If making it fails, or what comes is no source.
    """
    if plugin.is_own:
        return kind.make(options)
    return OtherSource(plugin, required(plugin, lambda: kind.make(options), _check_source))


@contextmanager
def told_whose(plugin: Plugin) -> Iterator[None]:
    """Name another package in the errors of a source of its own that a process of its own reads.

    Parameters
    ----------
    plugin : Plugin
        Whose source is recorded inside the block.

    Raises
    ------
    SourceError
        As inside, with the plugin among the facts.
    """
    try:
        yield
    except SourceError as problem:
        if plugin.is_own:
            raise
        raise SourceError(problem.sentence, {"plugin": plugin.whose, **problem.facts}, problem.next_step) from None


class OtherSource:
    """A source of another package; it is told while it is waited for.

    Parameters
    ----------
    plugin : Plugin
        Whose it is.
    source : Source
        The source.
    """

    def __init__(self, plugin: Plugin, source: Source) -> None:
        self.name = source.name
        self._plugin, self._source = plugin, source

    def open(self) -> None:
        """Take hold of the device; raises PluginError where that fails."""
        self._asked(self._source.open)

    def describe(self) -> dict[str, Any]:
        """Return what the session header records; raises PluginError where that is no description."""
        return dict(self._asked(self._source.describe, _check_described))

    def events(self) -> Iterator[Any]:
        """Yield its batches; raises PluginError where one is none."""
        batches = self._asked(lambda: iter(self._source.events()))
        while (batch := self._asked(lambda: next(batches, END), _check_batch)) is not END:
            yield batch

    def close(self) -> None:
        """Let go of the device; raises PluginError where that fails."""
        self._asked(self._source.close)

    def _asked(self, call: Callable[[], T], check: Callable[[T], None] = lambda _: None) -> T:
        return required(self._plugin, call, check)


def _check_source(source: object) -> None:
    if not isinstance(source, Source):
        raise NonsenseError(f"it makes {type(source).__name__}, not a source")


def _check_described(described: object) -> None:
    if not isinstance(described, Mapping):
        raise NonsenseError(f"it describes itself by {type(described).__name__}, not a mapping")


def _check_batch(batch: object) -> None:
    """Refuse what is no list of rows of an events file."""
    if batch is not END and not (isinstance(batch, list) and all(map(_is_event, batch))):
        raise NonsenseError("it gives no list of events (t_lo_ns, t_hi_ns, kind, name, value)")


def _is_event(event: object) -> bool:
    if not isinstance(event, tuple) or len(event) != len(CELLS):
        return False
    return all(map(isinstance, event, CELLS)) and bool(event[0] <= event[1])
