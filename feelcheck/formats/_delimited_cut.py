"""A log's text cut into columns: separator, decimal mark, names, the rows that fit."""

from __future__ import annotations

import csv
import io
import warnings
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from feelcheck.counted import counted
from feelcheck.errors import FormatError
from feelcheck.formats._columns import in_range, read_numbers
from feelcheck.formats._heading import find_heading
from feelcheck.formats._layout import Block, Dialect, find_dialect, split_cells
from feelcheck.formats._names import find_unit, read_name
from feelcheck.formats._numbers import cell_kind
from feelcheck.formats._plain_numbers import are_one_column, plain_rows
from feelcheck.formats._settings import Setting, find_settings
from feelcheck.formats._text import DecodedText
from feelcheck.formats.numbers import COMMON_WIDTH, MOST_TORN

__all__ = ["MAX_COLUMNS", "LogTable", "cut_table"]

MAX_COLUMNS = 512
_HEAD_CHARACTERS = 65536
_SAMPLE_LINES = 120
_NAMED_UNITS = ("time", "voltage", "current", "field")
_COMMENT_MARKS = ("#", "%", "//")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LogTable:
    """A log's columns.

    Parameters
    ----------
    columns : dict of ndarray, shape (n_rows,)
        By name: integers, floats (NaN where a cell was empty or no number), booleans, or text.
    dialect : Dialect
        Separator and decimal mark.
    settings : tuple of Setting
        Keyed lines above the rows.
    remarks : tuple of str
        What was dropped.
    """

    columns: dict[str, NDArray[Any]]
    dialect: Dialect
    settings: tuple[Setting, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    dialect: Dialect
    width: int
    pattern: str
    quoted: bool
    spaced: bool


def cut_table(text: DecodedText, *, n_least: int = 2) -> LogTable:
    """Return the columns of a log's text, at least `n_least`.

    Raises
    ------
    FormatError
        Where the text holds no table of so many columns and two rows, or too wide a one.

    Notes
    -----
    The separator and the decimal mark are those that make the most cells numbers or times, over lines of one width.
    Rows with more cells than that are dropped, missing cells are empty. A last line without a line end may be torn and
    is dropped.
    """
    body, plain = plain_rows(text.text)
    body, torn = _whole_lines(body)
    head = body[:_HEAD_CHARACTERS].split("\n")
    head = head[:-1] if len(body) > _HEAD_CHARACTERS else head
    shape = _find_shape([line for line in head if line.strip()], n_least)
    first = None if shape is None else next((k for k, line in enumerate(head) if _is_data(line, shape)), None)
    if shape is None or first is None:
        raise FormatError(
            "A log needs rows of numbers in columns.",
            {"first line": head[0][:60] if head else "", "lines": body.count("\n")},
            "Export time and axes as delimited text, one row a report.",
        )
    rows = [line for line in head[first:] if not line.startswith(_COMMENT_MARKS)]
    if shape.dialect.separator == "," and not shape.quoted and are_one_column(rows, head[:first], shape.width, {}):
        shape = replace(shape, dialect=Dialect(separator=";", decimal=","), width=1, pattern="n")
    names = _names(head, first, shape)
    start = sum(len(line) + 1 for line in head[:first])
    body, again = _without_headings(body[start:], head[first - 1] if first else "", shape)
    frame, remarks = _parse(body, shape)
    frame, cut = _without_torn(frame)
    columns = {name: _column(frame[k], shape) for k, name in enumerate(names)}
    settings = find_settings(enumerate(head[:first], start=1), shape.dialect)
    told = plain + again + remarks + cut + torn
    return LogTable(columns=columns, dialect=shape.dialect, settings=tuple(settings), remarks=told)


def _without_headings(body: str, heading: str, shape: _Shape) -> tuple[str, tuple[str, ...]]:
    """Return the rows without the names written again between them.

    Raises
    ------
    FormatError
        Where the names stand there in another order: the columns change places inside the file.
    """
    names = [cell.strip() for cell in split_cells(heading, shape.dialect.separator)]
    longest = max(names, key=len, default="")
    if len(longest) < 2 or longest[0].isdigit() or longest not in body:
        return body, ()
    lines = body.split("\n")
    again = {k for k, line in enumerate(lines) if longest in line and line.strip() == heading.strip()}
    for k, line in enumerate(lines):
        cells = [cell.strip() for cell in split_cells(line, shape.dialect.separator)] if longest in line else []
        if k not in again and cells != names and sorted(cells) == sorted(names):
            raise FormatError(
                "The columns change places inside the log.",
                {"names above": heading.strip()[:80], f"names {counted(k, 'row')} further": line.strip()[:80]},
                "Cut the file there and analyze each part.",
            )
    if not again:
        return body, ()
    said = f"the names stand inside the data {counted(len(again), 'more time')} and were left out there"
    return "\n".join(line for k, line in enumerate(lines) if k not in again), (said,)


def _whole_lines(body: str) -> tuple[str, tuple[str, ...]]:
    if body.endswith("\n") or "\n" not in body:
        return body, ()
    return body[: body.rindex("\n") + 1], ("the last line has no line end: it may be torn and was dropped",)


def _kinds(line: str, dialect: Dialect) -> str:
    return "".join(cell_kind(cell, dialect.decimal) for cell in split_cells(line.strip("\r\n "), dialect.separator))


def _find_shape(lines: Sequence[str], n_least: int) -> _Shape | None:
    plain = [line for line in lines if not line.lstrip().startswith(_COMMENT_MARKS)]
    sample = plain[:: max(1, len(plain) // _SAMPLE_LINES)]
    if sample and max(len(line) for line in sample) > _HEAD_CHARACTERS // 4:
        _refuse_wide(max(sample[-1].count(mark) for mark in ",;\t| ") + 1)
    dialect = find_dialect(sample)
    kinds = Counter(_kinds(line, dialect) for line in sample) if dialect else Counter()
    width = _first_common_width(kinds)
    if dialect is None or width < n_least:
        return None
    return _Shape(
        dialect=dialect,
        width=width,
        pattern=max((row for row in kinds if len(row) == width), key=lambda row: kinds[row] * _weight(row)),
        quoted=any('"' in line for line in sample),
        spaced=any(dialect.separator + " " in line for line in sample),
    )


def _first_common_width(kinds: Counter[str]) -> int:
    """Return the width of the first kind of data row (kinds come in file order) that is no exception."""
    widths: Counter[int] = Counter()
    for row, n in kinds.items():
        widths[len(row)] += n * ("n" in row or "t" in row)
    most = max(widths.values(), default=0)
    return next((width for width, n in widths.items() if n and n >= COMMON_WIDTH * most), 0)


def _weight(row: str) -> float:
    return row.count("n") + row.count("t") - 0.3 * row.count("x") + 0.1 * row.count("b")


def _is_data(line: str, shape: _Shape) -> bool:
    if line.lstrip().startswith(_COMMENT_MARKS):
        return False
    row = _kinds(line, shape.dialect)
    pairs = list(zip(row, shape.pattern, strict=False))
    alike = sum(a == b and a in "nt" for a, b in pairs)
    unlike = sum(a == "x" and b in "nt" for a, b in pairs)
    return len(row) == shape.width and alike > unlike


def _names(lines: Sequence[str], first: int, shape: _Shape) -> list[str]:
    """Return the columns' names as written, with the units that stand elsewhere."""
    every = tuple(range(shape.width))
    block = Block(
        first=first,
        last=len(lines),
        core=every,
        numbers=every,
        times=(),
        bad_lines=(),
        width=shape.width,
        is_quoted=shape.quoted,
    )
    heading = find_heading(lines, block, shape.dialect)
    cells = heading.cells if abs(len(heading.cells) - shape.width) <= 1 else ()
    names: list[str] = []
    for k, unit in enumerate(heading.units):
        name = _with_unit(cells[k], unit) if k < len(cells) and cells[k] else f"column_{k + 1}"
        names.append(name if name not in names else f"{name}_{k + 1}")
    return names


def _with_unit(name: str, unit: str) -> str:
    known = find_unit(unit) if unit and read_name(name).unit is None else None
    return f"{name} ({unit})" if known is not None and known.kind in _NAMED_UNITS else name


def _parse(body: str, shape: _Shape) -> tuple[pd.DataFrame, tuple[str, ...]]:
    if shape.width > MAX_COLUMNS:
        _refuse_wide(shape.width)
    if any(mark in body and f"\n{mark}" in body for mark in "#%"):
        body = "\n".join(line for line in body.split("\n") if not line.startswith(_COMMENT_MARKS))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", pd.errors.ParserWarning)
            warnings.simplefilter("ignore", pd.errors.DtypeWarning)
            frame = pd.read_csv(
                io.BytesIO(body.encode()),
                sep=r"\s+" if shape.dialect.separator == " " else shape.dialect.separator,
                decimal=shape.dialect.decimal,
                header=None,
                names=range(shape.width),
                index_col=False,
                quoting=csv.QUOTE_MINIMAL if shape.quoted else csv.QUOTE_NONE,
                on_bad_lines="skip",
                skipinitialspace=shape.spaced,
            )
    except (ValueError, OverflowError, csv.Error) as problem:
        raise FormatError(
            "The rows of the log cannot be cut into columns.",
            {"separator": shape.dialect.separator, "reason": str(problem)[:80]},
            "Export the log again as plain delimited text.",
        ) from problem
    n_dropped = body.count("\n") - len(frame)
    if n_dropped > 0:
        n_dropped = sum(1 for line in body.split("\n") if line.strip()) - len(frame)
    if len(frame) < 2:
        raise FormatError(
            "A log needs more than one row.", {"rows": len(frame)}, "Check that the whole file was copied."
        )
    said = (
        f"{counted(n_dropped, 'row')} with more than {shape.width} cells left out: the column count changes in the file"
    )
    return frame, (said,) if n_dropped > 0 else ()


def _without_torn(frame: pd.DataFrame) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Leave out a few rows of one cell: they tell nothing of any axis, and their time may be cut short too."""
    torn = frame.iloc[:, 1:].isna().all(axis=1)
    n_torn = int(torn.sum())
    if not 0 < n_torn <= MOST_TORN * len(frame):
        return frame, ()
    return frame[~torn], (f"{counted(n_torn, 'row')} with a single cell left out",)


def _refuse_wide(width: int) -> None:
    raise FormatError(
        f"A stick log has at most {MAX_COLUMNS} columns.", {"columns": width}, "Export only the time and the axes."
    )


def _column(cells: pd.Series[Any], shape: _Shape) -> NDArray[Any]:
    """Return a column as numbers where its cells are, as booleans, or as text."""
    if cells.dtype.kind in "iufb":
        numbers = np.asarray(cells.to_numpy())
        return in_range(numbers) if numbers.dtype.kind == "f" else numbers
    text = cells.astype("object").where(cells.notna(), "").astype(str)
    sample = text.iloc[:: max(1, len(text) // 200)]
    kinds = Counter(cell_kind(cell, shape.dialect.decimal) for cell in sample)
    if kinds["n"] > kinds["x"] + kinds["t"]:
        return in_range(read_numbers(text, shape.dialect.decimal)[0].to_numpy(np.float64))
    return np.asarray(text.str.strip().str.strip('"').to_numpy(object))
