"""A pad through its event device as a source of events."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict
from typing import Any, Final

from feelcheck.errors import SourceError
from feelcheck.model import SourceEvent
from feelcheck.sources.evdev.controls import Controls
from feelcheck.sources.evdev.discovery import Node, choose, find_pads
from feelcheck.sources.evdev.port import DevicePort, Port
from feelcheck.sources.evdev.records import EV_ABS, EV_KEY, Packet
from feelcheck.sources.evdev.system import require_linux

__all__ = ["EvdevSource"]

_NOTHING: Final[list[SourceEvent]] = []
_WAIT_S = 0.005
_LOOK_S = 0.1

_HAT_BITS = {(0, 1): 2, (0, -1): 8, (1, 1): 4, (1, -1): 1}
_REPEAT = 2


class EvdevSource:
    """A pad through Linux's event devices.

    Parameters
    ----------
    device : str
        Path of its node, part of its name, or its number among the pads; empty takes the first that may be read.
    find : callable
        Returns the pads that are there.
    opened : callable
        Opens one of them.

    Notes
    -----
    Values are the device's own counts. The kernel stamps each report when it takes it in, on the clock that
    `time.perf_counter_ns` reads, so neither this process nor any library is in the stamps. It passes on changes only,
    and drops or averages small ones by its fuzz, which is zero while a recording runs. The value at the start is the
    first row of each axis. A pad that is unplugged and comes back is opened again.
    """

    name = "evdev"

    def __init__(
        self,
        device: str = "",
        *,
        find: Callable[[], list[Node]] = find_pads,
        opened: Callable[[Node], Port] = DevicePort,
    ) -> None:
        self.device = device
        self._find, self._opened = find, opened
        self._node: Node | None = None
        self._port: Port | None = None
        self._rows: PacketRows | None = None
        self._twins: frozenset[tuple[str, int]] = frozenset()
        self._others: tuple[str, ...] = ()
        self._open = False

    def open(self) -> None:
        """Take hold of the pad.

        Raises
        ------
        SourceError
            On another system, without a pad, or without the right to read it.
        """
        require_linux()
        pads = self._find()
        self._take(choose(pads, self.device), pads)
        self._open = True

    def _take(self, node: Node, pads: list[Node]) -> None:
        self._port = self._opened(node)
        self._node = node
        self._rows = PacketRows(self._port.controls)
        others = [pad for pad in pads if pad.key != node.key]
        self._twins = frozenset(pad.key for pad in others if pad.same_device(node))
        self._others = tuple(f"{pad.name} ({pad.path})" for pad in others)

    def describe(self) -> dict[str, Any]:
        """Return what the session header records; the smoothing of each axis before and during the recording."""
        node, port = self._node, self._port
        if node is None or port is None:
            raise SourceError("The pad was not opened.", {"source": self.name}, "Open the source first.")
        numbers = node.numbers
        smoothed = [f"{axis} {found.fuzz_before}" for axis, found in port.smoothing.items() if found.fuzz_before]
        still = [f"{axis} {found.fuzz}" for axis, found in port.smoothing.items() if found.fuzz]
        return {
            "device": node.name,
            "guid": b"".join(
                part.to_bytes(2, "little") + b"\0\0"
                for part in (numbers.bus, numbers.vendor, numbers.product, numbers.version)
            ).hex(),
            "backend": "evdev",
            "path": str(node.path),
            "place": node.place,
            "serial": node.serial,
            "kernel": os.uname().release,
            "other_pads": ", ".join(self._others),
            "kernel_smoothing_before": ", ".join(smoothed) or "none",
            "kernel_smoothing": ", ".join(still) or "none",
            "smoothing": {axis: asdict(found) for axis, found in port.smoothing.items()},
            "hints": {},
            "clock": {"kind": "kernel", "name": "CLOCK_MONOTONIC"},
            "axes": [dict(record) for record in port.controls.records],
            "simulated": False,
        }

    @property
    def button_names(self) -> tuple[str, ...]:
        """Names of the buttons and hats of an open pad."""
        controls = None if self._port is None else self._port.controls
        if controls is None:
            return ()
        return (*controls.buttons.values(), *dict.fromkeys(name for name, _ in controls.hats.values()))

    def events(self) -> Iterator[list[SourceEvent]]:
        """Yield the rows of what has come, now and then none, until `close`."""
        if self._open:
            yield self._begin()
        while self._open:
            if self._port is None:
                yield self._return()
                continue
            try:
                rows = self._read()
            except OSError:
                rows = self._gone()
            yield rows

    def _begin(self) -> list[SourceEvent]:
        """Throw away what gathered before and return the present value of every axis."""
        try:
            assert self._port is not None
            assert self._rows is not None
            while self._port.read(0.0):
                pass
            now_ns = time.perf_counter_ns()
            return self._rows.begin(now_ns, *self._port.state())
        except OSError:
            return self._gone()

    def _read(self) -> list[SourceEvent]:
        assert self._port is not None
        assert self._rows is not None
        packets = self._port.read(_WAIT_S)
        if not packets:
            return _NOTHING
        rows = self._rows.translate(packets)
        if self._rows.unsettled:
            rows += self._rows.translate(self._port.read(0.0))
            rows += self._rows.settle(time.perf_counter_ns(), *self._port.state())
        return rows

    def _gone(self) -> list[SourceEvent]:
        """Let go of a device that is not there any more."""
        last_ns = self._rows.last_ns if self._rows is not None else 0
        self._release()
        now_ns = time.perf_counter_ns()
        return [(last_ns or now_ns, now_ns, "unplug", "pad", 0)]

    def _return(self) -> list[SourceEvent]:
        """Wait a little; open the device again if it is back."""
        time.sleep(_LOOK_S)
        pads = self._find()
        back = [
            pad
            for pad in pads
            if self._node is not None and pad.readable and pad.same_device(self._node) and pad.key not in self._twins
        ]
        if not back or self._node is None:
            return _NOTHING
        place = self._node.place
        try:
            self._take(min(back, key=lambda pad: pad.place != place), pads)
        except SourceError:
            return _NOTHING
        now_ns = time.perf_counter_ns()
        rows = self._begin()
        return rows if self._port is None else [(now_ns, now_ns, "plug", "pad", 0), *rows]

    def _release(self) -> None:
        if self._port is not None:
            self._port.close()
        self._port = None

    def close(self) -> None:
        """Put the device's settings back and let go of it; safe to call twice."""
        self._open = False
        self._release()


