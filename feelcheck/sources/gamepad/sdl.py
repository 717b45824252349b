"""SDL's joystick calls, on the very library that pygame brings along."""

from __future__ import annotations

import ctypes
import os
import struct
import sys
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from feelcheck.errors import SourceError

__all__ = [
    "AXIS_MOTION",
    "BUTTON_DOWN",
    "BUTTON_UP",
    "DEVICE_ADDED",
    "DEVICE_REMOVED",
    "HAT_MOTION",
    "HINTS",
    "QUEUE_FULL",
    "UPDATE_CALLBACK",
    "EventDrain",
    "SdlEvent",
    "VirtualDescription",
    "load_sdl",
]

AXIS_MOTION: Final = 0x600
HAT_MOTION: Final = 0x602
BUTTON_DOWN: Final = 0x603
BUTTON_UP: Final = 0x604
DEVICE_ADDED: Final = 0x605
DEVICE_REMOVED: Final = 0x606
QUEUE_FULL: Final = -1
"""Made here, behind the events of a look that emptied a full queue: SDL dropped what came after them."""

HINTS: Final = {
    "SDL_JOYSTICK_ALLOW_BACKGROUND_EVENTS": "1",
    "SDL_JOYSTICK_THREAD": "1",
    "SDL_JOYSTICK_RAWINPUT_CORRELATE_XINPUT": "0",
    "SDL_JOYSTICK_WGI": "0",
    "SDL_JOYSTICK_HIDAPI": "1",
    "SDL_JOYSTICK_RAWINPUT": "1",
    "SDL_LINUX_JOYSTICK_DEADZONES": "0",
}
"""Set before SDL starts, unless the user set them: no lost background events, no dead zone, no second poll."""

_RECORD = struct.Struct("<IIiBB2xh38x")
_AT_ONCE = 4096
_QUEUE_LIMIT = 65535
_PEEKEVENT, _GETEVENT = 1, 2
_ALL_EVENTS = (0, 0xFFFF)
SdlEvent = tuple[int, int, int, int, int, int]
"""``(type, SDL's own ms stamp, which, index, state of a button or hat, value of an axis)``."""
_LIBRARIES = ("../pygame.libs/libSDL2-2*.so*", "SDL2.dll", ".dylibs/libSDL2*.dylib")
UPDATE_CALLBACK = ctypes.CFUNCTYPE(None, ctypes.c_void_p)


class VirtualDescription(ctypes.Structure):
    """SDL_VirtualJoystickDesc, version 1."""

    _fields_ = (
        ("version", ctypes.c_uint16),
        ("type", ctypes.c_uint16),
        ("naxes", ctypes.c_uint16),
        ("nbuttons", ctypes.c_uint16),
        ("nhats", ctypes.c_uint16),
        ("vendor_id", ctypes.c_uint16),
        ("product_id", ctypes.c_uint16),
        ("padding", ctypes.c_uint16),
        ("button_mask", ctypes.c_uint32),
        ("axis_mask", ctypes.c_uint32),
        ("name", ctypes.c_char_p),
        ("userdata", ctypes.c_void_p),
        ("Update", UPDATE_CALLBACK),
        ("SetPlayerIndex", ctypes.c_void_p),
        ("Rumble", ctypes.c_void_p),
        ("RumbleTriggers", ctypes.c_void_p),
        ("SetLED", ctypes.c_void_p),
        ("SendEffect", ctypes.c_void_p),
    )


class _Guid(ctypes.Structure):
    _fields_ = (("data", ctypes.c_uint8 * 16),)


