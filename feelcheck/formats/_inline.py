"""Rows whose cells carry more than a number: a unit behind it (``1.25 V``) or a label before it (``out:1.25``)."""

from __future__ import annotations

import re

__all__ = ["strip_inline"]

_UNIT_BEHIND = re.compile(r"(?<=[\d.])[ ]?((?:[munpkµμ]?(?:V|A|T|s|sec|Hz|%)))(?=[\s,;|\"]|$)", re.M)
_LABEL_BEFORE = re.compile(r"(?:(?<=[\s,;|])|^)([A-Za-z_][\w ]{0,20}?)\s*[:=]\s*(?=[+-]?\.?\d)", re.M)
_CELLS = re.compile(r"(?:[+-]?[\d.,]++(?:[eE][+-]?\d+)?[ ]?(?:[munpkµμ]?(?:V|A|T|sec|s|Hz|%))?[\s,;|\"]*)++")
_LABELLED_LINE = re.compile(r"^[\s,;|]*(?:[A-Za-z_][\w ]{0,20}?\s*[:=]\s*[+-]?[\d.]+(?:[eE][+-]?\d+)?[\s,;|]*)+$")


def strip_inline(text: str) -> tuple[str, tuple[str, ...]]:
    r"""Return the text with labels or units taken out of its cells and a header row for them, and what was done.

    The remarks are empty, and the text unchanged, where the rows carry neither.

    Examples
    --------
    >>> strip_inline("t:0,v:1.5\nt:1,v:1.6\nt:2,v:1.7\n")[0]
    't,v\n0,1.5\n1,1.6\n2,1.7\n'
    """
    start = text.rfind("\n", 0, len(text) // 2) + 1
    end = text.find("\n", start)
    middle = text[start : end if end >= 0 else len(text)]
    if not (_LABELLED_LINE.match(middle) or (_UNIT_BEHIND.search(middle) and _CELLS.fullmatch(middle.strip()))):
        return text, ()
    lines = text.split("\n")
    if _LABELLED_LINE.match(middle):
        first = next(k for k, line in enumerate(lines) if _LABELLED_LINE.match(line))
        names = _LABEL_BEFORE.findall(lines[first])
        body = "\n".join(lines[first:])
        separator = next((mark for mark in ",;|\t" if mark in middle), " ")
        head = [*lines[:first], separator.join(names)]
        return "\n".join([*head, _LABEL_BEFORE.sub("", body)]), ("labels were taken out of the cells",)
    units = _UNIT_BEHIND.findall(middle)
    first = next(k for k, line in enumerate(lines) if _UNIT_BEHIND.findall(line) == units)
    separator = next((mark for mark in ";\t|," if mark in middle), " ")
    cells = middle.split(separator)
    row = [(_UNIT_BEHIND.findall(cell) or [""])[0] for cell in cells]
    body = _UNIT_BEHIND.sub("", "\n".join(lines[first:]))
    return "\n".join([*lines[:first], separator.join(row), body]), ("units were taken out of the cells",)
