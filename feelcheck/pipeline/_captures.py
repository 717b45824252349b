"""Captures from files, each by the reader that is surest it is its own."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from feelcheck.formats.heads import is_mostly_rows
from feelcheck.formats.scope import read_captures
from feelcheck.model import Capture
from feelcheck.pipeline._readers import Readers, log_claim

__all__ = ["captures_of", "looks_captured"]

GROUP = "feelcheck.captures"
LIKELY_CAPTURE = 0.35
"""Claim from which a file is taken for a capture, not for a log."""


def captures_of(paths: Sequence[Path | str], **stated: Any) -> tuple[Capture, ...]:
    """Return the captures of files.

    Parameters
    ----------
    paths : sequence of path
        Files; those of the tool's own reader that share a time axis are channels of one capture.
    **stated
        What the files do not say, as in `formats.scope.read_captures`.

    Raises
    ------
    FormatError
        If a file cannot be read as a capture.
    PluginError
        If another package's reader is surest of a file and fails on it.
    """
    readers = Readers(GROUP)
    if readers.are_own:
        return read_captures(paths, **stated)
    claims = [(readers.surest(Path(path)), path) for path in paths]
    given = {name: value for name, value in stated.items() if value is not None}
    found = [readers.read(one, Path(path), Capture, **given) for one, path in claims if not one.plugin.is_own]
    plain = [path for one, path in claims if one.plugin.is_own]
    own = read_captures(plain, **stated) if plain else ()
    return (*found, *(readers.remarked(capture) for capture in own))


def looks_captured(path: Path, least: float = LIKELY_CAPTURE, *, any_ending: bool = False) -> bool:
    """Return whether a path is taken for a capture: the one place where captures are told from logs.

    Parameters
    ----------
    path : Path
        A file; a folder is none.
    least : float
        How sure the surest reader of captures must be, from 0 to 1; it must be surer than all readers of logs.
    any_ending : bool
        Whether the name does not tell that the file holds data: the tool's own reader then takes no text that is not
        mostly rows of numbers, since programs and pages hold a few of them.
    """
    if not path.is_file():
        return False
    claim = Readers(GROUP).surest(path)
    if any_ending and claim.plugin.is_own and not is_mostly_rows(path):
        return False
    return claim.sure >= least and claim.sure > log_claim(path)
