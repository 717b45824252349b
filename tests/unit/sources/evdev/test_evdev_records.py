"""Packets out of packed input events; layout and constants after the kernel's public headers."""

from __future__ import annotations

import struct

import pytest

from feelcheck.sources.evdev import ioctls
from feelcheck.sources.evdev.records import PacketSplitter, event_dtype

LAYOUTS = {8: "=QQHHi", 4: "=IIHHi"}


def packed(long_bytes: int, *records: tuple[int, int, int, int, int]) -> bytes:
    return b"".join(struct.pack(LAYOUTS[long_bytes], *record) for record in records)


@pytest.mark.parametrize(("long_bytes", "size"), [(8, 24), (4, 16)])
def test_one_record_has_the_size_of_the_systems_own_structure(long_bytes: int, size: int) -> None:
    assert event_dtype(long_bytes).itemsize == size == struct.calcsize({8: "=qqHHi", 4: "=llHHi"}[long_bytes])


def test_this_systems_layout_is_that_of_its_native_longs() -> None:
    assert event_dtype().itemsize == struct.calcsize("@llHHi")


@pytest.mark.parametrize("long_bytes", [8, 4])
def test_a_packet_ends_at_its_report_and_carries_its_stamp(long_bytes: int) -> None:
    data = packed(long_bytes, (7, 250, 3, 0, -32768), (7, 250, 1, 0x130, 1), (7, 250, 0, 0, 0))
    (packet,) = PacketSplitter(long_bytes).feed(data)
    assert packet.stamp_ns == 7_000_250_000
    assert packet.events == ((3, 0, -32768), (1, 0x130, 1))
    assert not packet.dropped


@pytest.mark.parametrize("cut", [1, 7, 23, 24, 25, 40, 71])
def test_a_torn_read_loses_nothing(cut: int) -> None:
    data = packed(8, (1, 5, 3, 0, 11), (1, 5, 0, 0, 0), (1, 6, 3, 1, -12), (1, 6, 0, 0, 0))
    splitter = PacketSplitter(8)
    packets = splitter.feed(data[:cut]) + splitter.feed(data[cut:])
    assert [packet.events for packet in packets] == [((3, 0, 11),), ((3, 1, -12),)]
    assert [packet.stamp_ns for packet in packets] == [1_000_005_000, 1_000_006_000]


def test_what_stands_around_an_overflow_is_not_used() -> None:
    data = packed(
        8,
        (1, 1, 3, 0, 1),  # torn off by the overflow
        (1, 9, 0, 3, 0),
        (1, 9, 3, 1, 2),  # up to and including the next report: to be ignored
        (1, 9, 0, 0, 0),
        (2, 0, 3, 0, 3),
        (2, 0, 0, 0, 0),
    )
    lost, after = PacketSplitter(8).feed(data)
    assert lost.dropped
    assert lost.events == ()
    assert (after.dropped, after.events) == (False, ((3, 0, 3),))


@pytest.mark.parametrize(
    ("got", "known"),
    [
        (ioctls.EVIOCSCLOCKID, 0x400445A0),
        (ioctls.io_number(2, 0x06, 256), 0x81004506),  # EVIOCGNAME(256)
        (ioctls.io_number(2, 0x40, 24), 0x80184540),  # EVIOCGABS(ABS_X)
        (ioctls.io_number(1, 0xC0, 24), 0x401845C0),  # EVIOCSABS(ABS_X)
        (ioctls.io_number(0, 1, 0, "U"), 0x5501),  # UI_DEV_CREATE of linux/uinput.h
    ],
)
def test_ioctl_numbers_are_those_of_the_headers(got: int, known: int) -> None:
    assert got == known


def test_masks_name_the_bits_that_are_set() -> None:
    assert sorted(ioctls.bits(b"\x21\x00\x80")) == [0, 5, 23]
