"""Rows that name each number where it stands, and rows that a monitor put its clock in front of, made plain cells."""

from __future__ import annotations

import re
from collections import Counter

from feelcheck.formats._numbers import PLAIN_NUMBER
from feelcheck.formats.numbers import NEARLY_ALL, UNFOLDED_LINES

__all__ = ["named_rows"]

_PAIR = re.compile(rf"(?<![\w.])([A-Za-z_][\w.\[\]/]{{0,40}})\s{{0,4}}[=:]\s{{0,4}}({PLAIN_NUMBER})(?=[\s,;|)\]}}]|$)")
_LEAD = re.compile(rf"\W{{0,8}}({PLAIN_NUMBER}|[\d/.T-]{{0,16}}\s?\d{{1,2}}:\d\d(?::\d\d)?[\d.,]*Z?)(?![\w.])")
_TAIL = re.compile(r"\s(\d{9,})\s*")
_CLOCK = re.compile(r"^(\S{0,24}\d:\d\d:\d\d\S{0,16})[ \t]{1,4}(?:->|=>|>)[ \t]{0,4}", re.M)
_ONE_LIST = re.compile(
    rf"^[ \t]*[\[(][ \t]*({PLAIN_NUMBER}(?:\s*[,;]\s*{PLAIN_NUMBER})+)[ \t]*[\])][ \t]*,?[ \t]*$", re.M
)


def named_rows(text: str) -> tuple[str, tuple[str, ...]]:
    r"""Return the text as plain delimited rows, and what was done; unchanged where most rows are of another kind.

    Parameters
    ----------
    text : str
        All of it.

    Notes
    -----
    Numbers are named by ``name=number`` or ``name: number`` among other words; what stands in front of the first (a
    clock, a count) and an instant behind the last become columns without a name. A clock with an arrow behind it is a
    cell of its own. A row may be one list of numbers in brackets.

    Examples
    --------
    >>> named_rows('7 ms: "tick" x=1 y=2\n' * 3)[0].splitlines()[:2]
    [';x;y', '7;1;2']
    >>> named_rows("12:00:01.5 -> 3,4\n" * 3)[0].splitlines()[0]
    '12:00:01.5,3,4'
    >>> named_rows("(0.1, 2, 3)\n" * 3)[0].splitlines()[0]
    '0.1, 2, 3'
    """
    lines = [line for line in text[: text.find("\n", 65536)].split("\n") if line.strip()][:UNFOLDED_LINES]
    if len(lines) < 3:
        return text, ()
    least = NEARLY_ALL * len(lines)
    if sum(bool(_CLOCK.match(line)) for line in lines) >= least:
        return _CLOCK.sub(rf"\1{_separator(lines)}", text), ("the clock in front of each row was read as a column",)
    if sum(bool(_ONE_LIST.match(line)) for line in lines) >= least:
        return _ONE_LIST.sub(r"\1", text), ("rows in brackets were read as plain rows",)
    names, n = Counter(tuple(_PAIR.findall(line)) and _names(line) for line in lines).most_common(1)[0]
    if len(names) < 2 or n < least or len(set(names)) < len(names):
        return text, ()
    return _table(text, names), ("numbers that were named in each row were read as columns",)


def _names(line: str) -> tuple[str, ...]:
    return tuple(name for name, _ in _PAIR.findall(line))


def _separator(lines: list[str]) -> str:
    return next((mark for mark in "\t;,|" if sum(mark in line for line in lines) > 0.5 * len(lines)), " ")


def _table(text: str, names: tuple[str, ...]) -> str:
    """Return the rows that hold these names; others, such as messages, are left out."""
    rows = []
    for line in text.split("\n"):
        found = list(_PAIR.finditer(line))
        if tuple(pair[1] for pair in found) != names:
            continue
        lead, tail = _LEAD.match(line[: found[0].start()]), _TAIL.fullmatch(line[found[-1].end() :])
        rows.append((lead[1].strip() if lead else "", [pair[2] for pair in found], tail[1] if tail else ""))
    leads, tails = all(row[0] for row in rows), all(row[2] for row in rows)
    heading = ";".join([*[""] * leads, *names, *[""] * tails])
    body = (";".join([*[lead] * leads, *cells, *[tail] * tails]) for lead, cells, tail in rows)
    return "\n".join([heading, *body]) + ("\n" if text.endswith("\n") else "")
