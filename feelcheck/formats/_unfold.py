"""Rows that hold more than cells: lines of JSON, and lists inside cells, unfolded into plain columns."""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Iterator
from typing import Any

from feelcheck.errors import FormatError
from feelcheck.formats._numbers import PLAIN_NUMBER
from feelcheck.formats.numbers import DEEPEST_NESTING, HEAD_BYTES, MOST_UNFOLDED_COLUMNS, NEARLY_ALL, UNFOLDED_LINES

__all__ = ["unfold"]

_LIST = r"(?:(?<![A-Za-z])(?:array\([^\[\]]{0,80}|[A-Za-z]*+))?[\[({][^\[\](){}]*+[\])}](?:\))?"
_CELL = re.compile(rf'"[^"\n\[({{]*+[\[({{][^"\n]*+"|{_LIST}')
_INSIDE = re.compile(r"[\[({]([^\[\](){}]*)[\])}]")
_BREAKS = re.compile(r"[;\n\r\v\f\x1c-\x1e\x85\u2028\u2029]")
_NUMBERS = re.compile(rf"^(?:{PLAIN_NUMBER}|true|false|nan|[\s,;])*+$", re.I)


def unfold(text: str) -> tuple[str, tuple[str, ...]]:
    r"""Return the text as plain delimited rows, and what was done; unchanged where the rows are plain already.

    Raises
    ------
    FormatError
        Where the rows would unfold into more than `MOST_UNFOLDED_COLUMNS` columns.

    Notes
    -----
    Names of nested values are joined by full stops, elements of lists are counted from 0.

    Examples
    --------
    >>> unfold('{"t": 0.0, "axes": [1, 2]}\n{"t": 0.1, "axes": [3, 4]}\n')[0]
    't;axes.0;axes.1\n0.0;1;2\n0.1;3;4\n'
    >>> unfold('t,axes\n0.0,"[1, 2]"\n0.1,"[3, 4]"\n0.2,"[3, 5]"\n')[0]
    't,axes.0,axes.1\n0.0,1,2\n0.1,3,4\n0.2,3,5\n'
    """
    start = text[:4096].lstrip()
    if start[:1] in ("{", "[") and (rows := _json_rows(text)):
        return _written(rows), ("lines of JSON were read as rows",)
    if any(mark in text[:HEAD_BYTES] for mark in "[({") and (found := _without_lists(text)) is not None:
        return found, ("lists inside cells were read as columns of their own",)
    return text, ()


def _json_rows(text: str) -> list[dict[str, str]]:
    """Return the flattened objects of a text of JSON lines or of one JSON list of objects; none if it is neither."""
    lines = [line.strip().rstrip(",") for line in text.split("\n")]
    lines = [line for line in lines if line not in ("", "[", "]")]
    sample = lines[:UNFOLDED_LINES]
    if len(sample) > 1 and sum(_is_object(line) for line in sample) >= NEARLY_ALL * len(sample):
        return [_flat(row) for line in lines if isinstance(row := _parsed(line), dict)]
    whole = _parsed(text) if text[:1] in "[{" else None
    if isinstance(whole, dict):
        whole = _by_columns(whole)
    if isinstance(whole, list) and len(whole) > 1 and all(isinstance(row, dict) for row in whole):
        return [_flat(row) for row in whole]
    return []


def _by_columns(whole: dict[str, Any]) -> list[dict[str, Any]]:
    """Return rows of an object of equally long lists, one a column."""
    lists = {name: cells for name, cells in whole.items() if isinstance(cells, list) and len(cells) > 2}
    sizes = {len(cells) for cells in lists.values()}
    if len(lists) < 2 or len(sizes) != 1:
        return next(([*cells] for cells in lists.values() if all(isinstance(row, dict) for row in cells)), [])
    return [dict(zip(lists, row, strict=True)) for row in zip(*lists.values(), strict=True)]


def _is_object(line: str) -> bool:
    return line[:1] == "{" and line[-1:] == "}" and isinstance(_parsed(line), dict)


def _parsed(text: str) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None


def _flat(row: dict[str, Any]) -> dict[str, str]:
    return dict(itertools.islice(_leaves(row, "", 0), MOST_UNFOLDED_COLUMNS + 1))


