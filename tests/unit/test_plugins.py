"""Plugins: found by group, broken ones named and left out."""

from __future__ import annotations

import sys
from importlib import metadata
from pathlib import Path
from typing import Any

import pytest

from feelcheck import plugins
from feelcheck.errors import PluginError

GROUP = "feelcheck.formats"


class FakeDistribution:
    version = "2.1"

    def __init__(self, name: str) -> None:
        self.name = name


def _entry(name: str, value: str, distribution: str = "workbench") -> metadata.EntryPoint:
    entry = metadata.EntryPoint(name, value, GROUP)
    vars(entry).update(dist=FakeDistribution(distribution))
    return entry


@pytest.fixture(autouse=True)
def _installed(monkeypatch: pytest.MonkeyPatch) -> None:
    entries = [
        _entry("ok", "math:pi"),
        _entry("gone", "no_such_module:READER"),
        _entry("hollow", "math:no_such_name"),
        _entry("ok", "math:e"),
    ]
    monkeypatch.setattr(metadata, "entry_points", lambda group: entries if group == GROUP else [])


def _objects(group: str) -> dict[str, Any]:
    return {plugin.name: value for plugin, value in plugins.working(group)}


def test_working_plugins_are_loaded_by_name() -> None:
    assert _objects(GROUP) == {"ok": 3.141592653589793}
    assert _objects("feelcheck.metrics") == {}


def test_the_list_tells_origin_and_problem() -> None:
    found = {plugin.name: plugin for plugin, _ in plugins.surveyed(GROUP)}
    assert list(found) == ["gone", "hollow", "ok"]
    assert (found["ok"].distribution, found["ok"].version, found["ok"].reference) == ("workbench", "2.1", "math:pi")
    assert found["ok"].problem == ""
    assert "ModuleNotFoundError" in found["gone"].problem
    assert "AttributeError" in found["hollow"].problem


def test_broken_plugins_are_remarked() -> None:
    remarks = plugins.remarks(GROUP)
    assert len(remarks) == 2
    assert remarks[0].startswith("plugin gone of workbench was skipped: ModuleNotFoundError")


def test_one_by_name() -> None:
    plugin, value = plugins.find(GROUP, "ok")
    assert (plugin.name, value) == ("ok", 3.141592653589793)
    with pytest.raises(PluginError, match=r"(?s)The plugin is broken.*gone.*workbench 2\.1"):
        plugins.find(GROUP, "gone")
    with pytest.raises(PluginError, match=r"(?s)no plugin of that name.*known: gone, hollow, ok"):
        plugins.find(GROUP, "maple")


def test_an_unknown_group_is_refused() -> None:
    with pytest.raises(PluginError, match="no such plugin group"):
        plugins.working("feelcheck.colours")


def _only(monkeypatch: pytest.MonkeyPatch, *entries: metadata.EntryPoint) -> None:
    monkeypatch.setattr(metadata, "entry_points", lambda group: list(entries) if group == GROUP else [])
    plugins._looked_up.cache_clear()


@pytest.mark.parametrize(("holder", "whose"), [("feelcheck", "feelcheck itself"), ("attic", "package attic")])
def test_a_name_that_is_taken_is_told_and_keeps_its_meaning(
    monkeypatch: pytest.MonkeyPatch, holder: str, whose: str
) -> None:
    entries = [_entry("ok", "math:e"), _entry("ok", "math:pi", holder)]
    _only(monkeypatch, *(entries if holder == "feelcheck" else reversed(entries)))
    assert _objects(GROUP) == {"ok": 3.141592653589793}
    assert plugins.remarks(GROUP) == (f"plugin ok of workbench was skipped: its name is taken by one of {whose}",)


def _module(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, text: str) -> None:
    (tmp_path / f"{name}.py").write_text(text)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, name, raising=False)
    _only(monkeypatch, _entry("late", f"{name}:ONE"))


def test_what_an_import_prints_is_no_part_of_the_result(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    _module(tmp_path, monkeypatch, "larch_loud", "import os\nprint('hello')\nos.write(1, b'from below')\nONE = 1\n")
    assert _objects(GROUP) == {"late": 1}
    assert capfd.readouterr().out == ""


def test_a_slow_import_is_told_and_stopped_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("feelcheck.foreign.WAIT_S", 0.0)
    monkeypatch.setattr(plugins, "_stopped", set())
    wait = "import sys, time\nsys.modules['larch_times'].append(1)\ntime.sleep(0.2)\nraise KeyboardInterrupt\n"
    times: list[int] = []
    monkeypatch.setitem(sys.modules, "larch_times", times)
    _module(tmp_path, monkeypatch, "larch_late", wait)
    for _ in range(2):
        assert plugins.remarks(GROUP) == ("plugin late of workbench was skipped: Ctrl-C while it was imported",)
    assert times == [1]
    assert "waiting for log reader late of package workbench to be imported; Ctrl-C leaves it out" in (
        capfd.readouterr().err
    )
