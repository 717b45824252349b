"""A first look at the files of a command, before anything heavy is loaded."""

from __future__ import annotations

from feelcheck.formats.heads import check_heads

__all__ = ["check_heads"]
