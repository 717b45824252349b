"""Event devices of a real kernel; run inside the machine of ``machine.py``, where uinput makes the pads."""

from __future__ import annotations

import contextlib
import fcntl
import os
import random
import struct
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck.capturing.child import CaptureChild
from feelcheck.capturing.script_wire import script_to_wire
from feelcheck.errors import SourceError
from feelcheck.model import Action, Script, SourceEvent, Step
from feelcheck.sources import kinds
from feelcheck.sources.evdev import ioctls
from feelcheck.sources.evdev.discovery import find_pads
from feelcheck.sources.evdev.ioctls import AxisSetting
from feelcheck.sources.evdev.port import DevicePort
from feelcheck.sources.evdev.source import EvdevSource

X, Y, HAT_X = 0, 1, 0x10
AXES = (0, 1, 2, 3, 4, 5)
KEYS = (0x130, 0x131, 0x133, 0x134, 0x136, 0x137, 0x13A, 0x13B, 0x13C, 0x13D, 0x13E)
KERNEL = tuple(int(part) for part in os.uname().release.split(".")[:2])
TAKES_STAMPS = KERNEL >= (6, 12)
STILL = Script(name="still", title="Rest", steps=(Step(action=Action.REST, duration_s=3.0),))


def number(direction: int, command: int, size: int) -> int:
    return ioctls.io_number(direction, command, size, "U")


class Pad:
    """A pad made through uinput: six 16-bit axes, a hat, eleven buttons (linux/uinput.h, version 5)."""

    def __init__(self, name: str = "alder pad", fuzz: int = 0, flat: int = 0, product: int = 7) -> None:
        self.fd = os.open("/dev/uinput", os.O_RDWR | os.O_NONBLOCK)
        for kind in (1, 3):
            fcntl.ioctl(self.fd, number(1, 100, 4), kind)
        for key in KEYS:
            fcntl.ioctl(self.fd, number(1, 101, 4), key)
        for code in (*AXES, HAT_X, HAT_X + 1):
            low, high = (-1, 1) if code >= HAT_X else (0, 255) if code in (2, 5) else (-32768, 32767)
            smooth = (fuzz, flat) if code < 2 else (0, 0)
            setup = struct.pack("=HH6i", code, 0, 0, low, high, *smooth, 0)
            fcntl.ioctl(self.fd, number(1, 4, len(setup)), setup)
        setup = struct.pack("=4H80sI", 3, 0x1209, product, 1, name.encode(), 0)
        fcntl.ioctl(self.fd, number(1, 3, len(setup)), setup)
        fcntl.ioctl(self.fd, number(0, 1, 0))
        self.path = wait_for(lambda: [pad.path for pad in find_pads() if pad.name == name])[-1]

    def send(self, *events: tuple[int, int, int], at_ns: int = 0) -> None:
        sec, usec = at_ns // 10**9, at_ns % 10**9 // 1000
        os.write(self.fd, b"".join(struct.pack("=QQHHi", sec, usec, *event) for event in (*events, (0, 0, 0))))

    def setting(self, code: int) -> AxisSetting:
        fd = os.open(self.path, os.O_RDONLY)
        try:
            return ioctls.read_axis(fd, code)
        finally:
            os.close(fd)

    def unplug(self) -> None:
        if self.fd >= 0:
            os.close(self.fd)
        self.fd = -1


def wait_for(found: Callable[[], Any], limit_s: float = 15.0) -> Any:
    until_s = time.monotonic() + limit_s
    while not (result := found()):
        assert time.monotonic() < until_s, "nothing came"
        time.sleep(0.01)
    return result


@pytest.fixture
def plug() -> Iterator[Callable[..., Pad]]:
    """Plug pads in; all are unplugged at the end."""
    pads: list[Pad] = []

    def plugged(**options: Any) -> Pad:
        pads.append(Pad(**options))
        return pads[-1]

    yield plugged
    for pad in pads:
        pad.unplug()
    wait_for(lambda: not find_pads())


@contextlib.contextmanager
def reading(device: str = "") -> Iterator[tuple[EvdevSource, Iterator[list[SourceEvent]]]]:
    source = EvdevSource(device)
    source.open()
    try:
        batches = source.events()
        assert next(batches)
        yield source, batches
    finally:
        source.close()


def rows_of(batches: Iterator[list[SourceEvent]], n_quiet: int = 3, limit_s: float = 15.0) -> list[SourceEvent]:
    """Return everything until nothing came a few times running."""
    rows: list[SourceEvent] = []
    quiet, until_s = 0, time.monotonic() + limit_s
    while quiet < n_quiet and time.monotonic() < until_s:
        batch = next(batches)
        rows += batch
        quiet = 0 if batch else quiet + 1
    return rows


