"""The command line: one file per command; parse, one pipeline call, render."""

from __future__ import annotations

from feelcheck.cli._app import app

__all__ = ["app"]
