"""Sources that cannot be reached say so, and what to do instead."""

from __future__ import annotations

import ctypes
import os
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from feelcheck import plugins
from feelcheck.errors import PluginError, SourceError
from feelcheck.model import Action, Script, Step
from feelcheck.sources.evdev.system import has_event_devices, require_linux
from feelcheck.sources.gamepad import sdl
from feelcheck.sources.synthetic import named_world
from feelcheck.sources.synthetic.world import simulate_device

linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="event devices exist on Linux only")


@pytest.mark.parametrize(
    ("platform", "there"), [("linux", True), ("linux2", True), ("win32", False), ("darwin", False)]
)
def test_event_devices_are_looked_for_on_linux_only(
    platform: str, there: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "platform", platform)
    assert has_event_devices() is there
    if not there:
        with pytest.raises(SourceError, match=f"(?s)exist on Linux only.*system: {platform}.*--source gamepad"):
            require_linux()


def test_a_pygame_without_its_library_is_told_where_it_was_looked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sdl, "_mapped", list)
    with pytest.raises(SourceError, match="own SDL library was not found") as refused:
        sdl._bundled(tmp_path)
    assert refused.value.facts["looked in"] == tmp_path


def test_a_library_that_does_not_load_is_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = tmp_path / "libSDL2.so"
    broken.write_bytes(b"no library")
    monkeypatch.setattr(sdl, "_mapped", lambda: [broken, Path("libc.so.6")])
    if sys.platform.startswith("linux"):
        assert isinstance(sdl._bundled(tmp_path), ctypes.CDLL)


def test_a_pygame_that_does_not_start_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pygame", None)
    monkeypatch.setitem(sys.modules, "pygame.joystick", None)
    load: Any = getattr(sdl.load_sdl, "__wrapped__", sdl.load_sdl)
    with pytest.raises(SourceError, match=r"(?s)pygame with a working joystick system.*--source synthetic"):
        load()


@linux
def test_a_pad_that_this_user_may_not_read(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from feelcheck.sources.evdev import discovery, ioctls, port

    node = tmp_path / "event7"
    node.touch()
    numbers = ioctls.InputId(bus=3, vendor=1, product=1, version=1)
    pad = discovery.Node(path=node, name="loaner 7", place="", serial="", numbers=numbers, inode=0, readable=False)
    with pytest.raises(SourceError, match="may not be read by this user") as refused:
        discovery.choose([pad], "", tmp_path)
    assert refused.value.facts["node"] == node
    assert "group" in str(refused.value.facts["rights"])

    def denied(*_: Any) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", denied)
    with pytest.raises(SourceError, match="may not be read by this user"):
        port._opened(pad)

    def gone(*_: Any) -> int:
        raise OSError(19, "No such device")

    monkeypatch.setattr(os, "open", gone)
    with pytest.raises(SourceError, match=r"(?s)cannot be opened.*reason: No such device"):
        port._opened(pad)


def test_a_script_without_time_cannot_be_played() -> None:
    script = Script(name="blink", title="", steps=(Step(action=Action.FLICK, duration_s=0.0),))
    with pytest.raises(SourceError, match=r"(?s)script that takes some time.*script: blink"):
        simulate_device(named_world("alder"), script, np.random.default_rng(0))


def test_a_plugin_that_is_not_there_is_told_beside_those_that_are() -> None:
    with pytest.raises(
        PluginError, match=r"(?s)no plugin of that name in feelcheck.sources.*known: .*replay.*synthetic"
    ):
        plugins.find("feelcheck.sources", "carrier_pigeon", also=["replay"])