@pytest.mark.skipif(not TAKES_STAMPS, reason="this kernel stamps injected events itself")
def test_the_writers_own_stamps_come_out_exactly(plug: Callable[..., Pad]) -> None:
    pad = plug()
    with reading() as (_, batches):
        time.sleep(0.3)
        start_ns = (time.perf_counter_ns() - 250_000_000) // 1000 * 1000
        sent = [(start_ns + k * 1_000_000 + (k % 7) * 1000, 100 + k) for k in range(200)]
        got = []
        for k, (at_ns, value) in enumerate(sent):
            pad.send((3, X, value), at_ns=at_ns)
            if k % 20 == 19:
                got += rows_of(batches, 1)
    assert got == [(at, at, "axis", "left_x", value) for at, value in sent]


def test_the_kernels_stamps_lie_between_before_and_after_the_writing(plug: Callable[..., Pad]) -> None:
    pad = plug()
    between = []
    with reading() as (_, batches):
        for k in range(300):
            before_ns = time.perf_counter_ns() // 1000 * 1000
            pad.send((3, X, k + 1), (3, Y, -k - 1))
            after_ns = time.perf_counter_ns()
            rows = rows_of(batches, 1)
            assert [row[4] for row in rows] == [k + 1, -k - 1]
            assert len({row[:2] for row in rows}) == 1
            between.append(before_ns <= rows[0][0] == rows[0][1] <= after_ns)
    assert all(between)


def test_an_overflow_is_one_gap_and_the_true_state_follows(plug: Callable[..., Pad]) -> None:
    pad = plug()
    with reading() as (_, batches):
        pad.send((3, X, 1))
        (first,) = rows_of(batches)
        pad.send((3, Y, 1234), (1, 0x130, 1))
        for k in range(400):
            pad.send((3, X, 2 + k))
        rows = rows_of(batches)
    gaps = [row for row in rows if row[2] == "gap"]
    assert len(gaps) == 1
    assert gaps[0][0] == first[1] < gaps[0][1]
    last = {row[3]: row for row in rows if row[2] in ("axis", "button")}
    assert (last["left_x"][4], last["left_y"][4], last["button_0"][4]) == (401, 1234, 1)
    assert last["left_y"][0] == first[1]
    stamps = [row[1] for row in rows if row[2] == "axis"]
    assert stamps == sorted(stamps)


def noise(n: int) -> list[int]:
    """Return small motions, each different from the one before, as a resting 16-bit stick makes them."""
    steps = np.random.default_rng(5).integers(1, 200, n) * np.where(np.arange(n) % 2, 1, -1)
    return [int(value) for value in np.cumsum(steps)]


def test_fuzz_is_off_while_recording_and_back_afterwards(plug: Callable[..., Pad]) -> None:
    pad, values = plug(fuzz=255, flat=4095), noise(600)
    pad.send((3, X, 5000))
    with reading() as (source, batches):
        assert pad.setting(X) == AxisSetting(value=5000, minimum=-32768, maximum=32767)
        told = source.describe()
        got = []
        for value in values:
            pad.send((3, X, value))
            got += [row[4] for row in rows_of(batches, 1)]
    assert got == values
    assert told["kernel_smoothing_before"] == "left_x 255, left_y 255"
    assert told["kernel_smoothing"] == "none"
    assert told["smoothing"]["left_x"] == {"fuzz_before": 255, "fuzz": 0, "flat_before": 4095, "flat": 0}
    after = pad.setting(X)
    assert (after.value, after.fuzz, after.flat) == (values[-1], 255, 4095)


def test_with_fuzz_the_kernel_would_drop_and_invent_values(plug: Callable[..., Pad]) -> None:
    pad, values = plug(fuzz=255), noise(300)
    port = DevicePort(find_pads()[0], raw=False)
    got = []
    for value in values:
        pad.send((3, X, value))
        got += [event[2] for packet in port.read(0.002) for event in packet.events]
    port.close()
    assert len(got) < 0.8 * len(values)
    assert set(got) - set(values)


