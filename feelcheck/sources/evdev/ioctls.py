"""The input system's ioctl numbers and the structures behind them."""

from __future__ import annotations

import fcntl
import struct
from dataclasses import dataclass
from typing import Final

__all__ = [
    "EVIOCSCLOCKID",
    "AxisSetting",
    "InputId",
    "bits",
    "io_number",
    "read_axis",
    "read_bits",
    "read_id",
    "read_keys",
    "read_properties",
    "read_text",
    "set_clock",
    "write_axis",
]

_READ: Final = 2
_WRITE: Final = 1
_ABSINFO = struct.Struct("=6i")
_ID = struct.Struct("=4H")
_TEXT_BYTES = 256
_KEY_BYTES = 96
_PROP_BYTES = 4


def io_number(direction: int, number: int, size: int, group: str = "E") -> int:
    """Return an ioctl's number: direction (1 writes, 2 reads), group, number and size of its argument, packed.

    Parameters
    ----------
    direction : int
        1 writes, 2 reads.
    number : int
        Number of the ioctl within its family.
    size : int
        Bytes of the argument.
    group : str
        Letter of the family of ioctls.

    Notes
    -----
    This is the layout of ``asm-generic/ioctl.h``: 8 bits of number, 8 of group, 14 of size, 2 of direction. A few
    architectures use another one.

    References
    ----------
    Linux kernel, ``include/uapi/asm-generic/ioctl.h`` and ``include/uapi/linux/input.h``.

    Examples
    --------
    >>> hex(io_number(1, 0xA0, 4))
    '0x400445a0'
    """
    return direction << 30 | size << 16 | ord(group) << 8 | number


EVIOCSCLOCKID: Final = io_number(_WRITE, 0xA0, 4)


@dataclass(frozen=True, slots=True, kw_only=True)
class InputId:
    """Bus and numbers of an input device."""

    bus: int
    vendor: int
    product: int
    version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisSetting:
    """What the kernel keeps of one axis: its present value, its range, and how it is smoothed.

    Parameters
    ----------
    value, minimum, maximum : int, counts
        Present value and range.
    fuzz : int, counts
        Changes below half of it are dropped, those below twice of it are averaged with the value before.
    flat : int, counts
        A dead zone that other readers may apply.
    resolution : int
        Counts per unit, 0 where it is not known.
    """

    value: int
    minimum: int
    maximum: int
    fuzz: int = 0
    flat: int = 0
    resolution: int = 0


def bits(mask: bytes) -> frozenset[int]:
    r"""Return the numbers of the bits that are set, lowest first in each byte.

    Parameters
    ----------
    mask : bytes
        Bits as the kernel gives them.

    Examples
    --------
    >>> sorted(bits(b"\x03\x80"))
    [0, 1, 15]
    """
    return frozenset(8 * k + b for k, byte in enumerate(mask) for b in range(8) if byte >> b & 1)


def _fetch(fd: int, number: int, size: int) -> bytes:
    buffer = bytearray(size)
    fcntl.ioctl(fd, io_number(_READ, number, size), buffer)
    return bytes(buffer)


def read_text(fd: int, number: int) -> str:
    """Return a device's name (0x06), place (0x07) or serial text (0x08), empty where it has none.

    Parameters
    ----------
    fd : int
        An open device.
    number : int
        Number of the ioctl: which of the three.
    """
    try:
        return _fetch(fd, number, _TEXT_BYTES).split(b"\0", 1)[0].decode("utf-8", "replace")
    except FileNotFoundError:
        return ""


def read_id(fd: int) -> InputId:
    """Return a device's bus and numbers.

    Parameters
    ----------
    fd : int
        An open device.
    """
    bus, vendor, product, version = _ID.unpack(_fetch(fd, 0x02, _ID.size))
    return InputId(bus=bus, vendor=vendor, product=product, version=version)


def read_bits(fd: int, kind: int) -> frozenset[int]:
    """Return the codes of one kind of event that a device can send.

    Parameters
    ----------
    fd : int
        An open device.
    kind : int
        Type of event.
    """
    return bits(_fetch(fd, 0x20 + kind, _KEY_BYTES))


def read_properties(fd: int) -> frozenset[int]:
    """Return a device's properties.

    Parameters
    ----------
    fd : int
        An open device.
    """
    return bits(_fetch(fd, 0x09, _PROP_BYTES))


def read_keys(fd: int) -> frozenset[int]:
    """Return the codes of the buttons that are held.

    Parameters
    ----------
    fd : int
        An open device.
    """
    return bits(_fetch(fd, 0x18, _KEY_BYTES))


def read_axis(fd: int, code: int) -> AxisSetting:
    """Return what the kernel keeps of one axis.

    Parameters
    ----------
    fd : int
        An open device.
    code : int
        Code of the axis.
    """
    value, low, high, fuzz, flat, resolution = _ABSINFO.unpack(_fetch(fd, 0x40 + code, _ABSINFO.size))
    return AxisSetting(value=value, minimum=low, maximum=high, fuzz=fuzz, flat=flat, resolution=resolution)


def write_axis(fd: int, code: int, axis: AxisSetting) -> None:
    """Set what the kernel keeps of one axis, its present value included.

    Parameters
    ----------
    fd : int
        An open device.
    code : int
        Code of the axis.
    axis : AxisSetting
        What the kernel shall keep.
    """
    packed = _ABSINFO.pack(axis.value, axis.minimum, axis.maximum, axis.fuzz, axis.flat, axis.resolution)
    fcntl.ioctl(fd, io_number(_WRITE, 0xC0 + code, _ABSINFO.size), packed)


def set_clock(fd: int, clock: int) -> None:
    """Choose the clock of the stamps that this open file gets; a later change throws its queue away.

    Parameters
    ----------
    fd : int
        An open device.
    clock : int
        Number of the clock, as in ``clock_gettime``.
    """
    fcntl.ioctl(fd, EVIOCSCLOCKID, struct.pack("=i", clock))
