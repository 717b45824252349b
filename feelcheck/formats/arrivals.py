"""Files that arrive in a folder while somebody works: which of them are finished, and which never are."""

from __future__ import annotations

import hashlib
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from feelcheck.counted import counted
from feelcheck.errors import FormatError

__all__ = ["Arrival", "Arrivals", "arriving", "is_polled", "watched"]

QUIET_S = 1.0
"""How long a file must have stood still before it counts as written (a scope writes in bursts well below that)."""
QUIET_POLLED_S = 2.5
"""The same on shares and sticks, whose time stamps may be two seconds coarse."""
LATE_S = 30.0
"""After how long a file that is not finished is named."""
LOOK_S = 1.0
"""The folder is read at least this often, whatever the system tells: shares and sticks often tell nothing."""
DEPTH = 2
"""Folders inside the folder that are looked into: some instruments make one a capture."""
HEAD_BYTES = 1 << 20
TAIL_BYTES = 1 << 14
UNFINISHED = (".tmp", ".part", ".partial", ".crdownload", ".filepart", ".swp", "~")
NEVER_CAPTURES = frozenset(
    (".png", ".svg", ".jpg", ".jpeg", ".bmp", ".gif", ".tif", ".tiff", ".webp", ".ico", ".pdf", ".htm", ".html",
     ".css", ".js", ".md", ".toml", ".json", ".ini", ".cfg", ".set", ".zip", ".gz", ".7z", ".xls", ".xlsx", ".ods",
     ".doc", ".docx", ".odt", ".parquet", ".py", ".exe", ".dll", ".mp4", ".mov", ".avi", ".wav", ".lnk", ".url", ".db")
)  # fmt: skip
TELLS_NOTHING = frozenset(
    ("nfs", "nfs4", "cifs", "smb2", "smb3", "smbfs", "9p", "vfat", "msdos", "exfat", "ntfs", "ntfs3", "fuseblk",
     "vboxsf", "prl_fs", "davfs", "afpfs", "virtiofs")
)  # fmt: skip
"""File systems whose changes the kernel does not, or not always, report: they are polled."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A file in a watched folder.

    Parameters
    ----------
    path : Path
        Where it is.
    kind : {"finished", "grown", "unfinished"}
        Finished; the same file went on after it had counted as finished; or not finished for long.
    reason : str
        Why it is not finished, or what is odd about a finished one.
    """

    path: Path
    kind: Literal["finished", "grown", "unfinished"]
    reason: str = ""


@dataclass(slots=True)
class _Seen:
    """What is known of one file."""

    stamp: tuple[int, int]
    first_s: float
    changed_s: float
    told: bool = False
    named: bool = False
    told_bytes: int = 0
    told_head: bytes = field(default=b"", repr=False)


class Arrivals:
    """Tells which files of a folder have arrived since it was made.

    Parameters
    ----------
    folder : Path
        What is there now is left alone until it changes.
    quiet_s, late_s : float, s
        How long a file must stand still, and after how long an unfinished one is named.

    Notes
    -----
    A file is finished when its size and its time stamp have stood still and its last row is not torn. A torn one
    counts as finished once it has stood still for `late_s`. A finished file that changes again is the same one if its
    beginning is still what it was, else another capture under the old name.
    """

    def __init__(self, folder: Path, *, quiet_s: float = QUIET_S, late_s: float = LATE_S) -> None:
        self._folder, self._quiet_s, self._late_s = folder, quiet_s, late_s
        self._seen: dict[Path, _Seen] = {}
        self._before = {path: _stamp(path) for path in _files(folder)}

    @property
    def folder(self) -> Path:
        """What is watched."""
        return self._folder

    @property
    def unfinished(self) -> list[Path]:
        """Files that came and were not finished when last looked at."""
        return [path for path, known in self._seen.items() if not known.told and path.exists()]

    @property
    def n_before(self) -> int:
        """How many files were there from the start."""
        return len(self._before)

    def look(self, now_s: float) -> list[Arrival]:
        """Return what can be told at this instant of a steady clock; each thing once.

        Parameters
        ----------
        now_s : float, s
            The instant; never before that of the last look.
        """
        found = []
        for path in _files(self._folder):
            stamp = _stamp(path)
            if stamp is None or self._before.get(path) == stamp:
                continue
            known = self._seen.setdefault(path, _Seen(stamp=stamp, first_s=now_s, changed_s=now_s))
            if known.stamp != stamp:
                known.first_s = now_s if known.told else known.first_s
                known.stamp, known.changed_s, known.told = stamp, now_s, False
            arrival = None if known.told else self._judged(path, known, now_s)
            found += [arrival] if arrival is not None else []
        return found

    def _judged(self, path: Path, known: _Seen, now_s: float) -> Arrival | None:
        size, still_s = known.stamp[0], now_s - known.changed_s
        torn = still_s >= self._quiet_s and size > 0 and _is_torn(path)
        if size > 0 and still_s >= (self._late_s if torn else self._quiet_s):
            return self._finished(path, known, "it ends inside a row" if torn else "")
        if now_s - known.first_s >= self._late_s and not known.named:
            known.named = True
            reason = "it is empty" if size == 0 else f"it is still being written, {counted(size, 'byte')} so far"
            return Arrival(path=path, kind="unfinished", reason=reason)
        return None

    def _finished(self, path: Path, known: _Seen, reason: str) -> Arrival | None:
        head = _head(path, known.told_bytes)
        if head is None:
            return None
        grown = known.told_bytes > 0 and head == known.told_head
        known.told, known.named, known.told_bytes = True, False, known.stamp[0]
        known.told_head = _head(path, known.told_bytes) or b""
        return Arrival(path=path, kind="grown" if grown else "finished", reason=reason)


