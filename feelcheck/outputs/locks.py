"""One writer at a time: an edit holds its file from reading it to having replaced it."""

from __future__ import annotations

import contextlib
import logging
import os
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from feelcheck.errors import OutputError
from feelcheck.outputs.replacing import draft_prefix
from feelcheck.plain_text import harmless

if TYPE_CHECKING:
    from filelock import FileLock

__all__ = ["locked"]

_SAY_AFTER_S, _PATIENCE_S, _POLL_S = 2.0, 60.0, 0.01
_log = logging.getLogger("feelcheck")


@contextmanager
def locked(path: Path, *, patience_s: float = _PATIENCE_S) -> Iterator[None]:
    """Hold a file while it is read, changed and replaced; others who would change it wait.

    Parameters
    ----------
    path : Path
        The file; symbolic links lead to the file that is held.
    patience_s : float, s
        How long to wait for somebody else.

    Raises
    ------
    OutputError
        If somebody else holds it for longer than that.
    OSError
        If the folder cannot be written.

    Notes
    -----
    The system lets go of the lock when its holder ends, however that came (`filelock`). A holder that was killed leaves
    the lock's file with its name in it: the next one takes over, clears what was left half written, and says so.
    """
    from filelock import FileLock

    target = Path(os.path.realpath(path))
    if not target.parent.is_dir():
        raise FileNotFoundError(2, "No such file or directory", str(path))
    place = target.with_name(draft_prefix(target) + ".lock")
    lock = FileLock(place, poll_interval=_POLL_S, on_acquired=lambda handle: _take_over(handle, target))
    _acquire(lock, target, patience_s)
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            place.unlink()
        lock.release()


def _acquire(lock: FileLock, target: Path, patience_s: float) -> None:
    from filelock import Timeout

    try:
        try:
            lock.acquire(timeout=min(_SAY_AFTER_S, patience_s))
        except Timeout:
            _log.warning("Waiting for %s, which changes %s now.", harmless(_holder(lock)), harmless(str(target)))
            lock.acquire(timeout=max(patience_s - _SAY_AFTER_S, 0.0))
    except Timeout:
        facts = {"file": target, "held by": _holder(lock), "waited": f"{patience_s:g} s"}
        raise OutputError("The file is being changed by somebody else.", facts, "Try again in a moment.") from None


def _holder(lock: FileLock) -> str:
    with contextlib.suppress(OSError):
        return Path(lock.lock_file).read_text(encoding="utf-8", errors="replace").strip() or "another program"
    return "another program"


def _take_over(handle: int, target: Path) -> None:
    """Write who holds the lock; where another name stands in it, its owner was killed at work."""
    before = os.pread(handle, 200, 0).decode("utf-8", "replace").strip() if sys.platform != "win32" else ""
    if before:
        for draft in target.parent.glob(f"{draft_prefix(target)}-*.new"):
            with contextlib.suppress(OSError):
                draft.unlink()
        words = "A lock was taken over: %s was ended while it changed %s. The file is whole."
        _log.warning(words, harmless(before), harmless(str(target)))
    if sys.platform != "win32":
        os.ftruncate(handle, 0)
        os.pwrite(handle, f"process {os.getpid()} on {socket.gethostname()}\n".encode(), 0)
