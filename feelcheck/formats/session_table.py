"""The rows of a session's events file, without what a crash tore."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats.numbers import ALWAYS_ISOLATED, MOST_BACK
from feelcheck.formats.session_log import EVENTS_FILE, EVENTS_HEADER
from feelcheck.inputs import file_bytes

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["forward", "read_bytes", "whole_table"]

_ROW = re.compile(rb"^\d{1,18},\d{1,18},[a-z]{1,16},[^,\r\n\0]*,-?\d{1,18},\.$")
_MAX_BYTES = 2**31
_LATEST_NS = 2.0**62
_LARGEST = 10**18
_DTYPES: dict[str, Any] = {
    "t_lo_ns": np.int64,
    "t_hi_ns": np.int64,
    "kind": "category",
    "name": "category",
    "value": np.int64,
}

_AGAIN = "Record it again, or analyse another session."


def read_bytes(path: Path) -> bytes:
    """Return an events file as it stands.

    Parameters
    ----------
    path : Path
        The events file.

    Raises
    ------
    FormatError
        Where it is missing, unreadable or over 2 GiB.
    """
    try:
        return file_bytes(path, most=_MAX_BYTES)
    except FileNotFoundError:
        raise FormatError(
            f"The session holds no {EVENTS_FILE}: its recording never began.", {"folder": path.parent}, _AGAIN
        ) from None
    except FormatError as problem:
        facts = {**problem.facts, "because": problem.sentence}
        raise FormatError("The events file cannot be read.", facts, problem.next_step) from None


def whole_table(data: bytes) -> tuple[pd.DataFrame, list[str]]:
    """Return the whole rows of an events file and what had to be dropped.

    Parameters
    ----------
    data : bytes
        The events file as it stands.

    Raises
    ------
    FormatError
        Where it does not begin with the column names.
    """
    import pandas as pd

    body = data.replace(b"\r\n", b"\n") if b"\r" in data else data
    head, _, rows = body.removeprefix(b"\xef\xbb\xbf").partition(b"\n")
    remarks: list[str] = []
    if head + b"\n" != EVENTS_HEADER.encode():
        # A file cut within its first line is an empty recording; anything else is not ours.
        if not EVENTS_HEADER.encode().startswith(head.rstrip(b"\0")):
            facts = {"got": head[:80].decode("utf-8", "replace"), "allowed": EVENTS_HEADER.strip()}
            raise FormatError("The events file of a session begins with its column names.", facts, _AGAIN)
        rows = b""
    if rows and (b"\0" in rows or not rows.endswith(b"\n") or rows.count(b",.\n") != rows.count(b"\n")):
        rows, remarks = _whole_rows(rows)
    try:
        with np.errstate(invalid="raise"):  # a number beyond 64 bits would be cast to some other one
            table = _parsed(rows)
        numbers = table[["t_lo_ns", "t_hi_ns", "value"]]
        if ((numbers >= _LARGEST) | (numbers <= -_LARGEST)).any(axis=None) or (table["t_lo_ns"] < 0).any():
            raise ValueError("a number beyond what a row may hold")
    except (ValueError, OverflowError, FloatingPointError, pd.errors.ParserError):
        rows, remarks = _whole_rows(rows)
        table = _parsed(rows)
    return table, remarks


def _whole_rows(rows: bytes) -> tuple[bytes, list[str]]:
    lines = rows.split(b"\n")
    whole = [line for line in lines if _ROW.match(line)]
    n_dropped = sum(bool(line.strip(b"\0")) for line in lines) - len(whole)
    remarks = []
    if n_dropped:
        remarks.append(f"{counted(n_dropped, 'torn or damaged row')} dropped from the events file")
    if n_nul := rows.count(b"\0"):
        remarks.append(f"{counted(n_nul, 'NUL byte')} dropped from the events file")
    return b"".join(line + b"\n" for line in whole), remarks


def _parsed(rows: bytes) -> pd.DataFrame:
    import pandas as pd

    table: pd.DataFrame = pd.read_csv(
        io.BytesIO(rows),
        header=None,
        names=list(_DTYPES),
        usecols=[0, 1, 2, 3, 4],
        dtype=_DTYPES,
        quoting=3,
        lineterminator="\n",
        keep_default_na=False,
        encoding_errors="replace",
    )
    return table


def forward(
    lo: NDArray[np.int64], hi: NDArray[np.int64], is_axis: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.int64], list[int]]:
    """Return brackets of which the axis rows never step back, and the rows at which they did.

    Parameters
    ----------
    lo : ndarray, shape (n,)
        Early ends of the brackets, ns.
    hi : ndarray, shape (n,)
        Late ends of the brackets, ns.
    is_axis : ndarray, shape (n,)
        Whether a row is one of an axis.
    """
    axis = np.flatnonzero(is_axis)
    falls = np.flatnonzero(np.diff(hi[axis]) < 0)
    if falls.size > max(ALWAYS_ISOLATED, MOST_BACK * axis.size):
        raise FormatError(
            "The clock of a session must run forward: this many steps back are no restarts.",
            {"rows": int(axis.size), "steps back": int(falls.size)},
            _AGAIN,
        )
    back = axis[falls + 1]
    shift = np.zeros(lo.size, dtype=np.int64)
    shift[back] = hi[axis[falls]] - lo[back]
    if np.sum(shift, dtype=np.float64) + float(hi.max(initial=0)) > _LATEST_NS:
        raise FormatError(
            "The clock of a session must run forward: joined at its steps, it lasts for centuries.",
            {"steps back": int(falls.size)},
            _AGAIN,
        )
    shift = np.cumsum(shift)
    return lo + shift, hi + shift, back.tolist()
