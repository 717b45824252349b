"""The numeric table inside a text file, found by its structure: columns as arrays, everything round it as settings."""

from __future__ import annotations

import csv
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats._columns import Column, in_range, read_numbers
from feelcheck.formats._heading import Heading, find_heading
from feelcheck.formats._layout import Block, Dialect, find_block, find_dialect, split_cells
from feelcheck.formats._numbers import OVER_RANGE_WORDS, cell_kind, parse_number, resolution_of
from feelcheck.formats._plain_numbers import are_one_column, plain_rows
from feelcheck.formats._settings import Setting, find_settings
from feelcheck.formats._text import DecodedText
from feelcheck.formats.numbers import (
    FEWEST_ROWS,
    MOST_BAD_CELLS,
    MOST_LIKE_NOTES,
    N_SAMPLED_CELLS,
    TABLE_HEAD_CHARS,
    TABLE_TAIL_CHARS,
    WHOLE_CHARS,
)

__all__ = ["Table", "parse_table"]

_COMMENT_MARKS = ("#", "%", "//", ";", "!")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """The longest numeric table of a text.

    Parameters
    ----------
    columns : tuple of Column
        Numeric columns, left to right.
    times : tuple of Column
        Columns of times written as text.
    settings : tuple of Setting
        Keyed lines and cells above, beside and behind the data, in file order.
    notes : tuple of str
        Free text that stands beside or between the data.
    remarks : tuple of str
        What had to be mended or left out.
    dialect : Dialect
        Separator and decimal mark.
    heading : Heading
        Where the names came from.
    first_line, n_rows, width, n_behind : int
        First line of the data (from 1), number of rows, cells in the widest row, lines that follow the data.
    source : DecodedText
        Encoding, hash and size; its text is dropped.
    """

    columns: tuple[Column, ...]
    times: tuple[Column, ...]
    settings: tuple[Setting, ...]
    notes: tuple[str, ...]
    remarks: tuple[str, ...]
    dialect: Dialect
    heading: Heading
    first_line: int
    n_rows: int
    width: int
    n_behind: int
    source: DecodedText


def parse_table(source: DecodedText) -> Table:
    """Return the numeric table of a delimited text.

    Parameters
    ----------
    source : DecodedText
        The text.

    Raises
    ------
    FormatError
        If it holds no table of numbers, or its decimal commas cannot be told from separators.

    Notes
    -----
    The data block is the longest run of lines in which the same columns hold numbers. In big files the head and the
    tail are examined line by line and pandas' C reader converts what lies between; if that does not go through, the
    whole file is examined.
    """
    text, remarks = plain_rows(source.text)
    view = _View(text, whole=len(text) <= WHOLE_CHARS)
    found = _locate(view)
    if found is None and not view.whole:
        view = _View(text, whole=True)
        found = _locate(view)
    if found is None:
        facts = {"lines": source.text.count("\n") + 1}
        raise FormatError(
            "A capture or log needs columns of numbers, but no block of numeric rows was found.",
            facts,
            "Export the samples themselves as delimited text (CSV).",
        )
    dialect, block = found
    frame, bad, is_torn = _convert(view, block, dialect)
    if (bad > MOST_BAD_CELLS or is_torn) and not view.whole:
        view = _View(text, whole=True)
        dialect, block = _locate(view) or found
        frame, *_ = _convert(view, block, dialect)
    return _build(view, dialect, block, frame, source, remarks)


class _View:
    """The lines of a text: all of them, or head and tail with a gap between."""

    def __init__(self, text: str, *, whole: bool) -> None:
        self.text = text
        self.whole = whole
        if whole:
            self.lines = text.split("\n")
            self.n_head = len(self.lines)
            self.tail_start = len(text)
            return
        head_end = text.rindex("\n", 0, TABLE_HEAD_CHARS) if "\n" in text[:TABLE_HEAD_CHARS] else TABLE_HEAD_CHARS
        self.tail_start = max(text.find("\n", len(text) - TABLE_TAIL_CHARS) + 1, head_end)
        head = text[:head_end].split("\n")
        self.n_head = len(head)
        self.lines = head + text[self.tail_start :].split("\n")

    def offset(self, line: int) -> int:
        """Return where a line starts in the text."""
        base, lines = (0, self.lines[:line])
        if line > self.n_head or (line == self.n_head and not self.whole):
            base, lines = self.tail_start, self.lines[self.n_head : line]
        return min(base + sum(map(len, lines)) + len(lines), len(self.text))