_P, _I, _S = ctypes.c_void_p, ctypes.c_int, ctypes.c_char_p
_SIGNATURES: dict[str, tuple[Any, list[Any]]] = {
    "SDL_JoystickUpdate": (None, []),
    "SDL_PeepEvents": (_I, [_P, _I, _I, ctypes.c_uint32, ctypes.c_uint32]),
    "SDL_FlushEvents": (None, [ctypes.c_uint32, ctypes.c_uint32]),
    "SDL_NumJoysticks": (_I, []),
    "SDL_JoystickOpen": (_P, [_I]),
    "SDL_JoystickClose": (None, [_P]),
    "SDL_JoystickGetAttached": (_I, [_P]),
    "SDL_JoystickInstanceID": (ctypes.c_int32, [_P]),
    "SDL_JoystickNumAxes": (_I, [_P]),
    "SDL_JoystickNumButtons": (_I, [_P]),
    "SDL_JoystickNumHats": (_I, [_P]),
    "SDL_JoystickGetAxis": (ctypes.c_int16, [_P, _I]),
    "SDL_JoystickName": (_S, [_P]),
    "SDL_JoystickNameForIndex": (_S, [_I]),
    "SDL_JoystickPath": (_S, [_P]),
    "SDL_JoystickGetGUID": (_Guid, [_P]),
    "SDL_JoystickGetDeviceGUID": (_Guid, [_I]),
    "SDL_JoystickIsVirtual": (_I, [_I]),
    "SDL_JoystickAttachVirtualEx": (_I, [_P]),
    "SDL_JoystickDetachVirtual": (_I, [_I]),
    "SDL_JoystickSetVirtualAxis": (_I, [_P, _I, ctypes.c_int16]),
    "SDL_JoystickSetVirtualButton": (_I, [_P, _I, ctypes.c_uint8]),
    "SDL_InitSubSystem": (_I, [ctypes.c_uint32]),
    "SDL_QuitSubSystem": (None, [ctypes.c_uint32]),
    "SDL_GameControllerMappingForDeviceIndex": (_P, [_I]),
    "SDL_free": (None, [_P]),
    "SDL_GetError": (_S, []),
}


@lru_cache(maxsize=1)
def load_sdl() -> ctypes.CDLL:
    """Start SDL's joysticks without a window and return the library with its call signatures.

    Raises
    ------
    SourceError
        If pygame, its SDL library, or a call that is needed is missing.

    Notes
    -----
    The hints are set in the environment before pygame is imported, since SDL reads them when it starts.
    """
    for hint, value in HINTS.items():
        os.environ.setdefault(hint, value)
    os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
    try:
        import pygame.joystick

        pygame.joystick.init()
    except Exception as problem:
        raise SourceError(
            "A pad needs pygame with a working joystick system.",
            {"got": problem},
            "Install pygame again, or record with --source synthetic.",
        ) from None
    library = _bundled(Path(pygame.__file__).parent)
    for name, (result, arguments) in _SIGNATURES.items():
        call = getattr(library, name)
        call.restype, call.argtypes = result, arguments
    return library


def _bundled(package: Path) -> ctypes.CDLL:
    found = [path for pattern in _LIBRARIES for path in sorted(package.glob(pattern))]
    found = found or _mapped()
    for path in found:
        try:
            return ctypes.CDLL(str(path))
        except OSError:
            continue
    raise SourceError(
        "pygame's own SDL library was not found.",
        {"looked in": package, "patterns": ", ".join(_LIBRARIES)},
        "Install pygame from a wheel.",
    )


def _mapped() -> list[Path]:
    """Return the SDL library that this process has loaded (distributions link pygame to the system's one)."""
    if not sys.platform.startswith("linux"):
        return []
    words = (line.split()[-1] for line in Path("/proc/self/maps").read_text().splitlines() if "libSDL2-2" in line)
    return [Path(word) for word in dict.fromkeys(words)]


class EventDrain:
    """Takes joystick events out of SDL's queue as plain numbers.

    Examples
    --------
    >>> drain = EventDrain(load_sdl())
    >>> isinstance(drain.poll(), list)
    True
    """

    def __init__(self, library: ctypes.CDLL) -> None:
        self._buffer = ctypes.create_string_buffer(_AT_ONCE * _RECORD.size)
        self._view = memoryview(self._buffer)
        self._update, self._peep = library.SDL_JoystickUpdate, library.SDL_PeepEvents

    def poll(self) -> list[SdlEvent]:
        """Look at every open stick once and return what is new."""
        self._update()
        n = self._peep(self._buffer, _AT_ONCE, _GETEVENT, AXIS_MOTION, DEVICE_REMOVED)
        if n <= 0:
            return []
        events = list(self._records(n))
        while n == _AT_ONCE:
            n = self._peep(self._buffer, _AT_ONCE, _GETEVENT, AXIS_MOTION, DEVICE_REMOVED)
            events.extend(self._records(n))
        # Events of other kinds stand in the same queue and stay there.
        if len(events) >= _AT_ONCE and len(events) + self._peep(None, 0, _PEEKEVENT, *_ALL_EVENTS) >= _QUEUE_LIMIT:
            events.append((QUEUE_FULL, 0, 0, 0, 0, len(events)))
        return events

    def _records(self, n: int) -> Iterator[SdlEvent]:
        return _RECORD.iter_unpack(self._view[: max(n, 0) * _RECORD.size])
