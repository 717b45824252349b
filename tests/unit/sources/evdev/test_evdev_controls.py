"""Which control is which; the kernel's rules for pads are those of its Documentation/input/gamepad.rst."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from feelcheck.sources.evdev.controls import is_pad, pad_controls
from feelcheck.sources.evdev.ioctls import AxisSetting

SIXTEEN = AxisSetting(value=0, minimum=-32768, maximum=32767)
MIDDLE = AxisSetting(value=128, minimum=0, maximum=255)
LOW = AxisSetting(value=0, minimum=0, maximum=255)
HAT = AxisSetting(value=0, minimum=-1, maximum=1)
BUTTONS = frozenset({0x130, 0x131, 0x13D, 0x13E})


def named(settings: Mapping[int, AxisSetting]) -> list[str]:
    return list(pad_controls(settings, BUTTONS).axes.values())


@pytest.mark.parametrize(
    ("settings", "names"),
    [
        (
            {0: SIXTEEN, 1: SIXTEEN, 2: LOW, 3: SIXTEEN, 4: SIXTEEN, 5: LOW},
            ["left_x", "left_y", "left_trigger", "right_x", "right_y", "right_trigger"],
        ),
        ({0: MIDDLE, 1: MIDDLE, 2: MIDDLE, 5: MIDDLE}, ["left_x", "left_y", "right_x", "right_y"]),
        (
            {0: MIDDLE, 1: MIDDLE, 2: MIDDLE, 3: LOW, 4: LOW, 5: MIDDLE},
            ["left_x", "left_y", "right_x", "left_trigger", "right_trigger", "right_y"],
        ),
        ({0: MIDDLE, 1: MIDDLE, 6: LOW, 8: LOW}, ["left_x", "left_y", "axis_2", "axis_3"]),
    ],
)
def test_sticks_and_triggers_are_told_apart(settings: Mapping[int, AxisSetting], names: list[str]) -> None:
    assert named(settings) == names


def test_hats_are_no_axes_and_count_as_one_control() -> None:
    controls = pad_controls({0: SIXTEEN, 1: SIXTEEN, 0x10: HAT, 0x11: HAT}, BUTTONS)
    assert list(controls.axes) == [0, 1]
    assert controls.hats == {0x10: ("hat_0", 0), 0x11: ("hat_0", 1)}


def test_buttons_count_from_the_joystick_range_on_and_presses_have_names() -> None:
    names = pad_controls({0: SIXTEEN, 1: SIXTEEN}, BUTTONS | {0x1E}).buttons
    assert names == {0x130: "button_0", 0x131: "button_1", 0x13D: "left_press", 0x13E: "right_press", 0x1E: "button_4"}


@pytest.mark.parametrize(
    ("axis", "centre", "reach"),
    [(SIXTEEN, 0.0, 32767.0), (MIDDLE, 127.5, 127.5), (AxisSetting(value=0, minimum=-127, maximum=127), 0.0, 127.0)],
)
def test_the_scale_comes_from_the_range(axis: AxisSetting, centre: float, reach: float) -> None:
    record = pad_controls({0: axis, 1: axis}, BUTTONS).records[1]
    assert (record["centre"], record["reach"], record["stick"], record["rises_toward"]) == (
        centre,
        reach,
        "left",
        "down",
    )


@pytest.mark.parametrize(
    ("axes", "keys", "properties", "answer"),
    [
        ({0, 1, 3, 4}, {0x130}, set(), True),
        ({0, 1, 5}, {0x120}, set(), True),
        ({0, 1, 2, 5}, set(), set(), True),
        ({0, 1}, set(), set(), False),
        ({0, 1, 2, 3, 4, 5}, set(), {6}, False),  # motion sensor of a pad
        ({0, 1}, {0x130, 0x14A}, set(), False),  # touch pad
        ({3, 4}, {0x130}, set(), False),
        (set(), {0x1E}, set(), False),  # keyboard
    ],
)
def test_pads_are_told_from_other_devices(axes: set[int], keys: set[int], properties: set[int], answer: bool) -> None:
    assert is_pad(frozenset(axes), frozenset(keys), frozenset(properties)) is answer