def watched(folder: Path, *, late_s: float = LATE_S) -> Arrivals:
    """Begin to watch a folder: what is in it now is left alone.

    Parameters
    ----------
    folder : Path
        The folder.
    late_s : float, optional
        Age from which a file that never stood still counts as late, s.

    Raises
    ------
    FormatError
        If there is no such folder.
    """
    if not folder.is_dir():
        raise FormatError(
            "Only a folder can be watched.", {"got": folder}, "Name the folder that the scope saves into."
        )
    return Arrivals(folder, quiet_s=QUIET_POLLED_S if is_polled(folder) else QUIET_S, late_s=late_s)


def arriving(arrivals: Arrivals) -> Iterator[list[Arrival]]:
    """Yield what arrives in a folder until the caller stops, and an empty list every second in which nothing does.

    Parameters
    ----------
    arrivals : Arrivals
        From `watched`.

    Notes
    -----
    Where the system reports changes they are acted upon at once; where it does not (network shares, sticks) the folder
    is polled. It is read once a second in any case.
    """
    from watchfiles import watch

    yield arrivals.look(time.monotonic())
    wakes = watch(
        arrivals.folder,
        watch_filter=None,
        debounce=400,
        rust_timeout=int(1e3 * LOOK_S),
        yield_on_timeout=True,
        force_polling=is_polled(arrivals.folder),
        ignore_permission_denied=True,
    )
    for _ in wakes:
        yield arrivals.look(time.monotonic())


def is_polled(folder: Path, mounts: str = "/proc/self/mounts") -> bool:
    """Tell whether a folder lies where the system does not report changes.

    Parameters
    ----------
    folder : Path
        A folder.
    mounts : str
        The system's table of mounted file systems, as text.

    Examples
    --------
    >>> is_polled(Path("/"), mounts="/nowhere")
    False
    """
    place = folder.resolve()
    if str(place).startswith(("\\\\", "/Volumes/")) or (sys.platform == "win32" and place.drive.upper() != "C:"):
        return True
    try:
        lines = Path(mounts).read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return False
    found = [parts for line in lines if len(parts := line.split()) > 2 and _holds(parts[1], place)]
    kind = max(found, key=lambda parts: len(parts[1]))[2] if found else ""
    return kind in TELLS_NOTHING or kind.startswith("fuse.")


def _holds(mounted_at: str, place: Path) -> bool:
    at = Path(mounted_at.replace("\\040", " "))
    return at == place or at in place.parents


def _files(folder: Path) -> Iterator[Path]:
    """Files that could be captures: no pictures, no hidden or temporary ones, nothing of a session."""
    for root, folders, names in os.walk(folder):
        inside = len(Path(root).relative_to(folder).parts)
        folders[:] = [] if inside >= DEPTH else sorted(name for name in folders if not name.startswith("."))
        if "datapackage.json" in names:
            continue
        for name in sorted(names):
            lower = name.lower()
            if not (lower.startswith((".", "~")) or lower.endswith(UNFINISHED)):
                path = Path(root) / name
                if path.suffix.lower() not in NEVER_CAPTURES:
                    yield path


def _stamp(path: Path) -> tuple[int, int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns


def _head(path: Path, n_bytes: int) -> bytes | None:
    """A digest of the file's beginning; None while it cannot be opened (some writers lock it)."""
    try:
        with path.open("rb") as stream:
            return hashlib.sha256(stream.read(min(n_bytes, HEAD_BYTES))).digest()
    except OSError:
        return None


def _is_torn(path: Path) -> bool:
    """Whether the last row has no end and holds fewer fields than the one before it."""
    try:
        with path.open("rb") as stream:
            stream.seek(max(0, path.stat().st_size - TAIL_BYTES))
            tail = stream.read()
    except OSError:
        return True
    rows = tail.split(b"\n")
    if len(rows) < 3 or not rows[-1].strip(b"\r\0 "):
        return False
    counts = [[row.count(mark) for mark in (b",", b";", b"\t")] for row in rows[-2:]]
    return counts[1] != counts[0] and max(counts[0]) > 0
