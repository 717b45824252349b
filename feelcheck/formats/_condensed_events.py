"""The events file of a session of many hours: motion and all that happened is kept, rest becomes gaps."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from feelcheck.formats._windows import Windows, blocks, gathered, kept_of_a_log, left_out
from feelcheck.formats.numbers import MOST_ROWS
from feelcheck.formats.session_log import EVENTS_HEADER, GUARD
from feelcheck.formats.session_table import whole_table
from feelcheck.model.stream import FloatArray

__all__ = ["condensed_events"]

WINDOW_ROWS = 128
"""Rows that are judged together: 64 ms in which two axes report each millisecond."""
LEFT_OUT = "left out while at rest"
_BLOCK_BYTES = 2**23


def condensed_events(path: Path) -> tuple[bytes, str, list[str]]:
    """Return the rows kept of a large events file, the hash of the whole file and what was left out.

    Parameters
    ----------
    path : Path
        An events file; it is read twice in blocks, and memory does not grow with it.

    Raises
    ------
    FormatError
        If it is no events file.
    OSError
        If it cannot be read.
    """
    with path.open("rb") as stream:
        found = _Found(stream.readline(), path.stat().st_size)
        for block, ends in blocks(stream, WINDOW_ROWS, _BLOCK_BYTES):
            found.take(block, ends)
        if not found.ranges:
            return found.head, found.digest.hexdigest(), []
        windows = found.windows()
        kept, wanted = kept_of_a_log(windows, MOST_ROWS // WINDOW_ROWS, np.concatenate(found.happened))
        ns = np.concatenate(found.times_ns)

        def gap(begin: int, end: int) -> Iterable[bytes]:
            return (f"{ns[begin, 0]},{ns[end - 1, 1]},gap,{LEFT_OUT},0,{GUARD}\n".encode(),)

        data = gathered(stream, windows, kept, gap)
    n_rows = kept.size * WINDOW_ROWS
    told = f"a large session of about {n_rows:,} rows: {100 * kept.mean():.2g} % of them were read, around motion; "
    told += f"the rest stands as gaps{left_out(kept, wanted)}"
    return data, windows.sha256, [told]


@dataclass
class _Ranges:
    """The least and most of each axis in the n windows of a block, each of shape (n,)."""

    n: int
    axes: dict[str, tuple[FloatArray, FloatArray]] = field(default_factory=dict)


@dataclass
class _Found:
    """What the blocks of an events file show, window by window."""

    head: bytes
    n_bytes: int
    places: list[NDArray[np.int64]] = field(default_factory=list)
    axes: dict[str, int] = field(default_factory=dict)
    last: dict[str, float] = field(default_factory=dict)
    ranges: list[_Ranges] = field(default_factory=list)
    times_ns: list[NDArray[np.int64]] = field(default_factory=list)
    happened: list[NDArray[np.bool_]] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin behind the file's first line."""
        whole_table(self.head)
        self.digest = hashlib.sha256(self.head)
        self.places.append(np.array([len(self.head)], dtype=np.int64))

    def take(self, block: bytes, ends: NDArray[np.int64]) -> None:
        """Take whole lines, a whole number of windows but in the last block, and where each ends."""
        # The last block has a line end of its own where the file's last row is torn.
        self.digest.update(block[: self.n_bytes - int(self.places[-1][-1])])
        table, _ = whole_table(EVENTS_HEADER.encode() + block)
        if table.empty:
            self.places[-1][-1] += len(block)
            return
        # Where a row is torn, rows and lines differ: such a block is judged as one window.
        rows = np.arange(0, ends.size, WINDOW_ROWS) if len(table) == ends.size else np.zeros(1, dtype=np.int64)
        last = np.append(rows[1:], len(table)) - 1
        stops = ends[last] if len(table) == ends.size else np.array([len(block)])
        self.places.append(int(self.places[-1][-1]) + stops)
        high_ns = table["t_hi_ns"].to_numpy()
        self.times_ns.append(np.column_stack([high_ns[rows], high_ns[last]]))
        is_axis = (table["kind"] == "axis").to_numpy()
        window = np.searchsorted(rows, np.arange(len(table)), side="right") - 1
        self.happened.append(np.bincount(window[~is_axis], minlength=rows.size) > 0)
        labels, values = table["name"].cat.codes.to_numpy(), table["value"].to_numpy().astype(np.float64)
        found = _Ranges(rows.size)
        for code, label in enumerate(table["name"].cat.categories):
            at = np.flatnonzero(is_axis & (labels == code))
            if at.size:
                found.axes[label] = self._range(label, window[at], values[at], rows.size)
        self.ranges.append(found)

    def _range(self, axis: str, window: NDArray[np.int64], values: FloatArray, n: int) -> tuple[FloatArray, FloatArray]:
        """Return an axis' least and most in each window; what is silent holds its last value."""
        begins = np.flatnonzero(np.diff(window, prepend=-1))
        low, high = np.full(n, np.nan), np.full(n, np.nan)
        low[window[begins]] = np.minimum.reduceat(values, begins)
        high[window[begins]] = np.maximum.reduceat(values, begins)
        ends = np.append(begins[1:], values.size) - 1
        held = np.full(n, np.nan)
        held[window[begins]] = values[ends]
        before = np.maximum.accumulate(np.where(np.isnan(held), -1, np.arange(n)))
        at_rest = np.where(before >= 0, held[np.maximum(before, 0)], self.last.get(axis, np.nan))
        self.axes.setdefault(axis, len(self.axes))
        self.last[axis] = float(values[-1])
        silent = np.isnan(low)
        return np.where(silent, at_rest, low), np.where(silent, at_rest, high)

    def windows(self) -> Windows:
        """Return all windows."""
        shape = (sum(found.n for found in self.ranges), len(self.axes))
        low, high, at = np.full(shape, np.nan), np.full(shape, np.nan), 0
        for found in self.ranges:
            here = slice(at, at + found.n)
            low[here] = high[here] = high[at - 1] if at else np.nan  # an axis that no row names rests where it was
            for axis, (least, most) in found.axes.items():
                low[here, self.axes[axis]], high[here, self.axes[axis]] = least, most
            at += found.n
        return Windows(np.concatenate(self.places), low, high, self.digest.hexdigest())
