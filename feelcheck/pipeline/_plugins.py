"""What is installed, what could not be loaded, and the families that a person asks for by name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

from feelcheck import plugins
from feelcheck.errors import PluginError
from feelcheck.guarding import NonsenseError, required
from feelcheck.model import BoardPattern, Renderer, Script, SourceKind

if TYPE_CHECKING:
    from feelcheck.pipeline._parts import PartsAsked

__all__ = ["check_renderer", "installed_plugins", "on_board", "plugin_remarks", "rendered"]


SHAPES: Mapping[str, type | tuple[str, ...]] = {
    "feelcheck.sources": SourceKind,
    "feelcheck.formats": ("claims", "read"),
    "feelcheck.captures": ("claims", "read"),
    "feelcheck.metrics": ("measure",),
    "feelcheck.scripts": Script,
    "feelcheck.boards": BoardPattern,
    "feelcheck.renderers": ("takes", "suffix", "render"),
}
"""What a plugin of each family is, or what it has."""


def installed_plugins() -> list[tuple[str, str, str, str, str]]:
    """Return group, name, distribution, version and state of every plugin; none is run."""
    return [
        (
            plugin.group,
            plugin.name,
            plugin.distribution,
            plugin.version,
            plugin.problem or _unlike(group, value) or "works",
        )
        for group in plugins.GROUPS
        for plugin, value in plugins.surveyed(group)
    ]


def _unlike(group: str, value: Any) -> str:
    """Why an object is none of its family, in words; empty where it may be one, or is a class that makes one."""
    shape = SHAPES[group]
    if isinstance(shape, tuple):
        missing = [part for part in shape if not (hasattr(value, part) or isinstance(value, type))]
        return f"cannot be used: it has no {', no '.join(missing)}" if missing else ""
    fits = isinstance(value, shape) or (shape is Script and callable(value))
    return "" if fits else f"cannot be used: it is {type(value).__name__}, not {shape.__name__}"


def plugin_remarks() -> list[str]:
    """Return one line a plugin that an analysis skips because it is broken."""
    return [remark for group in plugins.OF_ANALYSIS for remark in plugins.remarks(group)]


def rendered(name: str, kind: str, result: Any) -> str | bytes:
    """Return a result as the document that a renderer makes of it.

    Parameters
    ----------
    name : str
        The renderer's, as it is registered.
    kind : {"hand", "bench", "comparison", "report"}
        What the result is.
    result : HandResult, BenchResult (each a sequence), Comparison or Report
        The result.

    Raises
    ------
    PluginError
        If there is no such renderer, it does not take such results, or it fails.
    """
    plugin, renderer = check_renderer(name, kind)

    def check(document: str | bytes) -> None:
        if not isinstance(document, str | bytes):
            raise NonsenseError(f"it returned {type(document).__name__}, not text or bytes")

    return required(plugin, lambda: renderer.render(result), check)


def check_renderer(name: str, kind: str) -> tuple[plugins.Plugin, Renderer]:
    """Return a renderer that takes results of a kind, before anything is measured for it; raises as `rendered` does."""
    plugin, renderer = _renderer(name)
    if kind not in renderer.takes:
        facts = {"renderer": name, "takes": ", ".join(renderer.takes), "got": kind}
        raise PluginError("This renderer does not take results of that kind.", facts, _others(kind))
    return plugin, renderer


def _renderer(name: str) -> tuple[plugins.Plugin, Renderer]:
    plugin, value = plugins.find("feelcheck.renderers", name)
    renderer = required(plugin, lambda: value() if isinstance(value, type) else value, lambda _: None)
    if not isinstance(renderer, Renderer):
        facts = {"plugin": plugin.whose, "needs": "name, takes, suffix, render"}
        raise PluginError("This plugin is no renderer.", facts, "Tell whoever wrote it.")
    return plugin, renderer


def _others(kind: str) -> str:
    known = [plugin.name for plugin in plugins.registered("feelcheck.renderers")]
    taking = [name for name in known if kind in _renderer(name)[1].takes]
    return f"Choose one that does: {', '.join(taking)}."


def on_board(name: str, asked: PartsAsked) -> PartsAsked:
    """Return the parts of a board pattern under those that were typed.

    Raises
    ------
    PluginError
        If there is no such pattern, or it names what is no part.
    """
    plugin, pattern = plugins.find("feelcheck.boards", name)
    typed = {field.name for field in fields(asked) if field.type == "str"}
    if not isinstance(pattern, BoardPattern) or not all(isinstance(text, str) for text in pattern.parts.values()):
        raise PluginError("This plugin is no board pattern.", {"plugin": plugin.whose}, "Tell whoever wrote it.")
    if unknown := sorted(set(pattern.parts) - typed):
        facts = {"plugin": plugin.whose, "got": ", ".join(unknown), "known": ", ".join(sorted(typed))}
        raise PluginError("A board pattern names parts as the options of feelcheck parts do.", facts, "Mend it.")
    blank: dict[str, Any] = {part: value for part, value in pattern.parts.items() if not getattr(asked, part)}
    return replace(asked, **blank)
