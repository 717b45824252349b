"""A real pad as a source of events."""

from __future__ import annotations

import ctypes
import os
import time
from collections.abc import Iterator
from typing import Any

from feelcheck.errors import SourceError
from feelcheck.model import SourceEvent
from feelcheck.sources.gamepad.naming import BACKENDS, axis_records, device_mapping, mapped_names
from feelcheck.sources.gamepad.poll import LOOPS, brackets, quieten
from feelcheck.sources.gamepad.rows import PadRows
from feelcheck.sources.gamepad.sdl import AXIS_MOTION, DEVICE_REMOVED, HINTS, EventDrain, load_sdl

__all__ = ["GamepadSource", "open_pad_facts"]

_NOTHING: list[SourceEvent] = []


class GamepadSource:
    """A pad through SDL's own event queue, polled by this thread alone.

    Parameters
    ----------
    device : str
        Part of the pad's name, or its number in SDL's list; empty takes the only or the first pad.
    low_power : bool
        Sleep 50 us between polls.

    Notes
    -----
    Values are SDL's 16-bit integers as they are. SDL reports changes only, and hides changes of up to 1.25 % of full
    throw from the value at the start until an axis was once moved further: a script begins with one full circle.
    The value at the start is the first row of each axis. A pad that is unplugged and comes back is opened again.
    """

    name = "gamepad"

    def __init__(self, device: str = "", *, low_power: bool = False) -> None:
        self.device, self.low_power = device, low_power
        self._library: ctypes.CDLL | None = None
        self._stick: int | None = None
        self._guid = self._others = ""
        self._axes: list[dict[str, Any]] = []
        self._buttons: dict[int, str] = {}

    @property
    def library(self) -> ctypes.CDLL:
        """SDL, once it is open."""
        if self._library is None:
            raise SourceError("The pad was not opened.", {"source": self.name}, "Open the source first.")
        return self._library

    def open(self) -> None:
        """Take hold of the pad; raises SourceError if there is none."""
        self._library = load_sdl()
        self.library.SDL_JoystickUpdate()
        self._take(self._choice())

    def _choice(self) -> int:
        names = [
            (self.library.SDL_JoystickNameForIndex(k) or b"").decode("utf-8", "replace")
            for k in range(self.library.SDL_NumJoysticks())
        ]
        wanted = self.device.casefold()
        fitting = [k for k, name in enumerate(names) if not wanted or wanted in name.casefold() or wanted == str(k)]
        if not fitting:
            raise SourceError(
                "No pad was found." if not names else "No pad of that name was found.",
                {"wanted": self.device or "any", "found": ", ".join(names) or "none"},
                "Plug one in: feelcheck devices says what is seen and read; or record with --source virtual.",
            )
        self._others = ", ".join(name for k, name in enumerate(names) if k != fitting[0])
        return fitting[0]

    def _take(self, index: int) -> None:
        mapping = device_mapping(self.library, index)
        stick = self.library.SDL_JoystickOpen(index)
        if not stick:
            reason = (self.library.SDL_GetError() or b"").decode("utf-8", "replace")
            raise SourceError(
                "The pad cannot be opened.", {"reason": reason}, "Check its permissions and plug it in again."
            )
        self._stick = stick
        self._guid = bytes(self.library.SDL_JoystickGetGUID(stick).data).hex()
        self._axes = axis_records(mapped_names(mapping, "a"), self.library.SDL_JoystickNumAxes(stick))
        self._buttons = mapped_names(mapping, "b")

    def describe(self) -> dict[str, Any]:
        """Return what the session header records."""
        facts = open_pad_facts(self.library, self._stick, self._guid)
        more = {"other_pads": self._others, "loop": LOOPS[self.low_power]}
        return {**facts, **more, "axes": self._axes, "simulated": False}

    def _rows(self) -> PadRows:
        n_buttons = self.library.SDL_JoystickNumButtons(self._stick)
        buttons = [self._buttons.get(k, f"button_{k}") for k in range(n_buttons)]
        names = [axis["name"] for axis in self._axes]
        instance = self.library.SDL_JoystickInstanceID(self._stick)
        return PadRows(instance, names, buttons, self._values())

    def _values(self) -> list[int]:
        return [self.library.SDL_JoystickGetAxis(self._stick, k) for k in range(len(self._axes))]

    def _initial(self) -> list[SourceEvent]:
        """Return the present value of every axis, without the events that opening made."""
        self.library.SDL_JoystickUpdate()
        self.library.SDL_FlushEvents(AXIS_MOTION, DEVICE_REMOVED)
        now_ns = time.perf_counter_ns()
        return [(now_ns, now_ns, "axis", axis["name"], v) for axis, v in zip(self._axes, self._values(), strict=True)]

    def events(self) -> Iterator[list[SourceEvent]]:
        """Yield the events of each poll, mostly none, until `close`."""
        yield self._initial()
        quieten(low_power=self.low_power)
        drain, rows = EventDrain(self.library), self._rows()
        for t_lo_ns, t_hi_ns, found in brackets(drain.poll, low_power=self.low_power):
            if self._stick is None and not found:
                time.sleep(0.01)
            if not found:
                yield _NOTHING
            else:
                told = rows.translate(found, t_lo_ns, t_hi_ns)
                if told.removed:
                    self._release()
                yield told.rows
                if self._stick is None and self._back(told.added):
                    first = self._initial()
                    rows = self._rows()
                    yield [(t_lo_ns, t_hi_ns, "plug", "pad", 0), *first]
            if self._library is None:
                return

    def _back(self, added: list[int]) -> bool:
        """Open the pad again if one of the same GUID came."""
        for index in added:
            if bytes(self.library.SDL_JoystickGetDeviceGUID(index).data).hex() == self._guid:
                self._take(index)
                return True
        return False

    def _release(self) -> None:
        if self._stick is not None and self._library is not None:
            self._library.SDL_JoystickClose(self._stick)
        self._stick = None

    def close(self) -> None:
        """Let go of the pad; safe to call twice."""
        self._release()
        self._library = None


def open_pad_facts(library: ctypes.CDLL, stick: int | None, guid: str) -> dict[str, Any]:
    """Return name, GUID, driver, path, versions, hints and clock of an open pad.

    Parameters
    ----------
    library : ctypes.CDLL
        The SDL library.
    stick : int or None
        The open pad's handle.
    guid : str
        Its GUID.
    """
    import pygame

    path = library.SDL_JoystickPath(stick) if stick else None
    return {
        "device": (library.SDL_JoystickName(stick) or b"").decode("utf-8", "replace") if stick else "",
        "guid": guid,
        "backend": BACKENDS.get(chr(int(guid[28:30] or "0", 16)), "system") if guid else "",
        "path": (path or b"").decode("utf-8", "replace"),
        "sdl_version": ".".join(str(part) for part in pygame.get_sdl_version()),
        "pygame_version": pygame.version.ver,
        "hints": {name: os.environ.get(name, "") for name in HINTS},
        "clock": {"kind": "host", "name": "perf_counter_ns"},
    }
