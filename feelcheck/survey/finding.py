"""What may be measured below some paths: session folders and files, without looking inside."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from feelcheck.errors import FormatError
from feelcheck.inputs import file_sha256
from feelcheck.outputs import EVENTS_FILE, HEADER_FILE

__all__ = ["TABULAR", "Found", "find_files", "hash_of"]

TABULAR = (".csv", ".tsv", ".txt", ".dat", ".log", ".asc", ".tab")
"""A file of these endings that no reader understands is a bad file; any other file is none of ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A session folder or a file.

    Parameters
    ----------
    path, batch : str
        Where it is, and the folder that it lies in below the path that was given.
    n_bytes : int
        Its size.
    named : bool
        Whether the user named it, so that it is a bad file where nobody understands it.
    """

    path: str
    batch: str
    n_bytes: int
    named: bool

    @property
    def shown(self) -> str:
        """The path as text: what of a name is no UTF-8 stands as its code, since no table could hold it."""
        return self.path.encode("utf-8", "backslashreplace").decode("utf-8")


def find_files(paths: Iterable[Path | str], *, leave_out: Iterable[Path] = ()) -> list[Found]:
    """Return every session folder and every file below the paths, each once, by path.

    Parameters
    ----------
    paths : iterable of Path or str
        Folders, session folders and files.
    leave_out : iterable of Path
        Own outputs.

    Raises
    ------
    FormatError
        If a path does not exist.

    Notes
    -----
    Hidden files and folders, links to folders and links to nothing are passed over. A session's own files belong to the
    session. A folder that cannot be looked into stands for itself.
    """
    own = {os.path.realpath(path) for path in leave_out}
    found: dict[str, Found] = {}
    for given in map(Path, paths):
        if not given.exists():
            raise FormatError("There is no such file or folder.", {"path": given}, "Check the path.")
        for one in _below(given):
            real = os.path.realpath(one.path)
            if real not in own:
                found.setdefault(real, one)
    return sorted(found.values(), key=lambda one: one.path)


def _below(given: Path) -> Iterator[Found]:
    if _is_session(given):
        yield Found(path=str(given), batch="", n_bytes=_size(given), named=True)
    elif given.is_file():
        yield Found(path=str(given), batch="", n_bytes=given.stat().st_size, named=True)
    else:
        yield from _walk(given, given)


def _walk(folder: Path, top: Path) -> Iterator[Found]:
    batch = "" if folder == top else folder.relative_to(top).as_posix()
    try:
        with os.scandir(folder) as entries:
            ordered = sorted(entries, key=lambda entry: entry.name)
    except OSError:  # it becomes a row whose reason is what the system says of it
        yield Found(path=str(folder), batch=batch, n_bytes=0, named=True)
        return
    for entry in ordered:
        if entry.name.startswith("."):
            continue
        path = Path(entry.path)
        if entry.is_dir(follow_symlinks=False):
            if _is_session(path):
                yield Found(path=str(path), batch=batch, n_bytes=_size(path), named=False)
            else:
                yield from _walk(path, top)
        elif path.is_file():  # of the entry itself a link in a circle is an error
            yield Found(path=str(path), batch=batch, n_bytes=entry.stat().st_size, named=False)


def _is_session(path: Path) -> bool:
    return (path / HEADER_FILE).is_file() or (path / EVENTS_FILE).is_file()


def _size(session: Path) -> int:
    events = session / EVENTS_FILE
    return events.stat().st_size if events.is_file() else 0


def hash_of(path: Path) -> str:
    """Return the SHA-256 of a file, or of a session's header and events one after the other.

    Parameters
    ----------
    path : Path
        A file or a session folder.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    if not path.is_dir():
        return file_sha256(path)
    whole = hashlib.sha256()
    for name in (HEADER_FILE, EVENTS_FILE):
        if (path / name).is_file():
            whole.update(bytes.fromhex(file_sha256(path / name)))
    return whole.hexdigest()
