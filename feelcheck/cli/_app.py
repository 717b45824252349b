"""The whole command line, all commands made."""

from __future__ import annotations

from feelcheck.cli._commands import command_line

__all__ = ["app"]

app = command_line()
