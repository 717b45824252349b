"""The suite of sources: what is registered, what one yields, and that it can be let go of."""

from __future__ import annotations

import itertools

import pytest

from feelcheck.errors import SourceError
from feelcheck.model import Action, Script, Source, SourceEvent, SourceKind, SourceOptions, Step

SECONDS = 1.0
"""What is recorded of a source."""
BATCHES = 100_000
"""Where a source that does not end is given up."""


def _options() -> SourceOptions:
    steps = (Step(action=Action.REST, duration_s=SECONDS), Step(action=Action.FLICK, duration_s=SECONDS))
    return SourceOptions(
        script=Script(name="short", title="A short one", steps=steps), simulate="alder", seed=1, seconds=SECONDS
    )


def _opened(kind: SourceKind) -> Source:
    """Return the source with its device in hand; skip where there is none."""
    try:
        source = kind.make(_options())
        source.open()
    except SourceError as missing:
        pytest.skip(f"no device here: {str(missing).splitlines()[0]}")
    return source


def test_it_says_what_it_is(source_kind: SourceKind) -> None:
    """The list of plugins shows a name and one line."""
    assert isinstance(source_kind, SourceKind)
    assert source_kind.name.isidentifier()
    assert source_kind.about.strip()
    assert "\n" not in source_kind.about


def test_its_events_are_in_order(source_kind: SourceKind) -> None:
    """No axis goes back in time, both ends of a bracket are in order, names are words and values whole numbers."""
    source = _opened(source_kind)
    try:
        assert isinstance(source, Source)
        facts = source.describe()
        assert isinstance(facts, dict)
        events = list(itertools.islice(_until(source), 20_000))
    finally:
        source.close()
        source.close()
    for axis in {name for _, _, kind, name, _ in events if kind == "axis"}:
        seen = [high for _, high, kind, name, _ in events if (kind, name) == ("axis", axis)]
        assert seen == sorted(seen), axis
    assert all(low <= high for low, high, *_ in events)
    assert all(isinstance(name, str) and isinstance(value, int) for *_, name, value in events)
    assert {kind for _, _, kind, _, _ in events} <= {"axis", "button", "cue", "gap", "note"}


def _until(source: Source) -> list[SourceEvent]:
    """Return the first second of a source's events."""
    found: list[SourceEvent] = []
    for batch in itertools.islice(source.events(), BATCHES):
        found += batch
        if found and found[-1][0] - found[0][0] > SECONDS * 1e9:
            break
    return found
