"""The event-device source on packed records through a pipe; device settings and nodes stand in a fake."""

from __future__ import annotations

import itertools
import os
import select
import struct
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from feelcheck.errors import SourceError
from feelcheck.model import Source, SourceEvent, SourceKind
from feelcheck.sources.evdev.controls import pad_controls
from feelcheck.sources.evdev.discovery import Node, choose
from feelcheck.sources.evdev.ioctls import AxisSetting, InputId
from feelcheck.sources.evdev.port import Smoothing
from feelcheck.sources.evdev.records import Packet, PacketSplitter
from feelcheck.sources.evdev.source import EvdevSource

RANGE = AxisSetting(value=0, minimum=-32768, maximum=32767)
HAT = AxisSetting(value=0, minimum=-1, maximum=1)
SYN = (0, 0, 0)
DROPPED = (0, 3, 0)


class PipePort:
    """An open device whose events come through a pipe; closing its writing end is the unplugging."""

    def __init__(self, node: Node | None = None) -> None:
        self.fd, self.pen = os.pipe()
        os.set_blocking(self.fd, False)
        self.controls = pad_controls({0: RANGE, 1: RANGE, 0x10: HAT, 0x11: HAT}, frozenset({0x130, 0x131}))
        self.smoothing = {"left_x": Smoothing(fuzz_before=16, fuzz=0, flat_before=128, flat=0)}
        self.axes = {0: 0, 1: 0, 0x10: 0, 0x11: 0}
        self.held: frozenset[int] = frozenset()
        self.closed = False
        self._splitter = PacketSplitter(8)

    def send(self, t_ns: int, *events: tuple[int, int, int]) -> None:
        for kind, code, value in events:
            if kind == 3:
                self.axes[code] = value
        parts = (struct.pack("=QQHHi", t_ns // 10**9, t_ns % 10**9 // 1000, *event) for event in events)
        os.write(self.pen, b"".join(parts))

    def unplug(self) -> None:
        os.close(self.pen)

    def read(self, wait_s: float) -> list[Packet]:
        if not select.select([self.fd], [], [], wait_s)[0]:
            return []
        data = os.read(self.fd, 65536)
        if not data:
            raise OSError(19, "No such device")
        return self._splitter.feed(data)

    def state(self) -> tuple[dict[int, int], frozenset[int]]:
        return dict(self.axes), self.held

    def close(self) -> None:
        self.closed = True


def node(
    number: int = 3,
    name: str = "alder pad",
    inode: int = 1,
    readable: bool = True,
    serial: str = "",
    place: str = "usb-1",
) -> Node:
    numbers = InputId(bus=3, vendor=1, product=2, version=3)
    path = Path(f"/dev/input/event{number}")
    return Node(path=path, name=name, place=place, serial=serial, numbers=numbers, inode=inode, readable=readable)


def now_us() -> int:
    return time.perf_counter_ns() // 1000 * 1000


class Desk:
    """A source on one pad: the pads that are there, the ports that were opened, the source and its events."""

    def __init__(self, *pads: Node) -> None:
        self.pads = list(pads)
        self.ports: list[PipePort] = []
        self.source = EvdevSource(find=lambda: list(self.pads), opened=self.opened)
        self.source.open()
        self.batches = self.source.events()

    def opened(self, node: Node) -> PipePort:
        self.ports.append(PipePort(node))
        return self.ports[-1]

    def rows(self) -> list[SourceEvent]:
        return next(batch for batch in itertools.islice(self.batches, 100) if batch)


@pytest.fixture
def desk() -> Iterator[Desk]:
    desk = Desk(node())
    yield desk
    desk.source.close()


def test_the_value_at_the_start_is_the_first_row_of_each_axis(desk: Desk) -> None:
    desk.ports[0].axes[1] = -7
    rows = desk.rows()
    assert [(kind, name, value) for _, _, kind, name, value in rows] == [("axis", "left_x", 0), ("axis", "left_y", -7)]


def test_both_ends_of_a_bracket_are_the_kernels_stamp(desk: Desk) -> None:
    desk.rows()
    at = now_us()
    desk.ports[0].send(at, (3, 0, 1200), (1, 0x131, 1), SYN)
    assert desk.rows() == [(at, at, "axis", "left_x", 1200), (at, at, "button", "button_1", 1)]


def test_a_hat_is_one_button_with_the_sum_of_its_directions(desk: Desk) -> None:
    desk.rows()
    at = now_us()
    desk.ports[0].send(at, (3, 0x10, 1), (3, 0x11, -1), SYN)
    assert [row[3:] for row in desk.rows()] == [("hat_0", 2), ("hat_0", 3)]


def test_what_was_queued_before_the_start_is_not_recorded(desk: Desk) -> None:
    desk.ports[0].send(now_us(), (3, 0, 55), SYN)
    assert [row[4] for row in desk.rows()] == [55, 0]
    assert next(desk.batches) == []


def test_an_overflow_is_a_gap_and_the_state_is_read_again(desk: Desk) -> None:
    desk.rows()
    first, lost, later = (now_us() + k * 1000 for k in range(3))
    port = desk.ports[0]
    port.send(first, (3, 0, 10), SYN)
    assert desk.rows()[0][1] == first
    port.send(lost, DROPPED, (3, 1, 4), SYN)
    port.send(later, (3, 0, 30), SYN)
    port.axes[1] = 999
    port.held = frozenset({0x130})
    gap, seen, unseen, button = desk.rows()
    assert gap == (first, lost, "gap", "event queue overflow", 1)
    assert seen == (later, later, "axis", "left_x", 30)
    assert (unseen[0], unseen[2:]) == (first, ("axis", "left_y", 999))
    assert button[2:] == ("button", "button_0", 1)
    assert unseen[1] >= lost


def test_an_unplugged_pad_that_comes_back_is_opened_again(desk: Desk) -> None:
    desk.rows()
    desk.pads = []
    desk.ports[0].unplug()
    assert [row[2] for row in desk.rows()] == ["unplug"]
    assert desk.ports[0].closed
    desk.pads = [node(number=3, inode=9)]
    assert [row[2:4] for row in desk.rows()] == [("plug", "pad"), ("axis", "left_x"), ("axis", "left_y")]
    at = now_us()
    desk.ports[1].send(at, (3, 0, 5), SYN)
    assert desk.rows() == [(at, at, "axis", "left_x", 5)]


def test_neither_a_twin_that_was_there_nor_another_model_is_taken_for_the_pad() -> None:
    twin, other = node(number=4, inode=2), node(number=5, inode=3, name="birch pad")
    desk = Desk(node(), twin, other)
    next(desk.batches)
    del desk.pads[0]
    desk.ports[0].unplug()
    assert next(desk.batches)[0][2] == "unplug"
    assert next(desk.batches) == []
    desk.pads.insert(0, node(inode=7))
    assert next(desk.batches)[0][2] == "plug"
    desk.source.close()


def test_closing_ends_the_events_and_lets_the_device_go(desk: Desk) -> None:
    desk.rows()
    desk.source.close()
    desk.source.close()
    assert desk.ports[0].closed
    assert list(desk.batches) == []


def test_the_header_tells_clock_smoothing_and_other_pads() -> None:
    pads = [node(), node(number=4, inode=2, name="birch pad")]
    source = EvdevSource(find=lambda: pads, opened=PipePort)
    with pytest.raises(SourceError, match="was not opened"):
        source.describe()
    source.open()
    told = source.describe()
    source.close()
    assert isinstance(source, Source)
    assert told["clock"] == {"kind": "kernel", "name": "CLOCK_MONOTONIC"}
    assert told["kernel_smoothing_before"] == "left_x 16"
    assert told["kernel_smoothing"] == "none"
    assert told["other_pads"] == "birch pad (/dev/input/event4)"
    assert [axis["name"] for axis in told["axes"]] == ["left_x", "left_y"]
    assert told["guid"] == "03000000010000000200000003000000"  # bus 3, vendor 1, product 2, version 3


@pytest.mark.parametrize(
    ("device", "number"), [("", 3), ("birch", 4), ("1", 4), ("event4", 4), ("/dev/input/event4", 4)]
)
def test_two_pads_are_told_apart_by_name_number_or_path(device: str, number: int) -> None:
    pads = [node(), node(number=4, inode=2, name="Birch pad")]
    assert choose(pads, device).path.name == f"event{number}"


def test_an_unreadable_pad_is_explained_with_what_helps() -> None:
    with pytest.raises(SourceError, match=r"(?s)may not be read.*alder pad.*usermod -aG input.*udev rule.*own screen"):
        choose([node(readable=False)], "")


def test_the_first_pad_that_may_be_read_is_taken() -> None:
    assert choose([node(readable=False), node(number=6)], "").path.name == "event6"


def test_no_pad_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "event0").touch()
    with pytest.raises(SourceError, match=r"(?s)No pad was found.*1 device in.*Plug one in"):
        choose([], "", tmp_path)
    with pytest.raises(SourceError, match=r"(?s)No pad of that name.*wanted: oak.*alder pad"):
        choose([node()], "oak")


def test_other_systems_are_told_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    from feelcheck.sources import kinds

    assert isinstance(kinds.EVDEV, SourceKind)
    monkeypatch.setattr("feelcheck.sources.evdev.system.sys.platform", "win32")
    with pytest.raises(SourceError, match=r"(?s)exist on Linux only.*win32.*--source gamepad"):
        EvdevSource().open()
