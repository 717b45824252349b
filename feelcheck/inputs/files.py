"""Reading a whole file that may be no file at all: no pipe is waited for, no device is read for ever."""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path

from feelcheck.errors import FeelcheckError, FormatError

__all__ = ["DOCUMENT_BYTES", "file_bytes", "file_sha256", "file_text"]

DOCUMENT_BYTES = 2**24
"""No record, script or header comes near this."""


def file_bytes(path: Path, *, most: int = DOCUMENT_BYTES, error: type[FeelcheckError] = FormatError) -> bytes:
    """Return the content of a plain file.

    Parameters
    ----------
    path : Path
        The file.
    most : int
        How many bytes it may hold.
    error : type
        What is raised.

    Raises
    ------
    FileNotFoundError
        If there is none.
    FeelcheckError
        Of the kind asked for, if it is a folder, a pipe or a device, is too big, or cannot be read.
    """
    try:
        # Without O_NONBLOCK opening a pipe waits until somebody writes into it.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(handle, "rb") as stream:
            status = os.fstat(stream.fileno())
            if not stat.S_ISREG(status.st_mode):
                raise error(
                    "A plain file is needed here, no folder, pipe or device.", {"got": path}, "Save it as a file first."
                )
            if status.st_size > most:
                facts = {"file": path, "bytes": status.st_size, "allowed": most}
                raise error("The file is too big for what it is taken for.", facts, "Check that it is the right one.")
            return stream.read(status.st_size)
    except FileNotFoundError:
        raise
    # Errors of the tool's own are ValueErrors or OSErrors, too: they pass as they are.
    except ValueError as problem:
        raise (
            problem
            if isinstance(problem, FeelcheckError)
            else error("A path holds no null character.", {"got": repr(str(path))})
        ) from None
    except OSError as problem:
        if isinstance(problem, FeelcheckError):
            raise
        facts = {"file": path, "reason": problem.strerror or problem}
        raise error("The file cannot be read.", facts, "Check the path and its permissions.") from None


def file_text(path: Path, *, error: type[FeelcheckError] = FormatError) -> str:
    """Return the text of a plain file in UTF-8.

    Parameters
    ----------
    path : Path
        The file.
    error : type of FeelcheckError, optional
        Raised with what is wrong.

    Raises
    ------
    FileNotFoundError
        If there is none.
    FeelcheckError
        Of the kind asked for, if it cannot be read or is no such text.
    """
    data = file_bytes(path, error=error)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        facts = {"file": path, "byte": problem.start, "reason": problem.reason}
        raise error("The file must be text in UTF-8.", facts, "Save it again as UTF-8.") from None


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal digits.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    OSError
        If it cannot be read.

    References
    ----------
    FIPS 180-4, Secure Hash Standard.
    """
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
