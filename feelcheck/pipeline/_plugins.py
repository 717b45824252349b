"""What is installed, and what could not be loaded."""

from __future__ import annotations

from feelcheck import plugins

__all__ = ["installed_plugins", "plugin_remarks"]


def installed_plugins() -> list[tuple[str, str, str, str, str]]:
    """Return group, name, distribution, version and state of every plugin."""
    return [
        (plugin.group, plugin.name, plugin.distribution, plugin.version, plugin.problem or "works")
        for group in plugins.GROUPS
        for plugin in plugins.installed(group)
    ]


def plugin_remarks() -> list[str]:
    """Return one line a plugin that an analysis skips because it is broken."""
    return [remark for group in plugins.OF_ANALYSIS for remark in plugins.remarks(group)]
