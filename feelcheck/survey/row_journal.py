"""Rows in a journal: the names of their cells once, then only the values."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from feelcheck.outputs import Journal

__all__ = ["RowJournal"]

Row = Mapping[str, Any]


class RowJournal:
    """Rows that are kept one file after the other; the same rows come back.

    Parameters
    ----------
    kept : Journal
        Where they are kept.

    Notes
    -----
    A line ``{"names": [...], "number": k}`` stands before the first row with these names; a row is that number and its
    values. Rows whose names are not told, as after a damaged line, are as good as never kept.
    """

    def __init__(self, kept: Journal) -> None:
        self._kept = kept
        self._numbers: dict[tuple[str, ...], int] = {}
        self.rows: tuple[Row, ...] = tuple(self._read(kept.done))

    def _read(self, documents: Iterable[Any]) -> Iterator[Row]:
        told: dict[int, tuple[str, ...]] = {}
        for document in documents:
            if isinstance(document, dict):
                told[document["number"]] = tuple(document["names"])
                continue
            for number, *values in document:
                if number in told and len(told[number]) == len(values):
                    yield dict(zip(told[number], values, strict=True))
        self._numbers = {names: number for number, names in told.items()}

    def add(self, rows: Iterable[Row]) -> None:
        """Keep the rows of one file; they survive the end of this process.

        Parameters
        ----------
        rows : iterable of mapping
            All of one file.
        """
        self._kept.add([[self._number(tuple(row)), *row.values()] for row in rows])

    def _number(self, names: tuple[str, ...]) -> int:
        if names not in self._numbers:
            self._numbers[names] = 1 + max(self._numbers.values(), default=-1)
            self._kept.add({"names": names, "number": self._numbers[names]})
        return self._numbers[names]