def _locate(view: _View) -> tuple[Dialect, Block] | None:
    dialect = find_dialect(view.lines)
    block = find_block(view.lines, dialect) if dialect else None
    if dialect is None or block is None:
        return None
    if not view.whole and not (block.first < view.n_head - 2 and block.last > view.n_head + 2):
        return None
    return _settle_commas(view, dialect, block)


def _settle_commas(view: _View, dialect: Dialect, block: Block) -> tuple[Dialect, Block] | None:
    """Return what was found, or one column where commas are decimal marks, whatever parts settings beside it."""
    rows, above = view.lines[block.first : block.last], view.lines[: block.first]
    facts = {"line": block.first + 1}
    if dialect.separator != "," or block.is_quoted or not are_one_column(rows, above, len(block.numbers), facts):
        return dialect, block
    dialects = [Dialect(separator=separator, decimal=",") for separator in (";", "\t", "|")]
    found = [(comma, one) for comma in dialects if (one := find_block(view.lines, comma))]
    return max(found, key=lambda pair: pair[1].last - pair[1].first, default=None)


class _Slice:
    """A part of a text as a file that pandas' C reader can pull, without a second copy of it."""

    def __init__(self, text: str, start: int, end: int, heading: str) -> None:
        self._text, self._at, self._end, self._heading = text, start, end, heading

    def read(self, size: int = -1) -> str:
        if self._heading:
            heading, self._heading = self._heading, ""
            return heading
        stop = self._end if size < 0 else min(self._at + size, self._end)
        piece = self._text[self._at : stop]
        self._at = stop
        return piece

    def __iter__(self) -> Iterator[str]:
        while piece := self.read(262_144):
            yield piece


def _convert(view: _View, block: Block, dialect: Dialect) -> tuple[pd.DataFrame, float, bool]:
    """Return the block's columns, the share of cells that could not be read, and whether a row of words is among them.

    Such a row may be the heading of another table below the first.
    """
    text, start, end = view.text, view.offset(block.first), view.offset(block.last)
    asides = {k for k in block.bad_lines if view.lines[k].lstrip().startswith(_COMMENT_MARKS)} if view.whole else set()
    if asides:
        kept = [line for k, line in enumerate(view.lines[block.first : block.last], block.first) if k not in asides]
        text = "\n".join(kept) + "\n"
        start, end = 0, len(text)
    # One row of column numbers in front, as wide as any row seen, lets narrow and wide rows through alike.
    width = block.width + (0 if view.whole else 1)
    heading = dialect.separator.join(map(str, range(width))) + "\n"
    options: dict[str, Any] = {
        "sep": dialect.separator if dialect.separator != " " else r"\s+",
        "decimal": dialect.decimal,
        "header": 0,
        "usecols": [str(k) for k in (*block.numbers, *block.times)],
        "na_values": ["", *OVER_RANGE_WORDS],
        "keep_default_na": False,
        "skipinitialspace": any(f"{dialect.separator} " in line for line in view.lines[block.first : block.last]),
        "quoting": csv.QUOTE_MINIMAL if block.is_quoted else csv.QUOTE_NONE,
        "on_bad_lines": "skip",
        "index_col": False,
        "engine": "c",
    }

    def piece() -> Any:
        return _Slice(text, start, end, heading)

    types: dict[str, Any] = {str(k): np.float64 for k in block.numbers} | {str(k): str for k in block.times}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", pd.errors.ParserWarning)
        try:
            return pd.read_csv(piece(), dtype=types, **options), 0.0, False
        except (ValueError, OverflowError):
            pass
        try:
            frame = pd.read_csv(piece(), dtype=str, **options)
        except ValueError:
            options["quoting"] = csv.QUOTE_NONE
            frame = pd.read_csv(piece(), dtype=str, **options)
    bad = np.zeros((len(block.numbers), frame.shape[0]), dtype=np.bool_)
    for k, column in enumerate(map(str, block.numbers)):
        frame[column], bad[k] = read_numbers(frame[column], dialect.decimal)
    return frame, float(np.sum(bad)) / max(1, bad.size), bool(np.any(np.all(bad, axis=0)))


