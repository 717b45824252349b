"""From packets to rows of a session."""

from __future__ import annotations

from collections.abc import Iterable

from feelcheck.model import SourceEvent
from feelcheck.sources.evdev.controls import Controls
from feelcheck.sources.evdev.records import EV_ABS, EV_KEY, Packet

__all__ = ["PacketRows"]

_HAT_BITS = {(0, 1): 2, (0, -1): 8, (1, 1): 4, (1, -1): 1}
_REPEAT = 2


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
        """Return the rows of some packets."""
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
        """Return a row for every axis, and one for every button that is held, as they stand at the start."""
        self._axes, self._held, self._lost_ns = {}, {}, 0
        self.last_ns = now_ns // 1000 * 1000
        return self._differing(self.last_ns, self.last_ns, axes, held)

    def settle(self, now_ns: int, axes: dict[int, int], held: frozenset[int]) -> list[SourceEvent]:
        """Return rows for what changed unseen while events were lost."""
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
