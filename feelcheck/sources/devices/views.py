"""A pad as one way of reading it shows it, open for a moment."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from feelcheck.errors import SourceError
from feelcheck.model import SourceEvent

__all__ = ["SdlViews", "Seen", "View", "evdev_views"]


@dataclass(slots=True, kw_only=True)
class Seen:
    """What a pad did: stamps of its changes, how long each may have waited, and the values of each axis."""

    stamps_ns: list[int] = field(default_factory=list)
    waited_ns: list[int] = field(default_factory=list)
    values: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))

    def add(self, rows: Iterable[SourceEvent]) -> None:
        """Take in rows of a session.

        Parameters
        ----------
        rows : iterable of SourceEvent
            Of one pad, in order of time.
        """
        for t_lo_ns, t_hi_ns, kind, name, value in rows:
            if kind == "axis":
                self.values[name].append(value)
                self.stamps_ns.append(t_hi_ns)
                self.waited_ns.append(t_hi_ns - t_lo_ns)


@dataclass(slots=True, kw_only=True)
class View:
    """One pad as one way of reading it shows it.

    Parameters
    ----------
    source : str
        ``"evdev"`` or ``"gamepad"``.
    facts : dict
        As in a session's header; empty where it may not be read.
    name, path : str
        What and where.
    numbers : tuple of int
        Bus, vendor and product.
    buttons : tuple of str
        Names of buttons and hats.
    refused : str
        Why it may not be read, with the remedy; empty where it may.
    seen : Seen
        What it did while it was watched.
    """

    source: str
    name: str
    path: str
    numbers: tuple[int, int, int]
    facts: dict[str, Any] = field(default_factory=dict)
    buttons: tuple[str, ...] = ()
    refused: str = ""
    seen: Seen = field(default_factory=Seen)


def evdev_views() -> Iterator[tuple[View, Iterator[list[SourceEvent]] | None, Any]]:
    """Yield each pad among the event devices, its events, and the source to close; nothing on other systems."""
    from feelcheck.sources.evdev.system import has_event_devices

    if not has_event_devices():
        return
    from feelcheck.sources.evdev.discovery import find_pads
    from feelcheck.sources.evdev.source import EvdevSource

    for node in find_pads():
        numbers = (node.numbers.bus, node.numbers.vendor, node.numbers.product)
        view = View(source="evdev", name=node.name, path=str(node.path), numbers=numbers)
        source = EvdevSource(str(node.path))
        try:
            source.open()
        except SourceError as problem:
            view.refused = problem.next_step
            yield view, None, None
            continue
        view.facts, view.buttons = source.describe(), source.button_names
        yield view, source.events(), source


class SdlViews:
    """Every pad that SDL has, open at the same time and read from its one queue."""

    def __init__(self) -> None:
        from feelcheck.sources.gamepad.rows import PadRows
        from feelcheck.sources.gamepad.sdl import EventDrain, load_sdl

        self.library = load_sdl()
        self.library.SDL_JoystickUpdate()
        self.views: list[View] = []
        self._sticks: list[int] = []
        self._rows: list[PadRows] = []
        self._drain = EventDrain(self.library)
        for index in range(self.library.SDL_NumJoysticks()):
            self._add(index)
        self._drain.poll()
        self._before_ns = time.perf_counter_ns()

    def _add(self, index: int) -> None:
        from feelcheck.sources.gamepad.naming import axis_records, device_mapping, mapped_names
        from feelcheck.sources.gamepad.pad import open_pad_facts
        from feelcheck.sources.gamepad.rows import PadRows

        library = self.library
        mapping = device_mapping(library, index)
        stick = library.SDL_JoystickOpen(index)
        if not stick:
            return
        guid = bytes(library.SDL_JoystickGetGUID(stick).data)
        axes = axis_records(mapped_names(mapping, "a"), library.SDL_JoystickNumAxes(stick))
        pressed = mapped_names(mapping, "b")
        buttons = [pressed.get(k, f"button_{k}") for k in range(library.SDL_JoystickNumButtons(stick))]
        hats = [f"hat_{k}" for k in range(library.SDL_JoystickNumHats(stick))]
        facts = {**open_pad_facts(library, stick, guid.hex()), "axes": axes}
        numbers = [int.from_bytes(guid[k : k + 2], "little") for k in (0, 4, 8)]
        view = View(
            source="gamepad",
            name=facts["device"],
            path=facts["path"],
            numbers=(numbers[0], numbers[1], numbers[2]),
            facts=facts,
            buttons=(*buttons, *hats),
        )
        values = [library.SDL_JoystickGetAxis(stick, k) for k in range(len(axes))]
        names = [str(axis["name"]) for axis in axes]
        self._sticks.append(stick)
        self.views.append(view)
        self._rows.append(PadRows(library.SDL_JoystickInstanceID(stick), names, buttons, values))

    def look(self) -> None:
        """Take in what came since the last look."""
        start_ns = time.perf_counter_ns()
        found = self._drain.poll()
        now_ns = time.perf_counter_ns()
        for view, rows in zip(self.views, self._rows, strict=True):
            view.seen.add(rows.translate(found, self._before_ns, now_ns).rows if found else ())
        self._before_ns = start_ns

    def close(self) -> None:
        """Let go of every pad."""
        for stick in self._sticks:
            self.library.SDL_JoystickClose(stick)
        self._sticks = []
