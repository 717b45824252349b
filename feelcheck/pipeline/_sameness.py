"""Two documents, and two texts, held against each other value by value."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from typing import Any, Final

from feelcheck.model import Difference, Tally

__all__ = ["NOT_DERIVED", "document_tallies", "sequence_tally", "together"]

SAME_RELATIVE = 1e-6
"""Below this two numbers are the same: a page shows five digits, processors agree to ten or more."""
MOST_KEPT = 1000
MOST_MATCHED = 4000
NOT_DERIVED: Final = object()
"""Stands for a part of a document that could not be made again."""
_ABSENT: Final = object()


def document_tallies(page: Any, now: Any) -> tuple[Tally, Tally]:
    """Return how many numbers, and how many other values, two JSON documents have in common.

    Parameters
    ----------
    page, now : object
        As parsed; `NOT_DERIVED` in the second stands for what is not known.

    Examples
    --------
    >>> numbers, words = document_tallies({"a": 1.0, "b": "x"}, {"a": 1.1, "b": "x"})
    >>> numbers.differences[0].where, words.same
    ('a', 1)
    """
    found: dict[bool, list[tuple[str, Any, Any]]] = {True: [], False: []}
    for where, one, other in _leaves("", page, now):
        found[_number(one) or _number(other)].append((where, one, other))
    return _tally(found[True]), _tally(found[False])


def _leaves(where: str, page: Any, now: Any) -> Iterator[tuple[str, Any, Any]]:
    if isinstance(page, dict) and (isinstance(now, dict) or now is NOT_DERIVED):
        for key in dict.fromkeys([*page, *(now if isinstance(now, dict) else ())]):
            other = now.get(key, _ABSENT) if isinstance(now, dict) else now
            yield from _leaves(f"{where}.{key}".lstrip("."), page.get(key, _ABSENT), other)
    elif isinstance(page, list) and (isinstance(now, list) or now is NOT_DERIVED):
        for k in range(max(len(page), len(now) if isinstance(now, list) else 0)):
            other = (now[k] if k < len(now) else _ABSENT) if isinstance(now, list) else now
            yield from _leaves(f"{where}[{k}]", page[k] if k < len(page) else _ABSENT, other)
    else:
        yield where, page, now


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _same(one: Any, other: Any) -> bool:
    if _number(one) and _number(other):
        return bool(abs(one - other) <= SAME_RELATIVE * max(abs(one), abs(other)))
    return type(one) is type(other) and bool(one == other)


def _tally(leaves: Sequence[tuple[str, Any, Any]]) -> Tally:
    derived = [leaf for leaf in leaves if leaf[2] is not NOT_DERIVED]
    unlike = [leaf for leaf in derived if not _same(leaf[1], leaf[2])]
    return Tally(
        same=len(derived) - len(unlike),
        different=len(unlike),
        not_derived=len(leaves) - len(derived),
        differences=tuple(Difference(where=w, page=_told(a), now=_told(b)) for w, a, b in unlike[:MOST_KEPT]),
    )


def _told(value: Any) -> str:
    return "" if value is _ABSENT else str(value)[:300]


def sequence_tally(kind: str, page: Sequence[str], now: Sequence[str], *, shown: bool = True) -> Tally:
    """Return how many of a page's pieces are the same, in order.

    Parameters
    ----------
    kind : str
        What a piece is called, such as ``"passage"``.
    page, now : sequence of str
        The pieces.
    shown : bool
        Whether a difference quotes the pieces.
    """
    first = next((k for k, (a, b) in enumerate(zip(page, now, strict=False)) if a != b), min(len(page), len(now)))
    rest = (page[first:], now[first:])
    same, found = first, list[Difference]()
    if max(map(len, rest)) <= MOST_MATCHED:
        for tag, i1, i2, j1, j2 in SequenceMatcher(None, *rest, autojunk=False).get_opcodes():
            if tag == "equal":
                same += i2 - i1
            else:
                found += _unlike(kind, first + i1, rest[0][i1:i2], rest[1][j1:j2], shown=shown)
    else:
        found += _unlike(kind, first, *rest, shown=shown)
    return Tally(same=same, different=len(found), differences=tuple(found[:MOST_KEPT]))


def _unlike(kind: str, at: int, page: Sequence[str], now: Sequence[str], *, shown: bool) -> Iterator[Difference]:
    for k in range(max(len(page), len(now))):
        one, other = (side[k] if k < len(side) else "" for side in (page, now))
        quoted = (one[:300], other[:300]) if shown else ("", "")
        yield Difference(where=f"{kind} {at + k + 1}", page=quoted[0], now=quoted[1])


def together(tallies: Sequence[Tally]) -> Tally:
    """Return several tallies as one."""
    return Tally(
        same=sum(tally.same for tally in tallies),
        different=sum(tally.different for tally in tallies),
        not_derived=sum(tally.not_derived for tally in tallies),
        differences=tuple(one for tally in tallies for one in tally.differences),
    )
