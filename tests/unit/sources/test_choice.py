"""Which way of reading a pad is chosen."""

from __future__ import annotations

from pathlib import Path

import pytest

from feelcheck.sources import choice
from feelcheck.sources.evdev import discovery
from feelcheck.sources.evdev.discovery import Node
from feelcheck.sources.evdev.ioctls import InputId


def _pad(name: str, *, readable: bool) -> Node:
    return Node(
        path=Path("/dev/input/event7"),
        name=name,
        place="",
        serial="",
        numbers=InputId(bus=3, vendor=1, product=2, version=3),
        inode=1,
        readable=readable,
    )


@pytest.mark.parametrize(
    ("pads", "device", "source", "why"),
    [
        ([], "", "gamepad", "no pad is"),
        ([_pad("cedar pad", readable=True)], "", "evdev", "kernel stamps"),
        ([_pad("cedar pad", readable=True)], "CEDAR", "evdev", "kernel stamps"),
        ([_pad("cedar pad", readable=True)], "/dev/input/event7", "evdev", "kernel stamps"),
        ([_pad("cedar pad", readable=True)], "birch", "gamepad", "no pad of that name is"),
        ([_pad("cedar pad", readable=False)], "", "gamepad", "may not read"),
        ([_pad("cedar pad", readable=True), _pad("birch pad", readable=False)], "birch", "gamepad", "may not read"),
    ],
)
def test_the_kernels_stamps_are_taken_where_they_can_be_had(
    monkeypatch: pytest.MonkeyPatch, pads: list[Node], device: str, source: str, why: str
) -> None:
    monkeypatch.setattr(choice, "has_event_devices", lambda: True)
    monkeypatch.setattr(discovery, "find_pads", lambda: pads)
    assert choice.automatic_source(device)[0] == source
    assert why in choice.automatic_source(device)[1]


def test_other_systems_read_through_sdl(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(choice, "has_event_devices", lambda: False)
    assert choice.automatic_source() == ("gamepad", "this system has no event devices")
