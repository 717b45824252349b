"""A pytest plugin: which installed plugins of feelcheck the suites run over, and which samples."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast

import pytest

from feelcheck import plugins
from feelcheck.conformance.samples import OWN, Sample, lying_at

FIXTURES = {
    "source_kind": "feelcheck.sources",
    "log_reader": "feelcheck.formats",
    "capture_reader": "feelcheck.captures",
    "metric": "feelcheck.metrics",
    "flick_script": "feelcheck.scripts",
    "board_pattern": "feelcheck.boards",
    "renderer": "feelcheck.renderers",
}
SUITES = {f"test_{group.removeprefix('feelcheck.')}.py": group for group in FIXTURES.values()}


def pytest_addoption(parser: pytest.Parser) -> None:
    """Take names of plugins and samples."""
    group = parser.getgroup("feelcheck")
    group.addoption("--plugin", action="append", default=[], help="a plugin of feelcheck, or all of a package's")
    group.addoption("--sample", action="append", default=[], help="a log or capture that the chosen reader should read")


def pytest_configure(config: pytest.Config) -> None:
    """Refuse names that no suite knows, and samples that are not there."""
    every = [plugin for group in FIXTURES.values() for plugin in plugins.registered(group)]
    known = {plugin.name for plugin in every} | {plugin.distribution for plugin in every if not plugin.is_own}
    unknown = [name for name in config.getoption("--plugin") if name not in known]
    if unknown:
        raise pytest.UsageError(f"no plugin is installed as {unknown[0]}; known: {', '.join(sorted(known))}")
    missing = [path for path in config.getoption("--sample") if not Path(path).exists()]
    if missing:
        raise pytest.UsageError(f"there is no sample {missing[0]}")


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave out the suites of families in which nothing was chosen."""
    group = SUITES.get(collection_path.name)
    ours = group is not None and collection_path.parent == Path(__file__).parent
    return True if ours and group is not None and not chosen(config, group) else None


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run a test once for each chosen plugin of the family that it asks for, and once for each of its samples."""
    for fixture, group in FIXTURES.items():
        if fixture not in metafunc.fixturenames:
            continue
        found = chosen(metafunc.config, group)
        if "own" in metafunc.fixturenames:
            pairs = [(plugin, own) for plugin in found for own in _samples(metafunc.config, plugin)]
            names = [f"{plugin.name}-{own.name}" for plugin, own in pairs]
            metafunc.parametrize((fixture, "own"), pairs, ids=names, indirect=[fixture])
        else:
            metafunc.parametrize(fixture, found, ids=[plugin.name for plugin in found], indirect=True)


def chosen(config: pytest.Config, group: str) -> list[plugins.Plugin]:
    """Return the plugins of a group that were asked for, all where none was."""
    names = config.getoption("--plugin")
    return [
        plugin
        for plugin in plugins.registered(group)
        if not names or plugin.name in names or (plugin.distribution in names and not plugin.is_own)
    ]


def loaded(plugin: plugins.Plugin) -> Any:
    """Return a plugin's object, an instance where a class is registered."""
    _, value = plugins.find(plugin.group, plugin.name)
    return value() if isinstance(value, type) else value


def _samples(config: pytest.Config, plugin: plugins.Plugin) -> list[Sample]:
    given = [lying_at(Path(path).absolute()) for path in config.getoption("--sample")]
    return [*OWN.get(plugin.name, ()), *(given if plugin.name in config.getoption("--plugin") else ())]


def _given(name: str) -> Any:
    """A fixture that is what a plugin's entry point gives."""

    def given(request: pytest.FixtureRequest) -> Any:
        return loaded(request.param)

    return pytest.fixture(name=name)(given)


source_kind, log_reader, capture_reader, board_pattern, renderer = map(
    _given, ("source_kind", "log_reader", "capture_reader", "board_pattern", "renderer")
)


@pytest.fixture
def flick_script(request: pytest.FixtureRequest) -> plugins.Plugin:
    """A flick script's entry point."""
    return cast(plugins.Plugin, request.param)


@pytest.fixture
def metric(request: pytest.FixtureRequest) -> tuple[plugins.Plugin, Any]:
    """A metric's entry point, and what it gives."""
    return request.param, loaded(request.param)
