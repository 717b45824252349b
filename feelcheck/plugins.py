"""Entry-point lookup: the only place that knows the names of the plugin groups."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib import metadata
from typing import Any

from feelcheck.errors import Interrupted, PluginError
from feelcheck.foreign import off_the_output, told_while_running

__all__ = ["GROUPS", "OF_ANALYSIS", "Plugin", "find", "only_own", "registered", "remarks", "surveyed", "working"]

GROUPS = (
    "feelcheck.sources",
    "feelcheck.formats",
    "feelcheck.captures",
    "feelcheck.metrics",
    "feelcheck.scripts",
    "feelcheck.boards",
    "feelcheck.renderers",
)
OF_ANALYSIS = ("feelcheck.formats", "feelcheck.captures", "feelcheck.metrics")
OWN = ("", "feelcheck")
"""Distributions whose plugins are the tool's own."""
_STOPPED = "Ctrl-C while it was imported"


@dataclass(frozen=True, slots=True, kw_only=True)
class Plugin:
    """One installed plugin.

    Parameters
    ----------
    group, name : str
        Where it is registered and as what.
    reference : str
        ``module:attribute``.
    distribution, version : str
        Which installed distribution brings it.
    problem : str
        Why it cannot be used, empty if it can.
    """

    group: str
    name: str
    reference: str
    distribution: str = ""
    version: str = ""
    problem: str = ""

    @property
    def is_own(self) -> bool:
        """Whether the tool brings it itself."""
        return self.distribution in OWN

    @property
    def whose(self) -> str:
        """What it is and whose, in words: ``"metric travel of package larch-bench"``."""
        family = self.group.removeprefix("feelcheck.").removesuffix("s")
        return f"{_FAMILIES.get(family, family)} {self.name} of package {self.distribution or 'unknown'}"


_stopped: set[Plugin] = set()
"""Whose import was stopped: it is not begun again in this process."""

_FAMILIES = {"format": "log reader", "capture": "capture reader", "script": "flick script", "board": "board pattern"}


def surveyed(group: str) -> list[tuple[Plugin, Any]]:
    """Return every plugin of a group with its object, by name, the broken ones with their problem and None.

    Parameters
    ----------
    group : str
        The family, such as ``feelcheck.metrics``.

    Raises
    ------
    PluginError
        If there is no such group.
    """
    return [_loaded(*found) for found in _entries(group).values()]


def registered(group: str) -> tuple[Plugin, ...]:
    """Return every plugin of a group by name without importing it, so nothing is known of its problems.

    Parameters
    ----------
    group : str
        The family, such as ``feelcheck.metrics``.
    """
    return tuple(named for _, named in _entries(group).values())


def only_own(*groups: str) -> bool:
    """Return whether no other package brings a plugin of these groups, which are not imported for that.

    Parameters
    ----------
    *groups : str
        The families, such as ``feelcheck.metrics``.
    """
    return all(plugin.is_own for group in groups for plugin in registered(group))


def working(group: str) -> tuple[tuple[Plugin, Any], ...]:
    """Return the plugins of a group that work, each with its object, by name; `remarks` tells about the others.

    Parameters
    ----------
    group : str
        The family, such as ``feelcheck.metrics``.

    Raises
    ------
    PluginError
        If there is no such group.
    """
    return tuple((plugin, value) for plugin, value in surveyed(group) if not plugin.problem)


def remarks(group: str) -> tuple[str, ...]:
    """Return one sentence about each broken plugin of a group; the tool's own load where they are needed.

    Parameters
    ----------
    group : str
        The family, such as ``feelcheck.metrics``.
    """
    others = (_loaded(entry, named)[0] for entry, named in _entries(group).values() if not named.is_own)
    return tuple(
        f"plugin {plugin.name} of {plugin.distribution or 'an unknown distribution'} was skipped: {plugin.problem}"
        for plugin in others
        if plugin.problem
    )


def find(group: str, name: str, *, also: Iterable[str] = ()) -> tuple[Plugin, Any]:
    """Return one plugin and its object by name; no other plugin is imported.

    Parameters
    ----------
    group, name : str
        Which.
    also : iterable of str
        Names that the caller takes without a plugin, for the text of the error.

    Raises
    ------
    PluginError
        If there is none of that name, or it is broken.
    """
    entries = _entries(group)
    if name not in entries:
        raise PluginError(
            f"There is no plugin of that name in {group}.",
            {"got": name, "known": ", ".join(sorted({*entries, *also})) or "none"},
            "Choose one of the known names, or install the plugin.",
        )
    plugin, value = _loaded(*entries[name])
    if plugin.problem:
        raise PluginError(
            "The plugin is broken.",
            {"plugin": name, "from": f"{plugin.distribution} {plugin.version}".strip(), "problem": plugin.problem},
            "Install it again, or choose another one.",
        )
    return plugin, value


def _entries(group: str) -> dict[str, tuple[metadata.EntryPoint, Plugin]]:
    """Return the entry points of a group by name with whose they are; of one name the tool's own counts, or the first.

    Another package's plugin of a name that is taken has its package behind its name, and that as its problem.
    """
    if group not in GROUPS:
        raise PluginError("There is no such plugin group.", {"got": group, "known": ", ".join(GROUPS)}, "Check it.")
    return _looked_up(group, metadata.entry_points, tuple(sys.path))


@lru_cache(maxsize=64)
def _looked_up(group: str, look_up: Callable[..., Any], _: tuple[str, ...]) -> dict[str, Any]:
    """Look a group up once for each state of the import path: it means reading a file of every distribution."""
    entries: dict[str, Any] = {}
    found = [(entry, _named(group, entry)) for entry in look_up(group=group)]
    for entry, named in sorted(found, key=lambda one: (one[1].name, not one[1].is_own)):
        _, holder = entries.setdefault(named.name, (entry, named))
        if holder.distribution != named.distribution:
            whose = "feelcheck itself" if holder.is_own else f"package {holder.distribution}"
            taken = replace(named, problem=f"its name is taken by one of {whose}")
            entries.setdefault(f"{named.name} of {named.distribution}", (entry, taken))
    return entries


def _loaded(entry: metadata.EntryPoint, named: Plugin) -> tuple[Plugin, Any]:
    """Import a plugin; of another package what takes long is told, and what it prints is no part of the result."""
    if named.problem or named in _stopped:
        return replace(named, problem=named.problem or _STOPPED), None
    try:
        if named.is_own:
            return named, entry.load()
        with told_while_running(f"waiting for {named.whose} to be imported; Ctrl-C leaves it out"), off_the_output():
            return named, entry.load()
    except (Exception, SystemExit) as caught:  # a module that ends the program when it is imported is broken, too
        return replace(named, problem=f"{type(caught).__name__}: {caught}"), None
    except KeyboardInterrupt as stop:
        if named.is_own or (isinstance(stop, Interrupted) and stop.number != signal.SIGINT):
            raise
        _stopped.add(named)
        return replace(named, problem=_STOPPED), None


def _named(group: str, entry: metadata.EntryPoint) -> Plugin:
    distribution = entry.dist
    return Plugin(
        group=group,
        name=entry.name,
        reference=entry.value,
        distribution=distribution.name if distribution else "",
        version=distribution.version if distribution else "",
    )
