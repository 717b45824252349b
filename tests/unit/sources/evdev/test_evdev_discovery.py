"""Pads that may not be opened are found in the system's own listing."""

import os

import pytest

from feelcheck.sources.evdev import discovery
from feelcheck.sources.evdev.discovery import find_pads

PAD = {"name": "cedar pad\n", "phys": "usb-2\n", "uniq": "\n", "properties": "0\n", "capabilities/abs": "3001b\n"}


@pytest.fixture
def folders(tmp_path, monkeypatch):
    """Make device nodes without the right to open them, and their listings."""

    def make(number, texts):
        (tmp_path / f"event{number}").touch()
        for name, text in texts.items():
            path = tmp_path / "class" / f"event{number}" / "device" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)

    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(discovery, "_asked", refuse)
    make.found = lambda: find_pads(tmp_path, tmp_path / "class")
    return make


def test_a_pad_without_the_right_to_read_it_is_listed_as_such(folders):
    # 0x130 is bit 48 of the fifth 64-bit word; the words are listed highest first.
    ids = {"id/bustype": "0003", "id/vendor": "1a2b", "id/product": "00ff", "id/version": "0111"}
    folders(12, PAD | ids | {"capabilities/key": "1000000000000 0 0 0 0\n"})
    folders(2, PAD | {"capabilities/key": "1000000000000 0 0 0 0\n", "name": "birch pad"})
    second, first = folders.found()
    assert (second.name, first.name) == ("birch pad", "cedar pad")
    assert not first.readable
    assert (first.numbers.vendor, first.numbers.product) == (0x1A2B, 0xFF)
    assert (first.place, first.serial) == ("usb-2", "")


def test_what_is_no_pad_or_has_no_listing_is_left_out(folders):
    folders(
        0,
        PAD
        | {
            "capabilities/abs": "0",
            "capabilities/key": "402000007ff803078f800d001feffffdfffefffff fffffffffffffffe"[:33],
        },
    )
    folders(1, {})
    assert folders.found() == []


def test_a_node_that_is_no_device_is_left_out(tmp_path):
    (tmp_path / "event0").touch()
    os.mkfifo(tmp_path / "event1")
    assert find_pads(tmp_path, tmp_path) == []
