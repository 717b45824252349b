"""Whether the tool made a file, and in which form: by a mark inside, or by a page beside it that vouches for it."""

from __future__ import annotations

import hashlib
import re
import zipfile
from collections.abc import Iterable
from pathlib import Path

__all__ = ["MARKED", "form_made", "vouched", "voucher"]

MARKED = {
    ".html": b"<!doctype html",
    ".htm": b"<!doctype html",
    ".svg": b"<?xml",
    ".png": b"\x89PNG\r\n\x1a\n",
    ".pdf": b"%PDF-",
    ".parquet": b"PAR1",
    ".xlsx": b"PK\x03\x04",
}
_MARK = re.compile(rb"Made by feelcheck: ([a-z ]{1,60})\.")
_VOUCHER = re.compile(rb"(?<![^\"|])([^\"|]{1,255}) sha256:([0-9a-f]{64})(?![^\"|])")
_HEAD, _TAIL = 2**13, 2**22
_ZIPPED_MARK = "docProps/core.xml"


def form_made(path: Path) -> str:
    """Return the name of the form in which the tool made a file, empty where it bears no mark.

    Parameters
    ----------
    path : Path
        An existing file; its ending says where a mark would stand: near the beginning of pages and pictures, near the
        end of Parquet and PDF files, in the properties of a workbook.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    magic = MARKED.get(path.suffix.lower())
    with path.open("rb") as stream:
        head = stream.read(_HEAD)
        if magic is None or not head.lower().startswith(magic.lower()):
            return ""
        if path.suffix.lower() in (".parquet", ".pdf"):
            size = stream.seek(0, 2)
            stream.seek(max(0, size - _TAIL))
            head = stream.read()
    if path.suffix.lower() == ".xlsx":
        head = _zipped(path)
    found = _MARK.search(head)
    return found.group(1).decode() if found else ""


def _zipped(path: Path) -> bytes:
    try:
        with zipfile.ZipFile(path) as book, book.open(_ZIPPED_MARK) as part:
            return part.read(_HEAD)
    except (zipfile.BadZipFile, KeyError, NotImplementedError, EOFError):
        return b""


def voucher(tables: Iterable[Path]) -> str:
    """Return the words with which a page vouches for tables beside it that cannot carry a mark themselves.

    Parameters
    ----------
    tables : iterable of Path
        Files as they were just written.
    """
    return "|".join(f"{path.name} sha256:{_sha256(path)}" for path in tables)


def vouched(path: Path) -> bool:
    """Return whether a page of the tool's in the same folder vouches for a file, byte for byte as it stands.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    for page in sorted(path.parent.glob("*.htm*")):
        if page.is_file() and form_made(page):
            with page.open("rb") as stream:
                told = dict(_VOUCHER.findall(stream.read(_HEAD)))
            if told.get(path.name.encode()) == _sha256(path).encode():
                return True
    return False


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
