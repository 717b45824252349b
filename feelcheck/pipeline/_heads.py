"""A first look at the files of a command, before anything heavy is loaded."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from feelcheck import plugins
from feelcheck.formats import heads

__all__ = ["check_heads"]


def check_heads(paths: Iterable[Path | str]) -> None:
    """Refuse files that no reader can make sense of; parameters and errors as those of `formats.heads.check_heads`.

    Where another package reads captures, only what is not there is refused yet: its files may look like anything.
    """
    known = plugins.only_own("feelcheck.captures")
    heads.check_heads(path for path in paths if known or not Path(path).is_file())
