"""A first look at files that shall be measured: refused before the numerical libraries are loaded."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from pathlib import Path

from feelcheck.errors import FormatError
from feelcheck.formats._text import read_head
from feelcheck.formats.numbers import FEWEST_ROWS, HEAD_BYTES, MOSTLY_ROWS

__all__ = ["check_heads", "is_mostly_rows"]

_TYPED = re.compile(r'^\s*(?:\[\[edge\]\]|"?direction)', re.MULTILINE | re.IGNORECASE)

_ROW = re.compile(r"\s*[\"']?[+-]?[.,]?\d")


def is_mostly_rows(path: Path) -> bool:
    """Return whether most lines at a file's begin start with a number, as those of data do and of programs do not.

    Parameters
    ----------
    path : Path
        A file; one that is no text has no lines.
    """
    try:
        lines = [line for line in read_head(path).text.split("\n") if line.strip()]
    except FormatError:
        return False
    return sum(bool(_ROW.match(line)) for line in lines) > MOSTLY_ROWS * len(lines)


def check_heads(paths: Iterable[str | os.PathLike[str]]) -> None:
    """Refuse files that are missing, no text, or hold no numbers, by looking at their heads.

    Parameters
    ----------
    paths : iterable of paths
        Captures, logs or typed readings.

    Raises
    ------
    FormatError
        If a path is missing, a folder, empty or no text, or if a whole small file has fewer than three lines with a
        digit.

    Notes
    -----
    A person who mistypes a name waits for the answer: importing the libraries that measure would take ten times longer
    than this look. What passes here can still be refused by the reader.
    """
    for path in map(Path, paths):
        head = read_head(path)
        if head.n_bytes > HEAD_BYTES or _TYPED.search(head.text):
            continue
        if sum(any(map(str.isdigit, line)) for line in head.text.split("\n")) < FEWEST_ROWS:
            raise FormatError(
                "A capture or log needs columns of numbers, but no block of numeric rows was found.",
                {"file": path.name, "lines": head.text.count("\n") + 1},
                "Export the samples themselves as delimited text (CSV).",
            )
