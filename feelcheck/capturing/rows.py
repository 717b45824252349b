"""Rows of an events file that another process writes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

__all__ = ["Row", "RowTail"]

Row = tuple[float, str, str, int]
"""``(t_s, kind, name, value)`` of an axis, button, plug or unplug row; t_s is the end of its bracket."""


class RowTail:
    """New whole rows of an events file that another process appends to.

    Parameters
    ----------
    stream : binary file
        The file, at its beginning.
    """

    def __init__(self, stream: BinaryIO) -> None:
        self._stream, self._rest = stream, b""
        self.n_rows = -1  # the header row

    def new(self) -> Iterator[Row]:
        """Yield the rows that came since the last call."""
        lines = (self._rest + self._stream.read()).split(b"\n")
        self._rest = lines.pop()
        self.n_rows += len(lines)
        for line in lines:
            cells = line.split(b",")
            if len(cells) == 6 and cells[2] in (b"axis", b"button", b"plug", b"unplug"):
                yield int(cells[1]) * 1e-9, cells[2].decode(), cells[3].decode(), int(cells[4])
