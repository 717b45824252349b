"""Files too large for memory: what moves is kept with its surroundings, what lies between is left out or thinned."""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from feelcheck.formats._windows import Windows, blocks, gathered, kept_of_a_log, left_out, line_ends, moving, widened
from feelcheck.formats.numbers import AROUND_EDGE_WINDOWS, HEAD_BYTES, MOST_ROWS, NEARLY_ALL, STILL_ROWS
from feelcheck.model.stream import FloatArray

__all__ = ["Between", "Condensed", "condense"]

Between = Literal["gap", "thinned"]
"""What becomes of rows in which nothing moves: a gap as a broken-off log has it, or every so many rows."""

WINDOW_ROWS = 64
"""Rows that are judged together: the fast part of a flick at 1 kHz."""
_BLOCK_BYTES = 2**24
_SEPARATORS = ("\t", ";", ",", "|")
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+(?:[eE][+-]?\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Condensed:
    """What is left of a large file.

    Parameters
    ----------
    data : bytes
        Its head and the lines that were kept.
    sha256 : str
        Hash of the whole file.
    remark : str
        What was kept and what not.
    """

    data: bytes
    sha256: str
    remark: str


@dataclass(frozen=True, slots=True)
class _Layout:
    """How rows are cut, found in the head: separator (None: blanks), decimal mark, width, columns that may move."""

    separator: str | None
    decimal: str
    width: int
    signals: list[int]
    begin: int


def condense(path: Path, between: Between) -> Condensed | None:
    """Return what is left of a large file of delimited rows; None where its rows cannot be judged one by one.

    Parameters
    ----------
    path : Path
        A file in an encoding of one byte a character, UTF-8 included.
    between : {"gap", "thinned"}
        What becomes of rows in which nothing moves.

    Notes
    -----
    The file is read twice in blocks, and memory does not grow with it. A log loses rest only, and of more motion than
    `MOST_ROWS` hold whole pieces; a capture keeps its first edges whole.
    """
    layout = _layout(path)
    if layout is None:
        return None
    try:
        windows = _judged(path, layout)
    except ValueError:
        return None
    if between == "gap":
        (kept, wanted), every = kept_of_a_log(windows, MOST_ROWS // WINDOW_ROWS), 0
    else:
        wanted = widened(moving(windows), AROUND_EDGE_WINDOWS)
        kept = _beginning(wanted)
        still, room = (kept.size - kept.sum()) * WINDOW_ROWS, MOST_ROWS - kept.sum() * WINDOW_ROWS
        every = 1 + still // max(min(room, STILL_ROWS), 1)

    def thinned(begin: int, end: int) -> Iterable[bytes]:
        return _thinned(path, int(windows.at[begin]), int(windows.at[end]), int(every)) if every else ()

    with path.open("rb") as stream:
        data = gathered(stream, windows, kept, thinned)
    return Condensed(data=data, sha256=windows.sha256, remark=_remark(windows, wanted, kept, int(every)))


def _layout(path: Path) -> _Layout | None:
    with path.open("rb") as stream:
        head = stream.read(HEAD_BYTES)
    lines = head.split(b"\n")[:-1]
    rows = [line.decode("latin-1").strip("\r") for line in lines[len(lines) // 2 :]]
    for separator in (*_SEPARATORS, None):
        cells = [row.split(separator) for row in rows]
        width = len(cells[0]) if cells else 0
        if width < 2 or any(len(row) != width for row in cells):
            continue
        decimal = "," if separator != "," and any(_COMMA_NUMBER.fullmatch(c.strip()) for c in cells[-1]) else "."
        table = pd.DataFrame(cells).apply(_numbers, decimal=decimal).to_numpy()
        signals = [
            k for k in range(width) if np.isfinite(table[:, k]).mean() > NEARLY_ALL and not _counts_up(table[:, k])
        ]
        if signals:
            begin = sum(len(line) + 1 for line in lines[: _first_row(lines, separator, width)])
            return _Layout(separator, decimal, width, signals, begin)
    return None


def _first_row(lines: list[bytes], separator: str | None, width: int) -> int:
    """The first line from which on all are rows of numbers of one width."""
    for k in range(len(lines) - 1, -1, -1):
        cells = lines[k].decode("latin-1").strip("\r").split(separator)
        if len(cells) != width or not any(map(str.isdigit, cells[-1])):
            return k + 1
    return 0


def _numbers(column: pd.Series, decimal: str) -> pd.Series:
    if column.dtype.kind in "fiu":
        return column.astype(float)
    text = column.astype(str).str.strip(' "\r')
    return pd.to_numeric(text.str.replace(",", ".") if decimal == "," else text, errors="coerce").astype(float)


def _counts_up(values: FloatArray) -> bool:
    """Whether a column is a time or a counter: it never falls and often rises."""
    steps = np.diff(values[np.isfinite(values)])
    return steps.size > 0 and bool((steps >= 0).all()) and bool((steps > 0).mean() > 0.1)


def _judged(path: Path, layout: _Layout) -> Windows:
    """Look at every window; ValueError where a line is no row."""
    places, lows, highs = [np.array([layout.begin], dtype=np.int64)], [], []
    size = path.stat().st_size
    with path.open("rb") as stream:
        digest = hashlib.sha256(stream.read(layout.begin))
        for block, ends in blocks(stream, WINDOW_ROWS, _BLOCK_BYTES):
            last = int(places[-1][-1])
            digest.update(memoryview(block)[: size - last])
            values = _values(block, layout)
            if len(values) != ends.size:
                raise ValueError("lines and rows differ")
            first = np.arange(0, ends.size, WINDOW_ROWS)
            lows.append(np.fmin.reduceat(values, first, axis=0))
            highs.append(np.fmax.reduceat(values, first, axis=0))
            stops = ends[np.minimum(first + WINDOW_ROWS, ends.size) - 1]
            places.append(np.minimum(last + stops, size).astype(np.int64))
    return Windows(np.concatenate(places), np.concatenate(lows), np.concatenate(highs), digest.hexdigest())


def _values(block: bytes, layout: _Layout) -> FloatArray:
    """The columns that may move, shape (rows, c)."""
    table = pd.read_csv(
        io.BytesIO(block), sep=layout.separator or r"\s+", header=None, names=range(layout.width),
        usecols=layout.signals, decimal=layout.decimal, skip_blank_lines=False, quoting=3, low_memory=False,
        encoding="latin-1",
    )  # fmt: skip
    if not all(dtype.kind in "fiu" for dtype in table.dtypes):
        table = table.apply(_numbers, decimal=layout.decimal)
    return table.to_numpy(dtype=np.float64)


def _beginning(wanted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Of a capture's windows as many as may be kept, the first ones; the rest is thinned like what is still."""
    kept = wanted.copy()
    kept[np.flatnonzero(wanted)[MOST_ROWS // WINDOW_ROWS // 2 :]] = False
    return kept


def _thinned(path: Path, begin: int, end: int, every: int) -> Iterator[bytes]:
    """Every so many lines between two places, in pieces."""
    passed = 0
    for block in _lines(path, begin, end):
        ends = line_ends(block)
        if not ends.size or ends[-1] < len(block):
            ends = np.append(ends, len(block))
        chosen = np.arange(-passed % every, ends.size, every)
        starts = np.where(chosen > 0, ends[chosen - 1], 0)
        yield b"".join([block[a:b] for a, b in zip(starts.tolist(), ends[chosen].tolist(), strict=True)])
        passed += ends.size


def _lines(path: Path, begin: int, end: int) -> Iterator[bytes]:
    """What lies between two places in blocks of whole lines."""
    rest = b""
    with path.open("rb") as stream:
        stream.seek(begin)
        while piece := stream.read(min(_BLOCK_BYTES, end - stream.tell())):
            whole, _, torn = piece.rpartition(b"\n")
            yield from [rest + whole + b"\n"] if len(torn) < len(piece) else []
            rest = torn if len(torn) < len(piece) else rest + torn
    if rest:
        yield rest


def _remark(windows: Windows, wanted: NDArray[np.bool_], kept: NDArray[np.bool_], every: int) -> str:
    rows = kept.size * WINDOW_ROWS
    share = 100.0 * kept.mean()
    text = f"a large file of about {rows:,} rows: {share:.2g} % of them were read whole, around motion"
    text += f", of the rest every {every}th" if every else ", the rest stands as gaps"
    text += left_out(kept, wanted)
    span = ", ".join(f"{low:g} to {high:g}" for low, high in zip(_lowest(windows), _highest(windows), strict=True))
    return f"{text}; over the whole file the columns go from {span}"


def _lowest(windows: Windows) -> FloatArray:
    return np.asarray(np.nanmin(windows.low, axis=0))


def _highest(windows: Windows) -> FloatArray:
    return np.asarray(np.nanmax(windows.high, axis=0))