def test_opening_and_closing_never_leave_a_moving_axis_at_an_old_value(plug: Callable[..., Pad]) -> None:
    pad, stop = plug(fuzz=16, flat=128), threading.Event()
    sent = [0]

    def move() -> None:
        while not stop.is_set():
            sent[0] = (sent[0] + 997) % 30000
            pad.send((3, X, sent[0]))
            time.sleep(0.0005)

    mover = threading.Thread(target=move)
    mover.start()
    for _ in range(25):
        port = DevicePort(find_pads()[0])
        port.close()
    port = DevicePort(find_pads()[0])
    stop.set()
    mover.join()
    assert pad.setting(X).value == port.state()[0][X] == sent[0]
    port.close()
    assert pad.setting(X) == AxisSetting(value=sent[0], minimum=-32768, maximum=32767, fuzz=16, flat=128)


def test_a_pad_that_comes_back_goes_on_and_another_one_is_not_taken(plug: Callable[..., Pad]) -> None:
    pad = plug()
    with reading() as (_, batches):
        pad.send((1, 0x130, 1))
        assert rows_of(batches)[0][2:] == ("button", "button_0", 1)
        pad.unplug()
        assert [row[2] for row in rows_of(batches)][-1] == "unplug"
        plug(name="birch pad", product=8)
        assert rows_of(batches, 5) == []
        again = plug()
        rows = wait_for(lambda: rows_of(batches, 1))
        assert [row[2] for row in rows[:2]] == ["plug", "axis"]
        again.send((3, X, -77))
        assert rows_of(batches)[-1][2:] == ("axis", "left_x", -77)


def test_without_the_right_to_read_the_pad_is_named_with_the_remedy(plug: Callable[..., Pad]) -> None:
    pad = plug(fuzz=16)
    pad.path.chmod(0o600)
    os.seteuid(65534)
    try:
        assert [(found.name, found.readable) for found in find_pads()] == [("alder pad", False)]
        with pytest.raises(SourceError, match=r"(?s)may not be read.*alder pad.*600, group root.*group.*udev rule"):
            EvdevSource().open()
    finally:
        os.seteuid(0)
    pad.path.chmod(0o444)
    os.seteuid(65534)
    try:
        with reading() as (source, _):
            assert source.describe()["kernel_smoothing"] == "none"
    finally:
        os.seteuid(0)


def test_no_pad_and_two_pads(plug: Callable[..., Pad]) -> None:
    with pytest.raises(SourceError, match=r"(?s)No pad was found.*Plug one in"):
        EvdevSource().open()
    plug()
    second = plug(name="birch pad", product=8)
    for device in ("birch", str(second.path), "1"):
        source = EvdevSource(device)
        source.open()
        assert (source.describe()["device"], source.describe()["path"]) == ("birch pad", str(second.path))
        assert source.describe()["other_pads"].startswith("alder pad")
        source.close()