def _leaves(value: Any, name: str, depth: int) -> Iterator[tuple[str, str]]:
    if isinstance(value, dict | list):
        if depth >= DEEPEST_NESTING:
            return
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in pairs:
            yield from _leaves(inner, f"{name}.{key}" if name else str(key), depth + 1)
        return
    yield name, "" if value is None else _BREAKS.sub(" ", str(value))


def _written(rows: list[dict[str, str]]) -> str:
    names = list(dict.fromkeys(name for row in rows for name in row))
    if len(names) > MOST_UNFOLDED_COLUMNS:
        _refuse(len(names))
    heading = ";".join(_BREAKS.sub(" ", name) for name in names)
    body = (";".join(row.get(name, "") for name in names) for row in rows)
    return "\n".join([heading, *body]) + "\n"


def _refuse(n: int) -> None:
    raise FormatError(
        f"A log or capture has at most {MOST_UNFOLDED_COLUMNS} columns.",
        {"columns": n},
        "Export only the time and the axes.",
    )


def _without_lists(text: str) -> str | None:
    """Return the text with lists of numbers inside cells unfolded; None where most rows hold none."""
    head = text[:HEAD_BYTES].split("\n")
    holding = [k for k, line in enumerate(head) if _lists(line)]
    if len(holding) < 3:
        return None
    lines, first = text.split("\n"), holding[0]
    body = [line for line in lines[first:] if line.strip()]
    sample = body[:: max(1, len(body) // UNFOLDED_LINES)]
    if sum(bool(_lists(line)) for line in sample) < NEARLY_ALL * len(sample):
        return None
    separator = _separator(sample)
    if separator is None:
        return None
    rows = [_cut(line, separator) for line in lines[first:] if line.strip()]
    widths = _widths(rows)
    above = next((k for k in range(first - 1, -1, -1) if lines[k].strip()), None)
    heading = [] if above is None else [separator.join(_names(lines[above], separator, widths))]
    plain = [separator.join(_spread(row, widths)) for row in rows]
    return "\n".join([*lines[: above or 0], *heading, *plain]) + ("\n" if text.endswith("\n") else "")


def _lists(line: str) -> list[str]:
    """Return the lists of numbers inside the cells of a line."""
    if not any(mark in line for mark in "[({"):
        return []
    return [cell for cell in _CELL.findall(line) if (inner := _INSIDE.search(cell)) and _NUMBERS.match(inner[1])]


def _separator(sample: list[str]) -> str | None:
    bare = [_CELL.sub("0", line) for line in sample]
    found = [mark for mark in "\t;,|" if all(mark in line for line in bare)]
    return found[0] if found else None


def _cut(line: str, separator: str) -> list[list[str]]:
    """Return the cells of a line, each as a list of one number or more."""
    held: list[list[str]] = []

    def keep(match: re.Match[str]) -> str:
        inner = _INSIDE.search(match[0])
        if inner is None or not _NUMBERS.match(inner[1]):
            return match[0].replace(separator, " ")
        held.append([number for number in re.split(r"[\s,;]+", inner[1].strip()) if number] or [""])
        return f"\x1f{len(held) - 1}\x1f"

    cells = _CELL.sub(keep, line).split(separator)
    return [held[int(cell.strip().strip("\x1f"))] if "\x1f" in cell and _is_mark(cell) else [cell] for cell in cells]


def _is_mark(cell: str) -> bool:
    return bool(re.fullmatch(r"\s*\x1f\d+\x1f\s*", cell))


def _widths(rows: list[list[list[str]]]) -> list[int]:
    widths: list[int] = []
    for row in rows:
        widths += [1] * (len(row) - len(widths))
        for k, cell in enumerate(row):
            widths[k] = max(widths[k], len(cell))
    if sum(widths) > MOST_UNFOLDED_COLUMNS:
        _refuse(sum(widths))
    return widths


def _names(line: str, separator: str, widths: list[int]) -> list[str]:
    names = line.split(separator)
    found: list[str] = []
    for k, width in enumerate(widths):
        name = names[k].strip().strip('"') if k < len(names) else f"column_{k + 1}"
        found += [name] if width == 1 else [f"{name}.{place}" for place in range(width)]
    return found


def _spread(row: list[list[str]], widths: list[int]) -> list[str]:
    cells: list[str] = []
    for k, width in enumerate(widths):
        own = row[k] if k < len(row) else []
        cells += [*own, *[""] * (width - len(own))]
    return cells
