"""Where the numbers of a delimited text are: separator, decimal mark, the block of data rows and its columns."""

from __future__ import annotations

import csv
import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from feelcheck.formats._numbers import cell_kind
from feelcheck.formats.numbers import LAYOUT_LINES, MOST_BAD_CELLS, MOSTLY, NEARLY_ALL, SPOILT_WIDTH, TEXT_WEIGHT

__all__ = ["Block", "Dialect", "find_block", "find_dialect", "split_cells"]

_BLANKS = re.compile(r'"[^"]*"|\S+')


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How cells are separated and numbers are written; the separator ``" "`` stands for any run of blanks."""

    separator: str
    decimal: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """The longest run of data rows: lines ``[first, last)`` and its columns.

    Parameters
    ----------
    first, last : int
        Line numbers, from 0.
    core : tuple of int
        Columns that are numeric in most rows.
    numbers, times : tuple of int
        Columns that hold numbers throughout, and columns that hold times written as text.
    bad_lines : tuple of int
        Lines inside that are no data rows.
    width : int
        The most cells that any sound line has.
    is_quoted : bool
        Whether numbers stand in quotes.
    """

    first: int
    last: int
    core: tuple[int, ...]
    numbers: tuple[int, ...]
    times: tuple[int, ...]
    bad_lines: tuple[int, ...]
    width: int
    is_quoted: bool


def split_cells(line: str, separator: str) -> list[str]:
    """Return the cells of a line, quotes kept out of the way of separators."""
    if separator == " ":
        return _BLANKS.findall(line) if '"' in line else line.split()
    if '"' not in line:
        return line.split(separator)
    try:
        return next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
    except csv.Error:
        return line.split(separator)


def _kinds(lines: Sequence[str], dialect: Dialect) -> list[str]:
    """Return the kinds of each line's cells; what a spoilt line has far beyond all others are no columns."""
    separator, decimal = dialect.separator, dialect.decimal
    numbers = _row_of_numbers(separator, decimal)
    kinds = [
        "n" * (line.count(separator) + 1)
        if numbers and numbers.fullmatch(line)
        else "".join([cell_kind(cell, decimal) for cell in split_cells(line, separator)])
        for line in lines
    ]
    lengths = sorted(map(len, kinds))
    most = SPOILT_WIDTH + 4 * lengths[len(lengths) // 2] if lengths else 0
    return [row[:most] for row in kinds] if lengths and lengths[-1] > most else kinds


@lru_cache
def _row_of_numbers(separator: str, decimal: str) -> re.Pattern[str] | None:
    """Return the pattern of a row of plain numbers, as nearly all rows are; None where blanks part the cells."""
    if separator == " ":
        return None
    fraction = "" if decimal == separator else rf"(?:{re.escape(decimal)}\d+)?"
    number = rf" *[+-]?\d+{fraction}(?:[eE][+-]?\d+)? *"
    return re.compile(rf"{number}(?:{re.escape(separator)}{number})*")


def find_dialect(lines: Sequence[str]) -> Dialect | None:
    """Return the separator and decimal mark that make the most numeric cells in one block; None without any.

    Notes
    -----
    Every pairing is tried on some hundred lines from the head, the middle and the end; cells of text count against a
    pairing, so ``0,5;1,25`` is not taken for comma-separated whole numbers.
    """
    n, half = len(lines), LAYOUT_LINES // 2
    if n > 3 * LAYOUT_LINES:
        lines = [*lines[:LAYOUT_LINES], *lines[n // 2 - half : n // 2 + half], *lines[-half:]]
    best, best_weight = None, 0.0
    for separator in (",", ";", "\t", "|", " "):
        for decimal in (".", ","):
            dialect = Dialect(separator=separator, decimal=decimal)
            kinds = _kinds(lines, dialect)
            core = _core(kinds)
            weight = sum(max(0.1, _weight(row)) for row in kinds if _is_row(row, core)) if core else 0.0
            if weight > best_weight * (1.05 if separator == " " else 1.0001):
                best, best_weight = dialect, weight
    return best


def _weight(row: str) -> float:
    return row.count("n") - TEXT_WEIGHT * row.count("x")


def _core(kinds: Sequence[str]) -> tuple[int, ...]:
    """Return the set of numeric columns that weighs most over all lines."""
    weights: Counter[tuple[int, ...]] = Counter()
    for row, n in Counter(kinds).items():
        mask = tuple(k for k, kind in enumerate(row) if kind in "nm")
        if "n" in row:
            weights[mask] += n * _weight(row)  # type: ignore[assignment]
    return max(weights, key=lambda mask: weights[mask], default=())


def _is_row(row: str, core: tuple[int, ...]) -> bool:
    held = [row[k] if k < len(row) else "b" for k in core]
    return "x" not in held and ("n" in held or held.count("m") > 0)


def find_block(lines: Sequence[str], dialect: Dialect) -> Block | None:
    """Return the longest run of data rows, None where there is none.

    Parameters
    ----------
    lines : sequence of str
        All lines of the text, or its head followed by its tail.
    dialect : Dialect
        From `find_dialect`.
    """
    kinds = _kinds(lines, dialect)
    core = _core(kinds)
    if not core:
        return None
    first, last = _longest_run(lines, kinds, core, dialect)
    if last <= first:
        return None
    last = _with_further_blocks(lines, kinds, core, (first, last))
    first += _n_before_times(kinds[first:last])
    last -= _is_torn(lines, kinds, core, last) if last - first > 3 else 0
    rows = kinds[first:last]
    spoilt = {row for row in set(rows) if row.strip("b") and not _is_row(row, core)}
    bad = tuple(first + k for k, row in enumerate(rows) if row in spoilt)
    good = Counter(row for row in rows if row.strip("b") and row not in spoilt)
    width = max(map(len, rows))
    numbers = tuple(k for k in range(width) if _is_number_column(good, k))
    times = tuple(k for k in range(width) if _held(good, k)["t"] > NEARLY_ALL * good.total())
    quoted = any('"' in line for line in lines[first : first + 20])
    return Block(
        first=first, last=last, core=core, numbers=numbers, times=times, bad_lines=bad, width=width, is_quoted=quoted
    )


def _with_further_blocks(
    lines: Sequence[str], kinds: Sequence[str], core: tuple[int, ...], run: tuple[int, int]
) -> int:
    """Return where the last block under the same heading ends.

    Between blocks stand blank lines, one line of words (``Segment 2``) and the heading again, and nothing else.
    """
    first, last = run
    above = [line.strip() for line in lines[max(0, first - 4) : first] if line.strip()]
    while True:
        begin = next((k for k in range(last, min(last + 8, len(kinds))) if _is_row(kinds[k], core)), None)
        if begin is None:
            return last
        between = [line.strip() for line in lines[last:begin] if line.strip()]
        strange = [line for line in between if line not in above]
        end = next((k for k in range(begin, len(kinds)) if not _is_row(kinds[k], core)), len(kinds))
        alike = len(kinds[begin]) == len(kinds[last - 1]) and end - begin >= max(3, 0.5 * (run[1] - first))
        headed = len(between) > len(strange) or not between
        if not alike or not headed or len(strange) > 1 or any("," in line or ";" in line for line in strange):
            return last
        last = end


def _n_before_times(rows: Sequence[str]) -> int:
    """Return how many rows at the beginning have text where nearly all others have a time: settings, no data."""
    columns = [k for k in range(2) if sum(row[k : k + 1] == "t" for row in rows) > MOSTLY * len(rows)]
    return next((n for n, row in enumerate(rows) if all(row[k : k + 1] == "t" for k in columns)), 0)


def _is_torn(lines: Sequence[str], kinds: Sequence[str], core: tuple[int, ...], last: int) -> bool:
    """Tell whether the last row was cut off: fewer numbers than before, or shorter than rows that are all as long."""
    held, before = ([row[c : c + 1] == "n" for c in core].count(True) for row in (kinds[last - 1], kinds[last - 2]))
    lengths = {len(line) for line in lines[max(0, last - 30) : last - 1] if line}
    at_end = last == len(lines) or not any(line.strip() for line in lines[last:])
    no_line_end = last == len(lines)
    return at_end and (held < before or (no_line_end and len(lengths) == 1 and len(lines[last - 1]) < min(lengths)))


def _longest_run(
    lines: Sequence[str], kinds: Sequence[str], core: tuple[int, ...], dialect: Dialect
) -> tuple[int, int]:
    """Return the longest stretch of rows; blank lines are stepped over where the table is double-spaced or goes on."""
    rows = {row: _is_row(row, core) for row in set(kinds)}
    is_row = [rows[row] for row in kinds]
    n_blank = sum(not row.strip("b") for row in kinds)
    double_spaced = n_blank > 0.3 * len(kinds)
    best, start, count, k = (0, 0, 0), None, 0, 0
    last = 0
    for k, good in enumerate(is_row):
        if good:
            start = k if start is None else start
            count, last = count + 1, k + 1
            if count > best[0]:
                best = (count, start, last)
        elif start is not None and not _goes_on(lines, kinds, is_row, k, core, dialect, double_spaced):
            start, count = None, 0
    return best[1], best[2]


def _goes_on(
    lines: Sequence[str],
    kinds: Sequence[str],
    is_row: Sequence[bool],
    k: int,
    core: tuple[int, ...],
    dialect: Dialect,
    double_spaced: bool,
) -> bool:
    """Tell whether the table goes on behind line k, which is no data row."""
    blank = not kinds[k].strip("b")
    if blank and double_spaced:
        return True
    if k + 1 >= len(lines) or k == 0 or not (is_row[k - 1] and is_row[k + 1]):
        return False
    if not blank:
        if not _is_alike(kinds[k - 1], kinds[k + 1], core):
            return False
        mended = any(kinds[k][c : c + 1] == "n" for c in core)
        return (mended and len(kinds[k]) == len(kinds[k - 1])) or lines[k].lstrip()[:1] in ("#", ";", "%")
    # a blank line: the rows behind it go on where time goes on, or where it never rose
    before, after = (split_cells(lines[j], dialect.separator) for j in (k - 1, k + 1))
    pairs = [(_value(before, c), _value(after, c)) for c in core]
    if len(before) != len(after) or not _is_alike(kinds[k - 1], kinds[k + 1], core):
        return False
    alone = len(core) == 1
    return alone or any(a <= b for a, b in pairs[:2]) or not _rises(lines[max(0, k - 30) : k], core[0], dialect)


def _is_alike(before: str, after: str, core: tuple[int, ...]) -> bool:
    """Tell whether two rows hold numbers in the same columns."""
    return all((before[c : c + 1] in ("n", "m")) == (after[c : c + 1] in ("n", "m")) for c in core)


def _rises(lines: Sequence[str], column: int, dialect: Dialect) -> bool:
    """Tell whether a column rises from line to line, as times and counters do."""
    values = [_value(split_cells(line, dialect.separator), column) for line in lines]
    return len(values) > 1 and all(a < b for a, b in itertools.pairwise(values))


def _value(cells: list[str], column: int) -> float:
    try:
        return float(cells[column].strip('" ').replace(",", "."))
    except (IndexError, ValueError):
        return 0.0


def _held(rows: Counter[str], column: int) -> Counter[str]:
    """Return how many rows hold each kind of cell in a column."""
    held: Counter[str] = Counter()
    for row, n in rows.items():
        held[row[column : column + 1] or "b"] += n
    return held


def _is_number_column(rows: Counter[str], column: int) -> bool:
    """Tell data columns from settings beside the data: those end early and have their label in the cell before."""
    held = _held(rows, column)
    n_numbers, n_text, n_rows = held["n"], held["x"] + held["t"], rows.total()
    if n_numbers == 0 or n_text > MOST_BAD_CELLS * n_rows + 1 or n_numbers + held["m"] <= n_text:
        return False
    if n_text == 0 and held["b"] == 0:
        return True
    if column == 0:
        return n_numbers > 0.5 * n_rows or n_text == 0
    labelled = sum(n for row, n in rows.items() if row[column - 1 : column + 1] == "xn")
    return labelled < 0.5 * n_numbers
