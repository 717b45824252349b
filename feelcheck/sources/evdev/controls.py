"""Which control of an event device is which, by the kernel's rules for pads and in the order that SDL counts them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from feelcheck.sources.evdev.ioctls import AxisSetting
from feelcheck.sources.gamepad.naming import axis_records

__all__ = ["Controls", "is_pad", "pad_controls"]

ABS_X, ABS_Y, ABS_Z, ABS_RX, ABS_RY, ABS_RZ = range(6)
_HATS: Final = range(0x10, 0x18)
_LAST_AXIS: Final = 0x3F
_FIRST_BUTTON: Final = 0x120
_PAD_BUTTONS: Final = frozenset(range(0x120, 0x140)) | frozenset(range(0x2C0, 0x2E8))
_GAMEPAD_BUTTONS: Final = frozenset(range(0x130, 0x140))
_TOUCH: Final = frozenset(range(0x140, 0x150))
_THUMB_LEFT, _THUMB_RIGHT = 0x13D, 0x13E
_JOYSTICK_AXES: Final = frozenset(range(2, 0x0B))
_PROP_ACCELEROMETER = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Controls:
    """The controls of a pad.

    Parameters
    ----------
    axes : Mapping of int to str
        Name of each axis by its event code, in SDL's order.
    buttons : Mapping of int to str
        Name of each button by its event code.
    hats : Mapping of int to (str, int)
        Of each hat axis, the hat's name and 0 for its horizontal, 1 for its vertical axis.
    records : tuple of dict
        What a session's header says of each axis.
    """

    axes: Mapping[int, str]
    buttons: Mapping[int, str]
    hats: Mapping[int, tuple[str, int]] = field(default_factory=dict)
    records: tuple[dict[str, Any], ...] = ()


def is_pad(axes: frozenset[int], keys: frozenset[int], properties: frozenset[int] = frozenset()) -> bool:
    """Return whether a device with these axes, keys and properties is a pad or a joystick.

    Parameters
    ----------
    axes : frozenset of int
        Codes of its absolute axes.
    keys : frozenset of int
        Codes of its keys and buttons.
    properties : frozenset of int
        Numbers of its properties.

    Notes
    -----
    It has an X and a Y axis and either joystick buttons or axes that only joysticks have; touch surfaces, pens and
    motion sensors have X and Y too and are left out.

    Examples
    --------
    >>> is_pad(frozenset({0, 1}), frozenset({0x130})), is_pad(frozenset({0, 1}), frozenset({0x14A}))
    (True, False)
    """
    if not {ABS_X, ABS_Y} <= axes or _PROP_ACCELEROMETER in properties or keys & _TOUCH:
        return False
    return bool(keys & _PAD_BUTTONS or axes & _JOYSTICK_AXES)


def _roles(settings: Mapping[int, AxisSetting]) -> dict[int, str]:
    """Return the names of the axes whose part is known."""
    names = {ABS_X: "left_x", ABS_Y: "left_y"}
    second, triggers = (ABS_RX, ABS_RY), (ABS_Z, ABS_RZ)
    if {ABS_Z, ABS_RZ} <= set(settings) and (ABS_RX not in settings or _rest_in_the_middle(settings)):
        second, triggers = triggers, second
    names |= {second[0]: "right_x", second[1]: "right_y", triggers[0]: "left_trigger", triggers[1]: "right_trigger"}
    return {code: name for code, name in names.items() if code in settings}


def _rest_in_the_middle(settings: Mapping[int, AxisSetting]) -> bool:
    """Return whether the Z axes rest in the middle, as sticks do, and the RX and RY axes at an end, as triggers do."""

    def at(code: int) -> float:
        axis = settings[code]
        return (axis.value - axis.minimum) / max(1, axis.maximum - axis.minimum)

    if not {ABS_RX, ABS_RY} <= set(settings):
        return False
    z, r = (at(ABS_Z), at(ABS_RZ)), (at(ABS_RX), at(ABS_RY))
    return all(0.25 < x < 0.75 for x in z) and all(x < 0.1 for x in r)


def pad_controls(settings: Mapping[int, AxisSetting], keys: frozenset[int]) -> Controls:
    """Return the controls of a pad from its axes and its keys.

    Parameters
    ----------
    settings : mapping of int to AxisSetting
        Settings of each axis by its code.
    keys : frozenset of int
        Codes of its keys and buttons.

    Notes
    -----
    By the kernel's rules the left stick is X and Y, the right one RX and RY, the triggers Z and RZ. Devices without a
    driver of their own often have the right stick on Z and RZ: taken so where there is no RX, or where Z and RZ rest in
    the middle and RX and RY at their lower end. Y axes rise downward. Axes that play no known part and buttons are
    named by their number in SDL's order, so that a pad has the same names whichever way it is read.

    References
    ----------
    Linux kernel, ``Documentation/input/gamepad.rst``; SDL 2.28, ``src/joystick/linux/SDL_sysjoystick.c``,
    ``ConfigJoystick`` for the order.
    """
    codes = [code for code in sorted(settings) if code not in _HATS and code < _LAST_AXIS]
    order = {code: k for k, code in enumerate(codes)}
    named = {order[code]: name for code, name in _roles(settings).items()}
    plain = axis_records(named, len(codes))
    records = [record | _scale(settings[code]) | {"code": code} for code, record in zip(codes, plain, strict=True)]
    ordered = sorted(keys, key=lambda code: (code < _FIRST_BUTTON, code))
    buttons = {code: f"button_{k}" for k, code in enumerate(ordered)}
    if keys & _GAMEPAD_BUTTONS:
        presses = {_THUMB_LEFT: "left_press", _THUMB_RIGHT: "right_press"}
        buttons |= {code: name for code, name in presses.items() if code in keys}
    pairs = sorted({code & ~1 for code in settings if code in _HATS})
    hats = {pair + k: (f"hat_{n}", k) for n, pair in enumerate(pairs) for k in (0, 1)}
    names = {code: str(record["name"]) for code, record in zip(codes, records, strict=True)}
    return Controls(axes=names, buttons=buttons, hats=hats, records=tuple(records))


def _scale(axis: AxisSetting) -> dict[str, float]:
    """Return centre, reach and range of an axis in its own counts."""
    if axis.minimum == -axis.maximum - 1:
        centre, reach = 0.0, float(axis.maximum)
    else:
        centre, reach = (axis.minimum + axis.maximum) / 2, max(0.5, (axis.maximum - axis.minimum) / 2)
    return {"centre": centre, "reach": reach, "minimum": axis.minimum, "maximum": axis.maximum}
