"""What names a specimen on the command line, looked at before anything that measures is loaded."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from feelcheck.errors import FormatError
from feelcheck.model.labels import STATE_MARK

__all__ = ["check_references", "listed", "reference_parts"]


def listed(references: str | os.PathLike[str] | Iterable[str | os.PathLike[str]]) -> list[str]:
    """Return one reference, or several, as a list of texts.

    Parameters
    ----------
    references : str, Path or iterable of them
        Files, folders, records, records in a state.

    Raises
    ------
    FormatError
        If there is none, or one is no path.
    """
    if isinstance(references, str | os.PathLike) or not isinstance(references, Iterable):
        references = [references]
    found = list(references)
    wrong = next((one for one in found if not isinstance(one, str | os.PathLike)), None)
    if wrong is not None or not found:
        got = "nothing" if wrong is None else f"a {type(wrong).__name__}"
        raise FormatError("A path, or a list of paths, is needed.", {"got": got}, "Name a file, a folder or a record.")
    return [os.fspath(one) for one in found]


def reference_parts(reference: str) -> tuple[Path, str]:
    """Return the file or folder that a reference names, and the state behind it, empty if none."""
    path, mark, state = reference.rpartition(STATE_MARK)
    return (Path(path), state) if mark and not Path(reference).exists() else (Path(reference), "")


def check_references(references: Iterable[str]) -> None:
    """Refuse references to nothing, before the libraries that measure are loaded.

    Raises
    ------
    ProfileError
        If a record is not there; it names the nearest one.
    FormatError
        If anything else is not there.
    """
    for path in (reference_parts(reference)[0] for reference in references):
        if path.exists():
            continue
        if path.suffix == ".toml":
            from feelcheck.profiles import read_profile

            read_profile(path)
        raise FormatError("There is no such file or folder.", {"path": path}, "Check the path.")
