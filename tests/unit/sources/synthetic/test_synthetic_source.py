"""The simulated world as a source."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from feelcheck.errors import SourceError
from feelcheck.model import Cue, Source, SourceEvent
from feelcheck.sources.synthetic import SyntheticSource, quick_script

SCRIPT = quick_script(1, np.random.default_rng(1), rest_s=0.7)


def rows(source: SyntheticSource) -> list[SourceEvent]:
    source.open()
    try:
        return [row for batch in source.events() for row in batch]
    finally:
        source.close()


def test_it_is_a_source() -> None:
    assert isinstance(SyntheticSource("alder", SCRIPT, 1), Source)


def test_rows_are_in_order_bracketed_and_of_known_kinds() -> None:
    events = rows(SyntheticSource("alder", SCRIPT, 1))
    assert all(lo <= hi for lo, hi, *_ in events)
    assert all(one[1] <= two[1] for one, two in itertools.pairwise(events))
    assert {kind for _, _, kind, _, _ in events} == {"axis", "cue"}
    assert {name for _, _, kind, name, _ in events if kind == "axis"} == {"left_x", "left_y", "right_x", "right_y"}


def test_cues_can_be_read_back() -> None:
    cues = [Cue.parse(row[3], row[1] * 1e-9) for row in rows(SyntheticSource("elm", SCRIPT, 1)) if row[2] == "cue"]
    assert [cue.action for cue in cues] == [step.action for step in SCRIPT.steps]
    assert cues[1].t_s == pytest.approx(0.7)


def test_seconds_end_it_early() -> None:
    events = rows(SyntheticSource("alder", SCRIPT, 1, seconds=1.0))
    assert 0.9e9 < events[-1][1] <= 1.0e9


def test_the_seed_decides() -> None:
    assert rows(SyntheticSource("alder", SCRIPT, 1)) == rows(SyntheticSource("alder", SCRIPT, 1))
    assert rows(SyntheticSource("alder", SCRIPT, 1)) != rows(SyntheticSource("alder", SCRIPT, 2))


def test_it_says_that_it_is_simulated() -> None:
    facts = SyntheticSource("birch", SCRIPT, 9).describe()
    assert facts["simulated"] is True
    assert (facts["device"], facts["seed"], facts["clock"]) == ("birch", 9, "model")
    assert [axis["name"] for axis in facts["axes"]] == ["left_x", "left_y", "right_x", "right_y"]


def test_closing_stops_it_and_may_be_repeated() -> None:
    source = SyntheticSource("alder", SCRIPT, 1)
    assert list(source.events()) == []
    source.open()
    batches = source.events()
    next(batches)
    source.close()
    source.close()
    assert list(batches) == []


def test_an_unknown_world_is_refused_at_once() -> None:
    with pytest.raises(SourceError, match="no simulated world"):
        SyntheticSource("willow", SCRIPT, 1)
