"""Plugins: found by group, broken ones named and left out."""

from __future__ import annotations

from importlib import metadata

import pytest

from feelcheck import plugins
from feelcheck.errors import PluginError

GROUP = "feelcheck.formats"


class FakeDistribution:
    name, version = "workbench", "2.1"


def _entry(name: str, value: str) -> metadata.EntryPoint:
    entry = metadata.EntryPoint(name, value, GROUP)
    vars(entry).update(dist=FakeDistribution())
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


def test_working_plugins_are_loaded_by_name() -> None:
    assert plugins.load(GROUP) == {"ok": 3.141592653589793}
    assert plugins.load("feelcheck.metrics") == {}


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
        plugins.load("feelcheck.colours")
