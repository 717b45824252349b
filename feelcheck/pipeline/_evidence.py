"""The files that a page was made from: their hashes, and where they lie now."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path, PurePath

from feelcheck.inputs import file_sha256
from feelcheck.model import Evidence, FileCheck
from feelcheck.outputs import EVENTS_FILE, HEADER_FILE
from feelcheck.pipeline._specimens import sessions_in

__all__ = ["hashes_of", "looked_for"]

MOST_FOLDERS = 5000
"""How many folders below ``--files`` are walked through."""


def hashes_of(path: Path) -> dict[str, str]:
    """Return the SHA-256 of a file, or of all that is read in a folder, by name.

    Parameters
    ----------
    path : Path
        A file, a session, or a folder of repeats.

    Raises
    ------
    OSError
        If one cannot be read.
    """
    if not path.is_dir():
        return {path.name: file_sha256(path)}
    own = [path / name for name in (HEADER_FILE, EVENTS_FILE)]
    if own[0].exists():
        return {file.name: file_sha256(file) for file in own if file.is_file()}
    return {
        f"{child.name}/{name}" if child.is_dir() else name: sha256
        for child in sessions_in(path)
        for name, sha256 in hashes_of(child).items()
    }


def looked_for(evidence: Sequence[Evidence], page: Path, folders: Sequence[Path]) -> list[FileCheck]:
    """Return for every file that a page tells of where it lies and whether it is the same.

    Parameters
    ----------
    evidence : sequence of Evidence
        What the page tells.
    page : Path
        The page; files are looked for beside it, and where it says they were.
    folders : sequence of Path
        Where else to look first, at any depth.

    Notes
    -----
    A file is looked for under its own name. Of several of that name the one with the right hash counts; else the first
    is told as changed. Nothing is opened but plain files, and nothing is read but to take its hash.
    """
    below = {name: places for folder in folders for name, places in _by_name(folder).items()}
    return [_looked_for(one, page, folders, below) for one in evidence]


def _looked_for(one: Evidence, page: Path, folders: Sequence[Path], below: Mapping[str, Sequence[Path]]) -> FileCheck:
    changed = None
    for place in dict.fromkeys(_places(one.path, page, folders, below)):
        found = _read(place)
        if found == dict(one.sha256):
            return FileCheck(evidence=one, found=str(place), state="same")
        if found and changed is None:
            changed = place
    return FileCheck(evidence=one, found=str(changed or ""), state="missing" if changed is None else "changed")


def _places(told: str, page: Path, folders: Sequence[Path], below: Mapping[str, Sequence[Path]]) -> Iterator[Path]:
    """Where a file may lie, the likeliest first: with as much of its path as there is below a folder."""
    name = PurePath(told.replace("\\", "/"))
    parts = [part for part in name.parts if part not in (name.anchor, "..")]
    for root in (*folders, page.parent):
        for k in range(len(parts)):
            yield root.joinpath(*parts[k:])
    yield from below.get(parts[-1], ()) if parts else ()
    if not told.startswith(("//", "\\\\")):
        yield Path(told)


def _by_name(folder: Path) -> dict[str, list[Path]]:
    found: dict[str, list[Path]] = {}
    for k, (place, folders, files) in enumerate(os.walk(folder)):
        if k >= MOST_FOLDERS:
            break
        folders.sort()
        for name in sorted((*folders, *files)):
            found.setdefault(name, []).append(Path(place) / name)
    return found


def _read(place: Path) -> dict[str, str]:
    """The hashes of what lies there; nothing where there is no such file or it cannot be read."""
    try:
        return hashes_of(place) if place.is_file() or place.is_dir() else {}
    except (OSError, ValueError):  # no permission; a name with a null; a folder that holds no recording
        return {}
