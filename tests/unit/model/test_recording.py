"""Streams, time bases, cues: what the vocabulary promises."""

from __future__ import annotations

import numpy as np
import pytest

from feelcheck.model import Action, AxisScale, Cue, Provenance, Recording, Stream, TimeBase


def test_arrays_are_copied_and_read_only() -> None:
    codes = np.array([1, 2, 3])
    stream = Stream(name="x", time=TimeBase.from_instants([0.0, 1.0, 2.0]), codes=codes)
    codes[0] = 99
    assert stream.codes[0] == 1
    with pytest.raises(ValueError, match="read-only"):
        stream.codes[0] = 5


def test_whole_codes_stay_whole_and_fractions_stay_fractions() -> None:
    time = TimeBase.from_instants([0.0, 1.0])
    assert Stream(name="x", time=time, codes=np.array([1, 2], dtype=np.int16)).codes.dtype == np.int64
    assert Stream(name="x", time=time, codes=np.array([0.5, 1.0], dtype=np.float32)).codes.dtype == np.float64


def test_fractions_follow_the_scale() -> None:
    stream = Stream(
        name="x",
        time=TimeBase.from_instants([0.0, 1.0]),
        codes=np.array([128, 255]),
        scale=AxisScale(centre=128, reach=127),
    )
    np.testing.assert_allclose(stream.fractions, [0.0, 1.0], rtol=1e-15)


def test_times_may_not_step_back() -> None:
    with pytest.raises(ValueError, match="step back"):
        TimeBase.from_instants([0.0, 1.0, 0.5])


def test_brackets_may_not_be_inverted() -> None:
    with pytest.raises(ValueError, match="inverted"):
        TimeBase(t_lo_s=np.array([1.0]), t_hi_s=np.array([0.5]))


def test_codes_and_times_belong_together() -> None:
    with pytest.raises(ValueError, match="3 codes for 2 instants"):
        Stream(name="x", time=TimeBase.from_instants([0.0, 1.0]), codes=np.array([1, 2, 3]))


def test_a_scale_needs_a_reach() -> None:
    with pytest.raises(ValueError, match="reach"):
        AxisScale(reach=0.0)


@pytest.mark.parametrize(
    "cue",
    [
        Cue(t_s=1.0, action=Action.REST),
        Cue(t_s=2.5, action=Action.FLICK, stick="left", direction_deg=225.0),
        Cue(t_s=0.0, action=Action.ROLL, stick="right"),
    ],
)
def test_a_cue_survives_its_own_text(cue: Cue) -> None:
    assert Cue.parse(cue.text, cue.t_s) == cue


def test_an_unknown_action_is_refused() -> None:
    with pytest.raises(ValueError, match="juggle"):
        Cue.parse("juggle stick=left", 0.0)


def test_a_recording_finds_its_streams_by_name() -> None:
    stream = Stream(name="left_x", time=TimeBase.from_instants([0.0]), codes=np.array([0]))
    recording = Recording(streams=(stream,), provenance=Provenance())
    assert recording.stream("left_x") is stream
    with pytest.raises(KeyError, match="right_x"):
        recording.stream("right_x")


def test_the_duration_of_an_empty_time_base_is_zero() -> None:
    assert TimeBase.from_instants([]).duration_s == 0.0
