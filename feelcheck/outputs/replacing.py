"""A file written beside, synced and moved: whatever happens, the old one or the new one stands there whole."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

__all__ = ["disk_of", "draft_prefix", "new_file", "replaced", "sync_folder"]


def draft_prefix(target: Path) -> str:
    """Return how the names of a file's drafts and of its lock begin: hidden, short whatever its own name.

    Parameters
    ----------
    target : Path
        The file that a draft becomes.
    """
    return f".feelcheck-{zlib.crc32(target.name.encode('utf-8', 'surrogateescape')):08x}"


@contextmanager
def replaced(path: Path) -> Iterator[BinaryIO]:
    """Yield a stream whose content takes the place of a file when the block ends, on the disk by then.

    Parameters
    ----------
    path : Path
        The file; it need not exist. A symbolic link stays one, and what it points to is replaced. Permissions stay.

    Raises
    ------
    OSError
        If it cannot be written; then the old file is whole and nothing else is left behind.
    """
    target = Path(os.path.realpath(path))
    if target.exists() and not os.access(target, os.W_OK):
        raise PermissionError(13, "The file is not to be written", str(path))
    with _draft(target) as (draft, stream):
        yield stream
        _finish(stream)
        _keep_permissions(draft, target)
        draft.replace(target)
    sync_folder(target.parent)


@contextmanager
def new_file(path: Path) -> Iterator[BinaryIO]:
    """Yield a stream whose content becomes a new file when the block ends.

    Parameters
    ----------
    path : Path
        The file, which must not exist.

    Raises
    ------
    FileExistsError
        If there is a file of that name by then; it is left as it is.
    OSError
        If it cannot be written.
    """
    with _draft(path) as (draft, stream):
        yield stream
        _finish(stream)
        _keep_permissions(draft, path)
        _put_new(draft, path)
    sync_folder(path.parent)


@contextmanager
def _draft(target: Path) -> Iterator[tuple[Path, BinaryIO]]:
    try:
        handle, name = tempfile.mkstemp(prefix=draft_prefix(target) + "-", suffix=".new", dir=target.parent)
    except OSError as problem:
        raise type(problem)(problem.errno, problem.strerror, str(target)) from None
    draft = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            yield draft, stream
    except OSError as problem:
        if problem.filename is None or problem.filename == name:
            raise type(problem)(problem.errno, problem.strerror, str(target)) from problem
        raise
    finally:
        with contextlib.suppress(OSError):
            draft.unlink()


def _finish(stream: BinaryIO) -> None:
    stream.flush()
    os.fsync(stream.fileno())


def _keep_permissions(draft: Path, target: Path) -> None:
    """Give the draft what its target had; a new file gets what any new file of this user gets."""
    if target.exists():
        with contextlib.suppress(OSError):
            shutil.copystat(target, draft)
        os.utime(draft)
        return
    mask = os.umask(0)
    os.umask(mask)
    draft.chmod(0o666 & ~mask)


def _put_new(draft: Path, path: Path) -> None:
    try:
        os.link(draft, path)
    except FileExistsError:
        raise FileExistsError(17, "There is a file of that name", str(path)) from None
    except OSError:  # a file system without hard links
        if path.exists():
            raise FileExistsError(17, "There is a file of that name", str(path)) from None
        draft.replace(path)


def sync_folder(folder: Path) -> None:
    """Wait until a folder's names are on the disk, where the system can do that.

    Parameters
    ----------
    folder : Path
        A folder.
    """
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def disk_of(path: Path) -> str:
    """Return which disk a file is on, and what is free there, as words.

    Parameters
    ----------
    path : Path
        A file or folder; it need not exist.
    """
    try:
        place = Path(os.path.realpath(path))
        while not place.exists():
            place = place.parent
        free = shutil.disk_usage(place).free
        while not place.is_mount():
            place = place.parent
    except (OSError, ValueError):
        return "unknown"
    return f"{place}, {free / 1e6:.0f} MB free"
