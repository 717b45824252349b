"""A large file seen as windows of rows: which of them move, which rest, and which are kept."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from feelcheck.formats.numbers import AROUND_WINDOWS, FIRST_WINDOWS, MOVES, NOISES, PIECE_WINDOWS, RESTS
from feelcheck.model.stream import FloatArray

__all__ = [
    "Windows",
    "blocks",
    "gathered",
    "kept_of_a_log",
    "left_out",
    "line_ends",
    "moving",
    "widened",
]


@dataclass(frozen=True, slots=True)
class Windows:
    """Every window's place in the file, shape (w + 1,), and the least and most of each column in it, shape (w, c)."""

    at: NDArray[np.int64]
    low: FloatArray
    high: FloatArray
    sha256: str


def blocks(stream: BinaryIO, n_rows: int, n_bytes: int) -> Iterator[tuple[bytes, NDArray[np.int64]]]:
    """Yield what is left of a stream in blocks of about so many bytes: whole windows of lines, then the rest.

    Each comes with the places behind its lines' ends, shape (n_lines,).
    """
    rest = b""
    while piece := stream.read(n_bytes):
        rest += piece
        ends = line_ends(rest)
        whole = ends.size // n_rows * n_rows
        if whole:
            cut = int(ends[whole - 1])
            yield rest[:cut], ends[:whole]
            rest = rest[cut:]
    if rest:
        rest = rest if rest.endswith(b"\n") else rest + b"\n"
        yield rest, line_ends(rest)


def line_ends(block: bytes) -> NDArray[np.int64]:
    """Return the places behind the line ends of a block, shape (n_lines,)."""
    return np.flatnonzero(np.frombuffer(block, dtype=np.uint8) == ord("\n")) + 1


def gathered(
    stream: BinaryIO, windows: Windows, kept: NDArray[np.bool_], between: Callable[[int, int], Iterable[bytes]]
) -> bytes:
    """Return the head, the windows kept, and what stands for those between two of them (``between(first, end)``)."""
    stream.seek(0)
    found = [stream.read(int(windows.at[0]))]
    edges = np.flatnonzero(np.diff(kept.astype(int), prepend=-1, append=-1))
    for begin, end in itertools.pairwise(edges.tolist()):
        if kept[begin]:
            stream.seek(int(windows.at[begin]))
            found.append(stream.read(int(windows.at[end] - windows.at[begin])))
        else:
            found.extend(between(begin, end))
    return b"".join(found)


def left_out(kept: NDArray[np.bool_], wanted: NDArray[np.bool_]) -> str:
    """Return how much of the motion was left out, in words; nothing where all was kept."""
    share = 100.0 * (1 - kept.sum() / max(wanted.sum(), 1))
    return f"; {share:.2g} % of the motion was left out too" if wanted.sum() > kept.sum() else ""


def kept_of_a_log(
    windows: Windows, most: int, happened: NDArray[np.bool_] | None = None
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which windows of a log are kept, at most so many, and which were wanted, each of shape (w,).

    A log loses rest only, but for the windows in which something else happened; of more motion than may be kept whole
    pieces stay.
    """
    moves = moving(windows)
    rests = resting(windows, moves)
    wanted = widened(moves, AROUND_WINDOWS) | ~rests
    if happened is not None:
        wanted |= happened
    wanted[:FIRST_WINDOWS] = True
    return pieces(wanted, rests, most), wanted


def moving(windows: Windows) -> NDArray[np.bool_]:
    """Return which windows move: by more than a share of the column's range, and than most windows do."""
    spread = np.nan_to_num(windows.high - windows.low)
    reach = np.nanquantile(windows.high, 0.999, axis=0) - np.nanquantile(windows.low, 0.001, axis=0)
    usual = np.median(spread, axis=0)
    # A column that always moves (noise, a carrier) has no window that stands out.
    return np.asarray(((spread > MOVES * reach) & (spread > NOISES * usual)).any(axis=1))


def widened(moving: NDArray[np.bool_], around: int) -> NDArray[np.bool_]:
    """Return the windows that lie no further than so many from one that moves."""
    reach = np.concatenate([[0], np.cumsum(moving)])
    at = np.arange(moving.size)
    return np.asarray(reach[np.minimum(at + around + 1, moving.size)] > reach[np.maximum(at - around, 0)])


def resting(windows: Windows, moving: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which windows stand where most still ones stand: what follows a gap there goes on from where it was.

    Where rest is silent only motion makes rows, and none of its windows stands out from the others: a window that goes
    far is never at rest.
    """
    middle = np.nan_to_num(0.5 * (windows.low + windows.high))
    rest = np.median(middle[~moving], axis=0) if not moving.all() else np.median(middle, axis=0)
    reach = np.nanmax(windows.high, axis=0) - np.nanmin(windows.low, axis=0)
    still = np.nan_to_num(windows.high - windows.low) <= MOVES * reach
    return np.asarray(~moving & (still & (np.abs(middle - rest) <= RESTS * reach)).all(axis=1))


def pieces(wanted: NDArray[np.bool_], resting: NDArray[np.bool_], most: int) -> NDArray[np.bool_]:
    """Return as many of a log's windows as may be kept: whole pieces, begun and ended at rest, all over the file."""
    if wanted.sum() <= most:
        return wanted
    cuts, still = [0], np.flatnonzero(resting)
    while (k := int(np.searchsorted(still, cuts[-1] + PIECE_WINDOWS))) < still.size:
        cuts.append(int(still[k]))
    cuts = cuts if len(cuts) > 2 else list(range(0, wanted.size, PIECE_WINDOWS))
    piece = np.searchsorted(np.array(cuts[1:]), np.arange(wanted.size), side="right")
    size = np.bincount(piece, weights=wanted)
    every = max(2, int(np.ceil(wanted.sum() / most)))
    chosen = np.flatnonzero(np.arange(size.size) % every == 0)
    chosen = chosen[np.cumsum(size[chosen]) <= most] if size[0] <= most else chosen[:1]
    kept = wanted & np.isin(piece, chosen)
    kept[np.flatnonzero(kept)[most:]] = False
    return np.asarray(kept)
