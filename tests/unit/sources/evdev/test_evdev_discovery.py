"""Pads that may not be opened are found in the system's own listing."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import pytest

from feelcheck.sources.evdev import discovery
from feelcheck.sources.evdev.discovery import Node, find_pads

PAD = {"name": "cedar pad\n", "phys": "usb-2\n", "uniq": "\n", "properties": "0\n", "capabilities/abs": "3001b\n"}


class Folders:
    """Device nodes without the right to open them, and their listings."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def make(self, number: int, texts: Mapping[str, str]) -> None:
        (self.root / f"event{number}").touch()
        for name, text in texts.items():
            path = self.root / "class" / f"event{number}" / "device" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)

    def found(self) -> list[Node]:
        return find_pads(self.root, self.root / "class")


@pytest.fixture
def folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folders:
    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(discovery, "_asked", refuse)
    return Folders(tmp_path)


def test_a_pad_without_the_right_to_read_it_is_listed_as_such(folders: Folders) -> None:
    # 0x130 is bit 48 of the fifth 64-bit word; the words are listed highest first.
    ids = {"id/bustype": "0003", "id/vendor": "1a2b", "id/product": "00ff", "id/version": "0111"}
    folders.make(12, PAD | ids | {"capabilities/key": "1000000000000 0 0 0 0\n"})
    folders.make(2, PAD | {"capabilities/key": "1000000000000 0 0 0 0\n", "name": "birch pad"})
    second, first = folders.found()
    assert (second.name, first.name) == ("birch pad", "cedar pad")
    assert not first.readable
    assert (first.numbers.vendor, first.numbers.product) == (0x1A2B, 0xFF)
    assert (first.place, first.serial) == ("usb-2", "")


def test_what_is_no_pad_or_has_no_listing_is_left_out(folders: Folders) -> None:
    folders.make(
        0,
        PAD
        | {
            "capabilities/abs": "0",
            "capabilities/key": "402000007ff803078f800d001feffffdfffefffff fffffffffffffffe"[:33],
        },
    )
    folders.make(1, {})
    assert folders.found() == []


def test_a_node_that_is_no_device_is_left_out(tmp_path: Path) -> None:
    (tmp_path / "event0").touch()
    os.mkfifo(tmp_path / "event1")
    assert find_pads(tmp_path, tmp_path) == []
