"""The events file of a session while it is written: append-only, one write for many rows, a guard on every row."""

from __future__ import annotations

import contextlib
import os
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from feelcheck.model import SourceEvent
from feelcheck.outputs import EVENTS_FILE

__all__ = ["EVENTS_FILE", "EVENTS_HEADER", "GUARD", "EventLog", "sync_file", "word"]

EVENTS_HEADER = "t_lo_ns,t_hi_ns,kind,name,value,end\n"
GUARD = "."
_UNSAFE = re.compile(r'[,"\x00-\x1f\x7f\x85\u2028\u2029]+')
_BINARY = getattr(os, "O_BINARY", 0)


def word(name: str) -> str:
    r"""Return a name that can stand in one cell: separators, quotes and line ends become blanks.

    Parameters
    ----------
    name : str
        A name of the user's.

    Examples
    --------
    >>> word('gap, "long"\none')
    'gap long one'
    """
    return " ".join(_UNSAFE.sub(" ", name).split())


class EventLog:
    """Writer of a session's events file.

    Parameters
    ----------
    path : Path
        The file; it is created with its header row, or continued where it exists.

    Raises
    ------
    OSError
        Where the file cannot be opened or written (no permission, disk full).

    Notes
    -----
    Rows gather in memory until `flush`, which hands them to the system in one write: what was flushed survives the
    death of the process, and a torn row can only be the last one. A continued file whose last row is torn gets a line
    end first, so that the torn row stays a row of its own.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.n_rows = 0
        self._rows: list[SourceEvent] = []
        self._known: dict[str, str] = {}
        self._file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND | _BINARY, 0o644)
        try:
            self._begin()
        except OSError:
            self.close()
            raise

    def _begin(self) -> None:
        size = os.fstat(self._file).st_size
        if size == 0:
            self._write(EVENTS_HEADER.encode())
            return
        with self.path.open("rb") as stream:
            stream.seek(-1, os.SEEK_END)
            if stream.read(1) != b"\n":
                self._write(b"\n")

    def add(self, rows: Iterable[SourceEvent]) -> None:
        """Keep rows for the next flush.

        Parameters
        ----------
        rows : iterable of SourceEvent
            In the order in which they are to stand in the file.
        """
        self._rows.extend(rows)

    def flush(self) -> None:
        """Hand the kept rows to the system; does nothing where there are none."""
        if not self._rows:
            return
        known = self._known
        lines = []
        for lo, hi, kind, name, value in self._rows:
            cell = known.get(name)
            if cell is None:
                cell = known[name] = word(name)
            lines.append(f"{lo},{hi},{kind},{cell},{value},{GUARD}\n")
        self._write("".join(lines).encode())
        self.n_rows += len(self._rows)
        self._rows.clear()

    def _write(self, data: bytes) -> None:
        view = memoryview(data)
        with _naming(self.path):
            while view:
                view = view[os.write(self._file, view) :]

    def sync(self) -> None:
        """Wait until the file is on the disk."""
        with _naming(self.path):
            os.fsync(self._file)

    def close(self) -> None:
        """Close the file without flushing; safe to call twice."""
        if self._file >= 0:
            os.close(self._file)
            self._file = -1


@contextlib.contextmanager
def _naming(path: Path) -> Iterator[None]:
    """Name the file in an error of the system, which knows only a number."""
    try:
        yield
    except OSError as problem:
        raise type(problem)(problem.errno, problem.strerror, str(path)) from None


def sync_file(path: Path) -> None:
    """Wait until a file that another process writes is on the disk; its date says that it is being written still.

    Parameters
    ----------
    path : Path
        The file.
    """
    handle = os.open(path, os.O_RDWR | _BINARY)
    try:
        with _naming(path):
            os.fsync(handle)
    finally:
        os.close(handle)
    with contextlib.suppress(OSError):
        os.utime(path)
