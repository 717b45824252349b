"""A recording played again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from feelcheck.errors import SourceError
from feelcheck.model import (
    Action,
    Cue,
    Gap,
    Provenance,
    Recording,
    Source,
    SourceKind,
    SourceOptions,
    StickAxes,
    Stream,
    TimeBase,
)
from feelcheck.model import Script as FlickScript
from feelcheck.sources.kinds import GAMEPAD, SYNTHETIC, VIRTUAL
from feelcheck.sources.replay import ReplaySource

TIME = TimeBase(t_lo_s=np.array([0.0, 0.01, 0.02]), t_hi_s=np.array([0.001, 0.011, 0.021]), clock="host")
RECORDING = Recording(
    streams=(Stream(name="left_x", time=TIME, codes=np.array([1, 2, 3])),),
    sticks=(StickAxes(stick="left", x="left_x", y=""),),
    cues=(Cue(t_s=0.005, action=Action.FLICK, stick="left", direction_deg=45.0),),
    gaps=(Gap(start_s=0.015, end_s=0.016, reason="unplugged"),),
    provenance=Provenance(specimen="alder", simulated=True),
)


@pytest.mark.parametrize("pace", [0.0, 1.0, 4.0])
def test_every_event_comes_back_in_order(pace: float) -> None:
    source = ReplaySource(RECORDING, pace)
    assert isinstance(source, Source)
    source.open()
    rows = [row for batch in source.events() for row in batch]
    source.close()
    assert rows == [
        (0, 1_000_000, "axis", "left_x", 1),
        (5_000_000, 5_000_000, "cue", "flick stick=left direction_deg=45", 0),
        (10_000_000, 11_000_000, "axis", "left_x", 2),
        (15_000_000, 16_000_000, "gap", "unplugged", 0),
        (20_000_000, 21_000_000, "axis", "left_x", 3),
    ]


def test_the_header_keeps_what_the_recording_said() -> None:
    described = ReplaySource(RECORDING).describe()
    assert (described["clock"], described["simulated"], described["backend"]) == ("host", True, "replay")
    assert described["axes"][0]["stick"] == "left"


def test_closing_ends_it() -> None:
    source = ReplaySource(RECORDING, 0.001)
    source.open()
    batches = source.events()
    next(batches)
    source.close()
    assert list(batches) == []


def test_what_cannot_be_played_is_refused() -> None:
    fractions = replace(RECORDING.streams[0], codes=np.array([0.1, 0.2, 0.3]))
    with pytest.raises(SourceError, match="whole counts"):
        ReplaySource(replace(RECORDING, streams=(fractions,)))
    with pytest.raises(SourceError, match="pace"):
        ReplaySource(RECORDING, -1.0)


@pytest.mark.parametrize("kind", [GAMEPAD, SYNTHETIC, VIRTUAL])
def test_each_kind_makes_its_source(kind: SourceKind) -> None:
    source = kind.make(SourceOptions(script=FlickScript(name="none", title="", steps=()), simulate="alder"))
    assert isinstance(source, Source)
    assert source.name == kind.name
    assert kind.realtime == (kind is not SYNTHETIC)


def test_a_simulated_source_needs_its_world() -> None:
    with pytest.raises(SourceError, match="needs the name of a world"):
        VIRTUAL.make(SourceOptions(script=FlickScript(name="none", title="", steps=())))
