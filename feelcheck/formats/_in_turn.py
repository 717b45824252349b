"""Channels in turn: rows that each name their channel (``coil;0.1;0.52``), or tables one below the other."""

from __future__ import annotations

import re
from collections import Counter
from itertools import groupby, pairwise, zip_longest

from feelcheck.formats._names import is_time_name, split_name
from feelcheck.formats.numbers import IN_TURN_LINES, IN_TURN_ROWS, LEAST_IN_TURN, MOST_IN_TURN, MOSTLY

__all__ = ["side_by_side", "stacked_parts"]

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
_NUMBER_FIRST = re.compile(r"\s*[\"']?[+-]?[.,]?\d")
_WORD = re.compile(r"[^\W\d][\w .#()/-]*")


def side_by_side(text: str) -> str | None:
    r"""Return the text with a pair of columns a channel, its time and its values; None where rows hold no names.

    Parameters
    ----------
    text : str
        All of a file.

    Examples
    --------
    >>> rows = "".join(f"coil,{k},1\nout,{k},{k}\n" for k in range(6))
    >>> side_by_side("channel,t_ms,value\n" + rows)[:30]
    't_ms,coil,t_ms,out\n0,1,0,0\n1,1'
    """
    lines = text[: 200 * IN_TURN_LINES].split("\n")[: IN_TURN_LINES + 1][:-1]
    mark = next((one for one in ";\t,|" if sum(line.count(one) == 2 for line in lines) > MOSTLY * len(lines)), None)
    if mark is None:
        return None
    cells = [[cell.strip().strip('"') for cell in line.split(mark)] for line in lines]
    place = next((k for k in range(3) if _names_channels(cells, k)), None)
    if place is None:
        return None
    return _wide(text, mark, place)


def _names_channels(rows: list[list[str]], place: int) -> bool:
    """Whether all rows of numbers have one of a few words in that cell, and each word often."""
    held = [row for row in rows if len(row) == 3 and all(_NUMBER.fullmatch(row[k]) for k in range(3) if k != place)]
    count = Counter(row[place] for row in held)
    if len(held) < max(IN_TURN_ROWS, MOSTLY * len(rows)) or not 2 <= len(count) <= MOST_IN_TURN:
        return False
    often = min(count.values()) > LEAST_IN_TURN * len(held) / len(count)
    in_turn = sum(one[place] != other[place] for one, other in pairwise(held)) > 0.3 * len(held)
    return often and in_turn and all(map(_WORD.fullmatch, count))


def _wide(text: str, mark: str, place: int) -> str | None:
    rows: dict[str, list[tuple[str, str]]] = {}
    heading: list[str] = []
    above: list[str] = []
    first, second = (k for k in range(3) if k != place)
    for line in text.split("\n"):
        cells = [cell.strip().strip('"') for cell in line.split(mark)]
        if len(cells) == 3 and _NUMBER.fullmatch(cells[first]) and _NUMBER.fullmatch(cells[second]):
            rows.setdefault(cells[place], []).append((cells[first], cells[second]))
        elif not rows:
            above += [line] if len(cells) != 3 else []
            heading = cells if len(cells) == 3 else heading
    swapped = bool(heading) and is_time_name(split_name(heading[second])[0])
    names = [heading[k] if heading else "" for k in (first, second)]
    time, value = names[::-1] if swapped else names
    unit = split_name(value)[1]
    titles = mark.join(f"{time}{mark}{name} ({unit})" if unit else f"{time}{mark}{name}" for name in rows)
    pairs = zip_longest(*rows.values(), fillvalue=("", ""))
    body = (mark.join(f"{b}{mark}{a}" if swapped else f"{a}{mark}{b}" for a, b in row) for row in pairs)
    return "\n".join([*above, titles, *body]) + "\n"


def stacked_parts(text: str, n_rows: int) -> list[str]:
    r"""Return the tables of a text, each with what stands above it; nothing where it holds but one.

    Parameters
    ----------
    text : str
        All of a file.
    n_rows : int
        Rows of the table that was found in it: the others are as long.

    Examples
    --------
    >>> stacked_parts("t,coil\n1,2\n2,3\n3,3\n\nt,out\n1,5\n2,6\n3,7\n", 3)
    ['t,coil\n1,2\n2,3\n3,3\n', '\nt,out\n1,5\n2,6\n3,7\n']
    >>> stacked_parts("t,coil\n1,2\n2,3\n3,3\n", 3)
    []
    """
    if text.count("\n") < 2 * n_rows:
        return []
    lines = text.splitlines(keepends=True)
    ends, at = [0], 0
    for is_data, run in groupby(lines, key=lambda line: _NUMBER_FIRST.match(line) is not None):
        length = sum(1 for _ in run)
        at += length
        if is_data and length == n_rows:
            ends.append(at)
    return ["".join(lines[begin:end]) for begin, end in pairwise(ends)] if len(ends) > 2 else []
