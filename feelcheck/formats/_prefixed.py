"""Numbers that carry an SI prefix of their own (``4.7m``, ``250uV``, ``1.2``): each row may have another one."""

from __future__ import annotations

import re

from feelcheck.formats.numbers import FEWEST_ROWS, MOST_OTHER_ROWS

__all__ = ["without_prefixes"]

EXPONENTS = {"p": "e-12", "n": "e-9", "u": "e-6", "µ": "e-6", "μ": "e-6", "m": "e-3", "k": "e3", "M": "e6"}
"""No G: it is gauss, or an acceleration."""

_UNIT = "V|A|T|sec|s|Hz"
_PARTS = re.compile(rf"(?<![\w.])([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))[ ]?([pnuµμmkM]?)({_UNIT})?(?![\w.])")
_GLUED = re.compile(r"\d[pnuµμmkM](?!\w)")
_PREFIXED = re.compile(r"\d[ ]?[pnuµμmkM]")


def without_prefixes(text: str, sample: str) -> str | None:
    r"""Return the text with the prefixes of its rows' numbers worked in; None where they carry none of their own.

    Parameters
    ----------
    text : str
        All of it.
    sample : str
        Lines that stand for it.

    Notes
    -----
    Where all numbers of a column carry the same prefix and a unit, that is the column's unit and left alone.

    Examples
    --------
    >>> rows = "0,1.2\n20.0u,900m\n40.0u,1.1\n" * 3
    >>> without_prefixes(rows, rows)[:24]
    '0,1.2\n20.0e-6,900e-3\n40.'
    """
    if not _PREFIXED.search(sample):
        return None
    rows = [line for line in sample.split("\n") if line.strip()]
    read = [_PARTS.findall(row) for row in rows if _is_row(row)]
    if len(read) < max(FEWEST_ROWS, (1 - MOST_OTHER_ROWS) * len(rows) - FEWEST_ROWS) or not _differ(
        read, glued=bool(_GLUED.search(sample))
    ):
        return None
    return "\n".join(_PARTS.sub(_plain, line) if _is_row(line) else line for line in text.split("\n"))


def _is_row(line: str) -> bool:
    return not _PARTS.sub("", line).strip(' \t",;|')


def _differ(rows: list[list[tuple[str, str, str]]], *, glued: bool) -> bool:
    """Whether some prefix stands without a unit (glued to its number), or not in all rows of its column."""
    if not any(prefix for row in rows for _, prefix, _ in row):
        return False
    if any(prefix and not unit for row in rows for _, prefix, unit in row) and glued:
        return True
    columns = zip(*(row for row in rows if len(row) == len(rows[-1])), strict=True)
    return any(len({prefix for number, prefix, _ in column if number.strip("+-0.,")}) > 1 for column in columns)


def _plain(match: re.Match[str]) -> str:
    return match[1] + EXPONENTS.get(match[2], "") + (match[3] or "")
