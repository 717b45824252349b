"""Captures from files, each by the reader that is surest it is its own."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from feelcheck.formats.scope import read_captures
from feelcheck.model import Capture
from feelcheck.pipeline._readers import Readers, log_claim

__all__ = ["capture_claim", "captures_of", "looks_captured"]

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


def capture_claim(path: Path) -> float:
    """Return how sure the surest capture reader is that a file is its own, from 0 to 1."""
    return Readers(GROUP).surest(path).sure


def looks_captured(path: Path, least: float = LIKELY_CAPTURE) -> bool:
    """Return whether a path is taken for a capture: the one place where captures are told from logs.

    Parameters
    ----------
    path : Path
        A file; a folder is none.
    least : float
        How sure the surest reader of captures must be, from 0 to 1; it must be surer than all readers of logs.
    """
    if not path.is_file():
        return False
    sure = capture_claim(path)
    return sure >= least and sure > log_claim(path)