def _build(
    view: _View, dialect: Dialect, block: Block, frame: pd.DataFrame, source: DecodedText, remarks: tuple[str, ...]
) -> Table:
    above = list(enumerate(view.lines[: block.first], start=1))
    beside, notes, cells = _beside(view, block, dialect)
    below = [(0, line) for line in view.lines[block.last : block.last + 100] if line.strip()]
    settings = find_settings([*above, *beside], dialect)
    footer = find_settings(below, dialect)
    heading = find_heading(view.lines, block, dialect)
    mended = [*source.remarks, *remarks]
    written = (*heading.cells, *[""] * block.width)
    columns = []
    for k in block.numbers:
        values = in_range(frame[str(k)].to_numpy(np.float64, copy=False))
        n_missing = np.count_nonzero(np.isnan(values))
        name = heading.names[k] if k < len(heading.names) else ""
        unit = heading.units[k] if k < len(heading.units) else ""
        if n_missing:
            which = f"column {name or k + 1}: {n_missing} of {counted(values.size, 'cell')}"
            mended.append(f"{which} blank, over range or no number")
        columns.append(
            Column(index=k, name=name, unit=unit, cells=values, resolution=resolution_of(cells[k]), written=written[k])
        )
    n_above = sum(_is_like(line, block, dialect) for _, line in above)
    if n_above >= FEWEST_ROWS:
        mended.append(f"{counted(n_above, 'row')} of numbers above the data left out: the longest block was read")
    behind = view.lines[block.last :] if below and not _is_plain_end(below) else []
    n_behind = sum(1 for line in behind if line.strip())
    if n_behind:
        mended.append(f"{counted(n_behind, 'line')} after the data left out")
    times = tuple(
        Column(index=k, name=heading.names[k], unit="", cells=_as_text(frame[str(k)]), written=written[k])
        for k in block.times
    )
    return Table(
        columns=tuple(columns),
        times=times,
        settings=(*settings, *heading.settings, *footer),
        notes=tuple(notes),
        remarks=tuple(mended),
        dialect=dialect,
        heading=heading,
        first_line=block.first + 1,
        n_rows=len(frame),
        width=block.width,
        n_behind=n_behind,
        source=DecodedText(text="", encoding=source.encoding, sha256=source.sha256, n_bytes=source.n_bytes),
    )


def _as_text(cells: pd.Series[Any]) -> NDArray[Any]:
    return np.asarray(cells.fillna("").astype(str).str.strip('" ').to_numpy(object))


def _is_like(line: str, block: Block, dialect: Dialect) -> bool:
    """Tell whether a line holds numbers where the data do."""
    cells = split_cells(line, dialect.separator)
    return len(cells) > max(block.core) and all(cell_kind(cells[k], dialect.decimal) == "n" for k in block.core)


def _is_plain_end(below: list[tuple[int, str]]) -> bool:
    return all(not line.strip(" \t,;|") for _, line in below)


def _beside(
    view: _View, block: Block, dialect: Dialect
) -> tuple[list[tuple[int, str]], list[str], dict[int, list[str]]]:
    """Return settings and notes that stand in the data's rows, and some cells of each column as written."""
    beside: list[tuple[int, str]] = []
    notes: list[str] = []
    held = {*block.numbers, *block.times}
    repeats: dict[str, int] = {}
    cells: dict[int, list[str]] = {k: [] for k in block.numbers}
    last_sampled = block.last - N_SAMPLED_CELLS
    for number in range(block.first, block.last):
        row = split_cells(view.lines[number], dialect.separator)
        if number < block.first + N_SAMPLED_CELLS or number >= last_sampled:
            for k in block.numbers:
                if k < len(row):
                    cells[k].append(row[k])
        if len(row) == len(block.numbers) and number not in block.bad_lines:
            continue
        rest = [cell.strip().strip('"').strip() for k, cell in enumerate(row) if k not in held]
        words = [cell for cell in rest if cell_kind(cell, dialect.decimal) == "x"]
        if words and len([cell for cell in rest if cell]) > 1:
            beside.append((number + 1, dialect.separator.join(rest).strip(dialect.separator)))
        elif words:
            repeats[words[0]] = repeats.get(words[0], 0) + 1
            if repeats[words[0]] <= MOST_LIKE_NOTES:
                notes.append(f"line {number + 1}: {words[0]}")
        for cell in _words_among(row, block, dialect):
            repeats[cell] = repeats.get(cell, 0) + 1
            notes.append(f"line {number + 1}: {cell}")
    # what stands in every row is a column of text, not a note
    notes = [note for note in notes if repeats.get(note.split(": ", 1)[1], 0) <= MOST_LIKE_NOTES]
    return beside, notes, cells


def _words_among(row: list[str], block: Block, dialect: Dialect) -> list[str]:
    """Return the cells of a row that are words where numbers should be."""
    cells = [row[k].strip() for k in block.numbers if k < len(row)]
    return [cell for cell in cells if cell_kind(cell, dialect.decimal) == "x" and parse_number(cell) is None]
