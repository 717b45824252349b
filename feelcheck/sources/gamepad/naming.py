"""Which axis of a pad is which: SDL's own mapping where it knows the pad, else the bare numbers."""

from __future__ import annotations

import ctypes
from collections.abc import Mapping
from typing import Any, Final

__all__ = ["BACKENDS", "axis_records", "device_mapping", "mapped_names"]

_INIT_GAMECONTROLLER: Final = 0x2000
_ROLES: Final = {
    "leftx": "left_x",
    "lefty": "left_y",
    "rightx": "right_x",
    "righty": "right_y",
    "lefttrigger": "left_trigger",
    "righttrigger": "right_trigger",
    "leftstick": "left_press",
    "rightstick": "right_press",
}
BACKENDS: Final = {"r": "rawinput", "h": "hidapi", "x": "xinput", "w": "wgi", "m": "mfi", "v": "virtual"}
"""Which of SDL's drivers feeds a pad, by the fifteenth byte of its GUID; none of these is the system's own way."""


def device_mapping(library: ctypes.CDLL, index: int) -> str:
    """Return SDL's mapping text for a pad, empty if it knows none.

    Parameters
    ----------
    library : CDLL
        SDL, loaded.
    index : int
        SDL's number of the pad.
    """
    if library.SDL_InitSubSystem(_INIT_GAMECONTROLLER) != 0:
        return ""
    try:
        pointer = library.SDL_GameControllerMappingForDeviceIndex(index)
        if not pointer:
            return ""
        text = ctypes.string_at(pointer).decode("utf-8", "replace")
        library.SDL_free(pointer)
        return text
    finally:
        library.SDL_QuitSubSystem(_INIT_GAMECONTROLLER)


def mapped_names(mapping: str, kind: str) -> dict[int, str]:
    """Return index and name of the axes (kind ``"a"``) or buttons (``"b"``) that a mapping text speaks of.

    Parameters
    ----------
    mapping : str
        SDL's mapping text.
    kind : str
        Which kind, by its letter or name.

    Examples
    --------
    >>> mapped_names("03000000,a pad,leftx:a0,lefty:a1~,rightstick:b9,", "a")
    {0: 'left_x', 1: 'left_y'}
    """
    names: dict[int, str] = {}
    for part in mapping.split(",")[2:]:
        role, _, control = part.strip("+-~").partition(":")
        control = control.lstrip("+-~")
        number = control[1:]
        if role in _ROLES and control[:1] == kind and number.isdecimal():
            names[int(number)] = _ROLES[role]
    return names


def axis_records(names: Mapping[int, str], n_axes: int) -> list[dict[str, Any]]:
    """Return what a session's header says of each axis.

    Parameters
    ----------
    names : mapping of int to str
        Names by the pad's axis numbers.
    n_axes : int
        Axes of the pad.
    """
    records: list[dict[str, Any]] = []
    for index in range(n_axes):
        name = names.get(index, f"axis_{index}")
        stick = name[:-2] if name.endswith(("_x", "_y")) and name[:-2] in ("left", "right") else ""
        rises = {"x": "right", "y": "down"}[name[-1]] if stick else None
        records.append(
            {
                "name": name,
                "index": index,
                "stick": stick,
                "centre": 0,
                "reach": 32767,
                "unit": "counts",
                "polarity": None,
                "rises_toward": rises,
            }
        )
    return records