class PacketRows:
    """Translator for one open device.

    Parameters
    ----------
    controls : Controls
        Names of its axes, buttons and hats.

    Notes
    -----
    Both ends of a row's bracket are the kernel's stamp of its packet. Where the kernel's queue overflowed there is a
    gap row from the last packet before to the packet that told of it; what follows is read as usual, and `settle` then
    adds what changed unseen, in the bracket from the last packet before the loss to now. Packets older than the last
    settling are left out: their values are in it already.
    """

    def __init__(self, controls: Controls) -> None:
        self._controls = controls
        self._axes: dict[int, int] = {}
        self._held: dict[str, int] = {}
        self._hats: dict[int, int] = {}
        self.last_ns = 0
        self._since_ns = 0
        self._lost_ns = 0
        self.n_overflows = 0

    @property
    def unsettled(self) -> bool:
        """Whether events were lost since the last settling."""
        return self._lost_ns > 0

    def translate(self, packets: Iterable[Packet]) -> list[SourceEvent]:
        """Return the rows of some packets.

        Parameters
        ----------
        packets : iterable of Packet
            In the order in which they were read.
        """
        rows: list[SourceEvent] = []
        for packet in packets:
            if packet.dropped:
                rows.append(self._overflow(packet.stamp_ns))
            elif packet.stamp_ns >= self._since_ns:
                rows += self._row_for_each(packet)
                self.last_ns = packet.stamp_ns
        return rows

    def _overflow(self, stamp_ns: int) -> SourceEvent:
        self.n_overflows += 1
        before_ns = min(self.last_ns, stamp_ns) or stamp_ns
        self._lost_ns = self._lost_ns or before_ns
        return (before_ns, max(stamp_ns, self._since_ns), "gap", "event queue overflow", self.n_overflows)

    def _row_for_each(self, packet: Packet) -> list[SourceEvent]:
        rows: list[SourceEvent] = []
        at = packet.stamp_ns
        for kind, code, value in packet.events:
            if kind == EV_ABS and code in self._controls.axes:
                self._axes[code] = value
                rows.append((at, at, "axis", self._controls.axes[code], value))
            elif kind == EV_ABS and code in self._controls.hats:
                name = self._controls.hats[code][0]
                self._hats[code] = value
                self._held[name] = self._hat(name)
                rows.append((at, at, "button", name, self._held[name]))
            elif kind == EV_KEY and code in self._controls.buttons and value != _REPEAT:
                self._held[self._controls.buttons[code]] = value
                rows.append((at, at, "button", self._controls.buttons[code], value))
        return rows

    def _hat(self, name: str) -> int:
        """Return a hat's position as the sum of up 1, right 2, down 4 and left 8."""
        parts = ((axis, self._hats.get(code, 0)) for code, (hat, axis) in self._controls.hats.items() if hat == name)
        return sum(_HAT_BITS.get((axis, (value > 0) - (value < 0)), 0) for axis, value in parts)

    def begin(self, now_ns: int, axes: dict[int, int], held: frozenset[int]) -> list[SourceEvent]:
        """Return a row for every axis, and one for every button that is held, as they stand at the start.

        Parameters
        ----------
        now_ns : int, ns
            When they were read, on the kernel's clock.
        axes : dict of int to int
            Value of each axis and hat by its code.
        held : frozenset of int
            Codes of the buttons that are held.
        """
        self._axes, self._held, self._lost_ns = {}, {}, 0
        self.last_ns = now_ns // 1000 * 1000
        return self._differing(self.last_ns, self.last_ns, axes, held)

    def settle(self, now_ns: int, axes: dict[int, int], held: frozenset[int]) -> list[SourceEvent]:
        """Return rows for what changed unseen while events were lost.

        Parameters
        ----------
        now_ns : int, ns
            When they were read, on the kernel's clock.
        axes : dict of int to int
            Value of each axis and hat by its code.
        held : frozenset of int
            Codes of the buttons that are held.
        """
        lo_ns, self._lost_ns = self._lost_ns, 0
        return self._differing(lo_ns, now_ns // 1000 * 1000, axes, held)

    def _differing(self, lo: int, hi: int, axes: dict[int, int], held: frozenset[int]) -> list[SourceEvent]:
        rows: list[SourceEvent] = []
        for code, name in self._controls.axes.items():
            if self._axes.get(code) != axes[code]:
                rows.append((lo, hi, "axis", name, axes[code]))
            self._axes[code] = axes[code]
        self._hats = {code: axes[code] for code in self._controls.hats}
        now = {name: int(code in held) for code, name in self._controls.buttons.items()}
        now |= {name: self._hat(name) for name, _ in self._controls.hats.values()}
        rows += [(lo, hi, "button", name, value) for name, value in now.items() if self._held.get(name, 0) != value]
        self._held = now
        self._since_ns = self.last_ns = hi
        return rows
