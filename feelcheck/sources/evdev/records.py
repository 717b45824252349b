"""From a stream of input events to packets, wherever a read ends."""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np

__all__ = ["EV_ABS", "EV_KEY", "EV_SYN", "SYN_DROPPED", "SYN_REPORT", "Packet", "PacketSplitter", "event_dtype"]

EV_SYN, EV_KEY, EV_ABS = 0, 1, 3
SYN_REPORT, SYN_DROPPED = 0, 3


def event_dtype(long_bytes: int = struct.calcsize("@l")) -> np.dtype[np.void]:
    """Return the layout of ``struct input_event``: 24 bytes where a long has 8 of them, else 16.

    Parameters
    ----------
    long_bytes : int
        Bytes of a C long.

    References
    ----------
    Linux kernel, ``include/uapi/linux/input.h``: seconds and microseconds are unsigned longs of the kernel's ABI.

    Examples
    --------
    >>> event_dtype(8).itemsize, event_dtype(4).itemsize
    (24, 16)
    """
    stamp = f"u{long_bytes}"
    return np.dtype([("sec", stamp), ("usec", stamp), ("type", "u2"), ("code", "u2"), ("value", "i4")])


@dataclass(frozen=True, slots=True, kw_only=True)
class Packet:
    """Everything up to one SYN_REPORT.

    Parameters
    ----------
    stamp_ns : int
        The SYN_REPORT's stamp, which all events of the packet share.
    events : tuple of (int, int, int)
        Type, code and value.
    dropped : bool
        Whether the kernel's queue overflowed before: events were lost, and those of this packet must not be used.
    """

    stamp_ns: int
    events: tuple[tuple[int, int, int], ...] = ()
    dropped: bool = False


class PacketSplitter:
    """Cuts bytes as they were read into packets; what is torn waits for the next read.

    Parameters
    ----------
    long_bytes : int
        Bytes of a long of the system.

    Examples
    --------
    >>> import struct
    >>> report = struct.pack("=QQHHi", 2, 5, 3, 0, 77) + struct.pack("=QQHHi", 2, 5, 0, 0, 0)
    >>> splitter = PacketSplitter(8)
    >>> splitter.feed(report[:30]), splitter.feed(report[30:])[0].events
    ([], ((3, 0, 77),))
    """

    def __init__(self, long_bytes: int = struct.calcsize("@l")) -> None:
        self._dtype = event_dtype(long_bytes)
        self._bytes = b""
        self._events: list[tuple[int, int, int]] = []
        self._dropped = False

    def feed(self, data: bytes) -> list[Packet]:
        """Return the packets that `data` completes.

        Parameters
        ----------
        data : bytes
            As read from the device; it may end inside a record.
        """
        self._bytes += data
        whole = len(self._bytes) // self._dtype.itemsize
        records = np.frombuffer(self._bytes, self._dtype, whole).tolist()
        self._bytes = self._bytes[whole * self._dtype.itemsize :]
        packets = []
        for sec, usec, kind, code, value in records:
            if kind != EV_SYN:
                self._events.append((kind, code, value))
            elif code == SYN_DROPPED:
                self._dropped = True
            elif code == SYN_REPORT:
                events = () if self._dropped else tuple(self._events)
                stamp_ns = (sec * 1_000_000 + usec) * 1000
                packets.append(Packet(stamp_ns=stamp_ns, events=events, dropped=self._dropped))
                self._events, self._dropped = [], False
        return packets
