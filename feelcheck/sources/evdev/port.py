"""An open event device: its clock, its axes, its smoothing switched off and put back."""

from __future__ import annotations

import os
import select
import time
from dataclasses import dataclass, replace
from typing import Protocol

from feelcheck.errors import SourceError
from feelcheck.sources.evdev import ioctls
from feelcheck.sources.evdev.controls import Controls, pad_controls
from feelcheck.sources.evdev.discovery import ACCESS_REMEDY, Node, access_facts
from feelcheck.sources.evdev.ioctls import AxisSetting
from feelcheck.sources.evdev.records import EV_ABS, EV_KEY, Packet, PacketSplitter

__all__ = ["DevicePort", "Port", "Smoothing"]

_AT_ONCE = 64 * 1024
_TRIES = 20
_SETTLE_S = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothing:
    """The kernel's smoothing of one axis before the recording and during it.

    Parameters
    ----------
    fuzz_before, fuzz, flat_before, flat : int, counts
        As found, and as the recording has them.
    """

    fuzz_before: int
    fuzz: int
    flat_before: int
    flat: int


class Port(Protocol):
    """What a source needs of an open device."""

    controls: Controls
    smoothing: dict[str, Smoothing]

    def read(self, wait_s: float) -> list[Packet]:
        """Return what has come, after waiting no longer than that; raises OSError where the device is gone.

        Parameters
        ----------
        wait_s : float, s
            How long to wait for the first packet.
        """

    def state(self) -> tuple[dict[int, int], frozenset[int]]:
        """Return the present value of each axis by its code, and the codes of the buttons that are held."""

    def close(self) -> None:
        """Put everything back and let go; safe to call twice."""


class DevicePort:
    """One event device, opened for a recording.

    Parameters
    ----------
    node : Node
        Which.
    raw : bool
        Whether to switch the kernel's smoothing (fuzz) and the dead zone that it tells other readers (flat) off.

    Raises
    ------
    SourceError
        If it may not be read or is gone.

    Notes
    -----
    The clock is chosen right after opening, on an empty queue. Fuzz and flat belong to the device, not to the open
    file: other programs see them too, and they stay until they are put back or the device is unplugged. Setting them
    also sets the axis' present value, so the value just read is written back, and again if the axis moved meanwhile.
    """

    def __init__(self, node: Node, *, raw: bool = True) -> None:
        self.node = node
        self._fd = _opened(node)
        self._splitter = PacketSplitter()
        self._before: dict[int, AxisSetting] = {}
        self.smoothing: dict[str, Smoothing] = {}
        try:
            ioctls.set_clock(self._fd, time.CLOCK_MONOTONIC)
            settings = {code: ioctls.read_axis(self._fd, code) for code in ioctls.read_bits(self._fd, EV_ABS)}
            self.controls = pad_controls(settings, ioctls.read_bits(self._fd, EV_KEY))
            if raw:
                self._unsmooth(settings)
            self.smoothing = {
                name: self._compared(settings[code], ioctls.read_axis(self._fd, code))
                for code, name in self.controls.axes.items()
            }
        except OSError as problem:
            self.close()
            raise _unusable(node, problem) from None
        self._poll = select.poll()
        self._poll.register(self._fd, select.POLLIN)

    @staticmethod
    def _compared(before: AxisSetting, now: AxisSetting) -> Smoothing:
        return Smoothing(fuzz_before=before.fuzz, fuzz=now.fuzz, flat_before=before.flat, flat=now.flat)

    def _unsmooth(self, settings: dict[int, AxisSetting]) -> None:
        for code in self.controls.axes:
            if settings[code].fuzz or settings[code].flat:
                self._before[code] = settings[code]
                self._set(code, fuzz=0, flat=0)

    def _set(self, code: int, *, fuzz: int, flat: int) -> None:
        """Set fuzz and flat of an axis and leave its value as it is."""
        self._drain()
        now = ioctls.read_axis(self._fd, code)
        for _ in range(_TRIES):
            try:
                ioctls.write_axis(self._fd, code, replace(now, fuzz=fuzz, flat=flat))
            except PermissionError:
                return
            # A report that the kernel was half-way through when the value was set shows up a moment later.
            time.sleep(_SETTLE_S)
            kept = ioctls.read_axis(self._fd, code)
            last = self._drain().get(code, now.value)
            if kept.value == last:
                return
            now = replace(now, value=last)

    def _drain(self) -> dict[int, int]:
        """Empty the queue; return the last value of each axis that was in it."""
        last: dict[int, int] = {}
        while packets := self._taken():
            for packet in packets:
                last |= {code: value for kind, code, value in packet.events if kind == EV_ABS}
        return last

    def _taken(self) -> list[Packet]:
        try:
            data = os.read(self._fd, _AT_ONCE)
        except BlockingIOError:
            return []
        return self._splitter.feed(data)

    def read(self, wait_s: float) -> list[Packet]:
        """Return what has come, after waiting no longer than that; raises OSError where the device is gone."""
        if self._fd < 0 or not self._poll.poll(wait_s * 1e3):
            return []
        return self._taken()

    def state(self) -> tuple[dict[int, int], frozenset[int]]:
        """Return the present value of each axis by its code, and the codes of the buttons that are held."""
        codes = [*self.controls.axes, *self.controls.hats]
        return {code: ioctls.read_axis(self._fd, code).value for code in codes}, ioctls.read_keys(self._fd)

    def close(self) -> None:
        """Put fuzz and flat back as they were and let go; safe to call twice."""
        if self._fd < 0:
            return
        try:
            for code, before in self._before.items():
                self._set(code, fuzz=before.fuzz, flat=before.flat)
        except OSError:
            pass  # The device is gone, and its settings with it.
        finally:
            self._before = {}
            os.close(self._fd)
            self._fd = -1


def _opened(node: Node) -> int:
    """Open a node for reading and setting, or for reading alone where no more is allowed."""
    for access in (os.O_RDWR, os.O_RDONLY):
        try:
            return os.open(node.path, access | os.O_NONBLOCK | os.O_CLOEXEC)
        except PermissionError:
            continue
        except OSError as problem:
            raise _unusable(node, problem) from None
    raise SourceError("The pad may not be read by this user.", access_facts(node), ACCESS_REMEDY)


def _unusable(node: Node, problem: OSError) -> SourceError:
    facts = {"pad": node.name, "node": node.path, "reason": problem.strerror or problem}
    return SourceError("The pad cannot be opened.", facts, "Plug it in again and try once more.")