@pytest.mark.full  # programs take tens of seconds to start in there
def test_sdl_reads_the_same_pad_with_the_same_values_and_names(plug: Callable[..., Pad]) -> None:
    from feelcheck.sources.gamepad.pad import GamepadSource

    pad = plug()
    sdl = GamepadSource()
    with reading() as (source, batches):
        sdl.open()
        polls = sdl.events()
        next(polls)
        here, there = source.describe(), sdl.describe()
        # Below 1.25 % of full throw SDL hides what was never moved further.
        values = [20000, *(int(v) for v in np.random.default_rng(3).integers(-32768, 32768, 300))]
        values = [value for value, before in zip(values, [0, *values], strict=False) if value != before]
        got: dict[str, list[tuple[str, int]]] = {"evdev": [], "sdl": []}
        for k, value in enumerate(values):
            pad.send(
                (3, (0, 1, 3, 4)[k % 4] if k >= 4 else k % 4 + (k % 4 > 1), value or 1), (1, KEYS[k % 11], k // 11 % 2)
            )
            got["evdev"] += [(row[3], row[4]) for row in rows_of(batches, 1)]
            got["sdl"] += [(row[3], row[4]) for _ in range(3) for row in next(polls)]
        sdl.close()
    axes = {name: [row for row in rows if "_x" in row[0] or "_y" in row[0]] for name, rows in got.items()}
    assert len(axes["evdev"]) == len(values)
    assert sorted(got["evdev"]) == sorted(got["sdl"])
    assert axes["evdev"] == axes["sdl"]
    assert there["path"] == here["path"]
    assert [axis["name"] for axis in here["axes"]] == [axis["name"] for axis in there["axes"]]


def heard(child: CaptureChild, word: str) -> Any:
    """Return what the capture process says under a word."""
    message = child.listen(60.0)
    assert message is not None
    return message[word]


@pytest.mark.full  # programs take tens of seconds to start in there
def test_the_list_of_devices_tells_one_pad_with_its_smoothing_and_rights(plug: Callable[..., Pad]) -> None:
    from feelcheck.sources.devices import list_devices

    pad = plug(fuzz=255)
    (report,) = list_devices(0.2)
    assert (report.source, report.backends, report.path) == ("evdev", ("evdev", "SDL system"), str(pad.path))
    assert {limit.code for limit in report.limits} == {"smoothing", "silent"}
    assert pad.setting(X).fuzz == 255
    pad.path.chmod(0o600)
    os.seteuid(65534)
    try:
        (report, *_) = list_devices(0.0)
    finally:
        os.seteuid(0)
    assert "permission" in {limit.code for limit in report.limits}


def spun(pad: Pad, stop: threading.Event, sent: list[tuple[int, int, int]]) -> None:
    """Write about a thousand new values a second until told to stop; keep before, after and value of each."""
    k = 0
    while not stop.is_set():
        k += 1
        before_ns = time.perf_counter_ns() // 1000 * 1000
        pad.send((3, X, k % 32000))
        sent.append((before_ns, time.perf_counter_ns(), k % 32000))
        time.sleep(0.0008)


@pytest.mark.full  # programs take tens of seconds to start in there
def test_a_whole_session_holds_every_report_at_its_true_time(
    plug: Callable[..., Pad], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from feelcheck import plugins
    from feelcheck.formats.session import READER  # pandas takes half a minute to start in there
    from feelcheck.recorder import RecordingAsked, record_session

    plugin = plugins.Plugin(group="feelcheck.sources", name="evdev", reference="feelcheck.sources.kinds:EVDEV")
    monkeypatch.setattr(plugins, "find", lambda group, name, **_: (plugin, kinds.EVDEV))
    pad, stop, sent = plug(fuzz=16), threading.Event(), list[tuple[int, int, int]]()
    mover = threading.Thread(target=spun, args=(pad, stop, sent))

    def begin(_: object) -> None:
        if mover.ident is None:
            mover.start()

    folder = record_session(
        RecordingAsked(specimen="alder", script=STILL, source="evdev", out=tmp_path, progress=begin)
    )
    stop.set()
    mover.join()
    recording = READER.read(folder)
    stream = recording.stream("left_x")
    assert (stream.time.clock, recording.gaps) == ("kernel", ())
    lines = (folder / "events.csv").read_text().splitlines()
    got = {int(row[4]): int(row[0]) for line in lines if (row := line.split(","))[3] == "left_x"}
    last_ns = max(got.values())
    inside = [row for row in sent if row[1] < last_ns]
    assert len(inside) > 300
    assert all(before_ns <= got[value] <= after_ns for before_ns, after_ns, value in inside)
    assert stream.codes.tolist() == list(got)
    assert recording.provenance.facts["kernel_smoothing_before"] == "left_x 16, left_y 16"
    assert pad.setting(X).fuzz == 16


@pytest.mark.full  # programs take tens of seconds to start in there
def test_a_killed_capture_keeps_what_it_had_written(plug: Callable[..., Pad], tmp_path: Path) -> None:
    pad = plug()
    options = {"script": script_to_wire(STILL), "device": "alder"}
    for trial in range(3):
        stop, sent = threading.Event(), list[tuple[int, int, int]]()
        child = CaptureChild(
            {"kind": "feelcheck.sources.kinds:EVDEV", "options": options, "cues": [], "limit_ns": 10**10}
        )
        assert heard(child, "ready")["device"] == "alder pad"
        path = tmp_path / f"events{trial}.csv"
        child.tell({"go": str(path)})
        assert heard(child, "started")
        mover = threading.Thread(target=spun, args=(pad, stop, sent))
        mover.start()
        until_s = time.monotonic() + 20.0
        while b",axis,left_x" not in path.read_bytes() and time.monotonic() < until_s:
            time.sleep(0.02)
        time.sleep(random.Random(trial).uniform(0.3, 0.8))
        child.process.kill()
        killed_ns = time.perf_counter_ns()
        child.process.wait()
        stop.set()
        mover.join()
        with pytest.raises(SourceError, match="ended by itself"):
            child.listen(5.0)
        child.close()
        rows = [
            line.split(",") for line in path.read_text().splitlines() if line.endswith(",.") and ",axis,left_x" in line
        ]
        _, *written = [int(row[4]) for row in rows]
        known = [value for _, _, value in sent]
        assert len(written) > 100
        begin = known.index(written[0])
        assert written == known[begin : begin + len(written)]
        # Rows are handed to the system every 20 ms; the rest is this emulated machine's own slowness.
        assert killed_ns - int(rows[-1][1]) < 120_000_000
