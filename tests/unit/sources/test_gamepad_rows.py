"""From SDL's records to rows: brackets, names, and what SDL makes up."""

from __future__ import annotations

import ctypes
import struct
from itertools import islice, pairwise
from types import SimpleNamespace
from typing import Any

import pytest

from feelcheck.errors import SourceError
from feelcheck.sources.gamepad.naming import axis_records, mapped_names
from feelcheck.sources.gamepad.pad import GamepadSource
from feelcheck.sources.gamepad.poll import brackets
from feelcheck.sources.gamepad.rows import PadRows
from feelcheck.sources.gamepad.sdl import (
    AXIS_MOTION,
    BUTTON_DOWN,
    BUTTON_UP,
    DEVICE_ADDED,
    DEVICE_REMOVED,
    HAT_MOTION,
    HINTS,
    QUEUE_FULL,
    EventDrain,
    SdlEvent,
)

MAPPING = "0300,a pad,a:b0,leftx:a0,lefty:a1~,rightx:a3,righty:a4,lefttrigger:a2,+righttrigger:+a5,leftstick:b9,"


def _rows(events: list[SdlEvent]) -> Any:
    return PadRows(7, ["left_x", "left_y"], ["a"]).translate(events, 10, 20)


def test_axes_buttons_and_hats_become_rows() -> None:
    told = _rows(
        [
            (AXIS_MOTION, 0, 7, 1, 0, -32768),
            (AXIS_MOTION, 0, 7, 4, 0, 5),
            (BUTTON_DOWN, 0, 7, 0, 1, 0),
            (BUTTON_UP, 0, 7, 3, 0, 0),
            (HAT_MOTION, 0, 7, 0, 8, 0),
        ]
    )
    assert told.rows == [
        (10, 20, "axis", "left_y", -32768),
        (10, 20, "axis", "axis_4", 5),
        (10, 20, "button", "a", 1),
        (10, 20, "button", "button_3", 0),
        (10, 20, "button", "hat_0", 8),
    ]


def test_the_start_value_that_sdl_repeats_at_the_first_motion_is_dropped() -> None:
    rows = PadRows(7, ["left_x"], [], [-128])
    told = rows.translate([(AXIS_MOTION, 0, 7, 0, 0, -128), (AXIS_MOTION, 0, 7, 0, 0, 900)], 10, 20)
    back = rows.translate([(AXIS_MOTION, 0, 7, 0, 0, -128)], 20, 30)
    assert [row[4] for row in told.rows + back.rows] == [900, -128]


def test_other_pads_are_left_out() -> None:
    assert _rows([(AXIS_MOTION, 0, 8, 0, 0, 1), (DEVICE_REMOVED, 0, 8, 0, 0, 0)]).rows == []


def test_the_zeros_that_sdl_makes_up_when_a_pad_is_unplugged_are_dropped() -> None:
    told = _rows([(AXIS_MOTION, 0, 7, 0, 0, 0), (BUTTON_UP, 0, 7, 0, 0, 0), (DEVICE_REMOVED, 0, 7, 0, 0, 0)])
    assert told.removed
    assert told.rows == [(10, 20, "unplug", "pad", 0)]


def test_a_full_queue_is_a_gap_and_a_new_pad_is_told() -> None:
    told = _rows([(DEVICE_ADDED, 0, 2, 0, 0, 0), (AXIS_MOTION, 0, 7, 0, 0, 1), (QUEUE_FULL, 0, 0, 0, 0, 65_000)])
    assert told.added == [2]
    assert told.rows[-1][2:] == ("gap", "event queue full", 65_000)


def test_records_are_cut_as_sdl_lays_them_out() -> None:
    # SDL_events.h of SDL 2: a union of 56 bytes; SDL_JoyAxisEvent has type, timestamp, which (32 bits each), axis (8),
    # three bytes of padding, value (signed 16); SDL_JoyButtonEvent has button and state in the two bytes after which.
    axis = struct.pack("<IIiBBBBhH", AXIS_MOTION, 5, 7, 1, 0, 0, 0, -2, 0).ljust(56, b"\xff")
    button = struct.pack("<IIiBBBB", BUTTON_DOWN, 6, 7, 3, 1, 0, 0).ljust(56, b"\0")
    queue = [axis, button]

    def peep(buffer: Any, n: int, action: int, low: int, high: int) -> int:
        assert (action, low, high) == (2, 0x600, 0x606)
        ctypes.memmove(buffer, b"".join(queue), 56 * len(queue))
        return len(queue)

    drain = EventDrain(SimpleNamespace(SDL_JoystickUpdate=lambda: None, SDL_PeepEvents=peep))  # type: ignore[arg-type]
    assert drain.poll() == [(AXIS_MOTION, 5, 7, 1, 0, -2), (BUTTON_DOWN, 6, 7, 3, 1, 0)]
    queue.clear()
    assert drain.poll() == []


@pytest.mark.parametrize("low_power", [False, True])
def test_brackets_join_without_a_hole(low_power: bool) -> None:
    stamps = list(islice(brackets(lambda: None, low_power=low_power), 50))
    assert all(lo <= hi for lo, hi, _ in stamps)
    assert all(later[0] <= earlier[1] for earlier, later in pairwise(stamps))


@pytest.mark.parametrize(("every_ns", "least_sleeps", "most_sleeps"), [(125_000, 0, 8), (1_000_000, 150, 200)])
def test_the_low_power_loop_does_not_sleep_over_a_quick_pad(
    every_ns: int, least_sleeps: int, most_sleeps: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = {"ns": 0, "sleeps": 0, "heard": 0}

    def sleep(seconds: float) -> None:
        clock["ns"] += round(seconds * 1e9)
        clock["sleeps"] += 1

    def now() -> int:
        clock["ns"] += 2_000
        return clock["ns"]

    def look() -> list[int]:
        fresh = clock["ns"] // every_ns - clock["heard"]
        clock["heard"] += fresh
        return [1] * min(fresh, 1)

    monkeypatch.setattr("time.sleep", sleep)
    monkeypatch.setattr("time.perf_counter_ns", now)
    stamps = list(islice(brackets(look, low_power=True), 200))
    assert least_sleeps <= clock["sleeps"] <= most_sleeps
    assert sum(bool(found) for _, _, found in stamps) == clock["heard"]


def test_sdls_mapping_names_axes_and_buttons() -> None:
    axes = {0: "left_x", 1: "left_y", 3: "right_x", 4: "right_y", 2: "left_trigger", 5: "right_trigger"}
    assert mapped_names(MAPPING, "a") == axes
    assert mapped_names(MAPPING, "b") == {9: "left_press"}
    assert mapped_names("", "a") == {}


def test_the_header_says_what_is_known_of_each_axis() -> None:
    records = axis_records(mapped_names(MAPPING, "a"), 7)
    known = [(axis["name"], axis["stick"], axis["rises_toward"]) for axis in records]
    assert known[:3] == [("left_x", "left", "right"), ("left_y", "left", "down"), ("left_trigger", "", None)]
    assert known[6] == ("axis_6", "", None)
    assert all(axis["polarity"] is None for axis in records)


def test_no_pad_is_said_plainly(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    source = GamepadSource("no such pad")
    with pytest.raises(SourceError, match=r"(?s)No pad.*was found.*no such pad.*feelcheck devices.*--source virtual"):
        source.open()
    with pytest.raises(SourceError, match="was not opened"):
        GamepadSource().describe()
    source.close()
    assert HINTS["SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS"] == "1"
