"""What the vocabulary's small types promise: lengths, names, states, counts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck.errors import RecordingStopped
from feelcheck.model import (
    Action,
    Capture,
    ChainLink,
    Channel,
    Comparison,
    Cue,
    Estimate,
    Provenance,
    Report,
    Script,
    SessionOnShelf,
    Step,
    TimeBase,
    VerdictRates,
)
from feelcheck.model.script import script_cues
from feelcheck.model.stream import frozen_array


@pytest.mark.parametrize("values", [1.0, [[1.0, 2.0]], np.zeros((2, 0))])
def test_arrays_have_one_dimension(values: Any) -> None:
    with pytest.raises(ValueError, match="one-dimensional array is needed, got shape"):
        frozen_array(values)


def test_a_frozen_array_is_a_copy_that_cannot_be_written() -> None:
    own = np.arange(3.0)[::-1]
    frozen = frozen_array(own)
    own[0] = 9.0
    assert frozen.tolist() == [2.0, 1.0, 0.0]
    assert frozen.flags.c_contiguous
    with pytest.raises(ValueError, match="read-only"):
        frozen += 1


def test_both_ends_of_brackets_come_in_one_length() -> None:
    with pytest.raises(ValueError, match=r"brackets differ in length: \(2,\) and \(1,\)"):
        TimeBase(t_lo_s=np.array([0.0, 1.0]), t_hi_s=np.array([1.0]))


def test_equal_stamps_are_allowed_and_the_upper_end_is_the_instant() -> None:
    base = TimeBase(t_lo_s=np.array([0.0, 0.5, 1.0]), t_hi_s=np.array([1.0, 1.0, 3.0]))
    assert base.t_s.tolist() == [1.0, 1.0, 3.0]
    assert base.duration_s == 2.0


def test_a_capture_finds_its_columns_by_name() -> None:
    out = Channel(name="out", values=np.zeros(2), unit="V")
    capture = Capture(t_s=np.arange(2.0), interval_s=1.0, channels=(out,), provenance=Provenance())
    assert capture.channel("out") is out
    with pytest.raises(KeyError, match="coil"):
        capture.channel("coil")


SCRIPT = Script(
    name="s",
    title="",
    steps=(
        Step(action=Action.REST, duration_s=2.0),
        Step(action=Action.FLICK, duration_s=0.5, stick="right", direction_deg=90.0),
        Step(action=Action.END, duration_s=0.0),
    ),
)


def test_cues_stand_where_their_steps_begin() -> None:
    assert SCRIPT.duration_s == 2.5
    assert [(cue.t_s, cue.action) for cue in script_cues(SCRIPT)] == [(0.0, "rest"), (2.0, "flick"), (2.5, "end")]
    assert script_cues(SCRIPT)[1].text == "flick stick=right direction_deg=90"


@pytest.mark.parametrize("text", ["", "flick left", "flick direction_deg=up"])
def test_a_cue_that_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        Cue.parse(text, 0.0)


@pytest.mark.parametrize(
    ("recording", "more", "unfinished", "resumable"),
    [
        ("complete", {}, False, False),
        ("closed", {}, False, False),
        ("recording", {}, True, True),
        ("interrupted", {}, True, True),
        ("recording", {"running": True}, True, False),
        ("interrupted", {"simulated": True, "source": "synthetic"}, True, False),
        ("interrupted", {"simulated": True, "source": "virtual"}, True, True),
        ("interrupted", {"source": "replay"}, True, False),
    ],
)
def test_only_a_persons_unfinished_session_can_be_gone_on_with(
    recording: Any, more: dict[str, Any], unfinished: bool, resumable: bool
) -> None:
    told: dict[str, Any] = {"source": "gamepad", **more}
    session = SessionOnShelf(
        folder=Path("s"), specimen="elm", state="as_found", operator="", script="quick", started="",
        recording=recording, **told,
    )  # fmt: skip
    assert (session.unfinished, session.resumable) == (unfinished, resumable)


def test_a_report_shows_the_chain_of_its_comparison_unless_it_has_one_of_its_own() -> None:
    nothing = Estimate.not_resolved("d", unit="s")
    links = [
        ChainLink(
            specimen=name, axis="x", state="as_found", direction="rising", link="parts-bench", predicted=nothing,
            measured=nothing, difference=nothing, margin=0.0, verdict="cannot_tell",
        )
        for name in ("alder", "birch")
    ]  # fmt: skip
    compared = Comparison(baseline="alder", candidates=(), metrics=(), chain=(links[0],))
    assert Report(title="").links == ()
    assert Report(title="", comparison=compared).links == (links[0],)
    assert Report(title="", comparison=compared, chain=(links[1],)).links == (links[1],)


def test_verdicts_are_right_wrong_or_open() -> None:
    assert VerdictRates(kind="metric", truth="inside", n=100, n_right=70, n_wrong=4, wrong_at_most=0.1).n_open == 26


@pytest.mark.parametrize(("asked", "words"), [(True, "Ended as you asked"), (False, "Stopped by Ctrl-C")])
def test_a_stopped_recording_says_who_stopped_it_and_where_it_is(asked: bool, words: str) -> None:
    stop = RecordingStopped(Path("sessions/alder"), asked=asked)
    assert str(stop) == f"{words}, before the script's end. What was recorded is kept.\n  folder: sessions/alder"
    assert isinstance(stop, KeyboardInterrupt)
