"""Texts that are harmless where they end up: terminals, pages and spreadsheets run what looks like a command."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import PurePath
from typing import IO, Any

__all__ = ["HarmlessStream", "harmless", "json_escaped", "table_cell", "table_name", "told_apart"]

_CONTROL = "\x00-\x08\x0b-\x1f\x7f-\x9f"
_UNSEEN = "\u061c\u200b\u200e\u200f\u202a-\u202e\u2060-\u2069\ufeff\ufff9-\ufffb"
_HARMFUL = re.compile(f"[{_CONTROL}{_UNSEEN}\ud800-\udfff]")
_NOT_IN_JSON = re.compile(f"[\x7f-\x9f{_UNSEEN}\ud800-\udfff]")
_FORMULA = re.compile(r"[=+\-@\t\r|%]")
_NUMBER = re.compile(
    r"[-+]?[0-9][0-9.,]*(?:[eE][-+]?[0-9]+)?%?(?:[ \u202f]?[A-Za-zµ°%/]{1,8})?(?: \([-+0-9., a-z]*\))?"
)


def harmless(text: str) -> str:
    r"""Return a text as it may be shown: characters that move the cursor or turn the line round stand as their code.

    Line ends and tabs stay. The characters are those of Unicode's category Cc (C0 and C1 controls) and the explicit
    directional formatting of its standard annex 9, with the invisible separators.

    Parameters
    ----------
    text : str
        Any text.

    Examples
    --------
    >>> print(harmless("alder\x1b[2J\u202eredla"))
    alder\x1b[2J\u202eredla
    """
    return _HARMFUL.sub(_code, text)


def told_apart(paths: Sequence[str]) -> list[str]:
    """Return the names of files, with as many of their folders as tell those of one name apart.

    Parameters
    ----------
    paths : sequence of str
        Where they are.

    Examples
    --------
    >>> told_apart(["before/0.csv", "after/0.csv", "after/1.csv"])
    ['before/0.csv', 'after/0.csv', '1.csv']
    """
    parts = [PurePath(path).parts for path in paths]
    named = []
    for own in parts:
        n = 1
        while n < len(own) and sum(other[-n:] == own[-n:] for other in set(parts)) > 1:
            n += 1
        named.append("/".join(own[-n:]))
    return named


def json_escaped(text: str) -> str:
    r"""Return a JSON text that means the same, without characters that act on a terminal.

    Parameters
    ----------
    text : str
        A JSON document.

    Examples
    --------
    >>> json_escaped('{"name": "a\u202eb"}')
    '{"name": "a\\u202eb"}'
    """
    return _NOT_IN_JSON.sub(lambda found: f"\\u{ord(found.group()):04x}", text)


def _code(found: re.Match[str]) -> str:
    number = ord(found.group())
    return f"\\x{number:02x}" if number < 256 else f"\\u{number:04x}"


def table_cell(text: str) -> str:
    """Return a cell of text that no spreadsheet takes for a formula; `table_name` gives the text back.

    Numbers, with a unit and an interval behind them or not, stay as they are.

    Parameters
    ----------
    text : str
        The text of a cell.

    Examples
    --------
    >>> [table_cell(text) for text in ("=1+1", "-0.5", "-0.5 ms (-0.6 to -0.4)", "alder", "'quoted")]
    ["'=1+1", '-0.5', '-0.5 ms (-0.6 to -0.4)', 'alder', "''quoted"]
    """
    safe = harmless(text)
    runs = bool(_FORMULA.match(safe.lstrip())) and not _NUMBER.fullmatch(safe)
    return f"'{safe}" if runs or safe.startswith("'") else safe


def table_name(cell: str) -> str:
    """Return the text that `table_cell` was given.

    Parameters
    ----------
    cell : str
        A cell as written.

    Examples
    --------
    >>> [table_name(table_cell(name)) for name in ("=x", "-0.5", "'x", "left_x")]
    ['=x', '-0.5', "'x", 'left_x']
    """
    marked = cell.startswith("'") and (cell.startswith("''") or _FORMULA.match(cell[1:].lstrip()))
    return cell[1:] if marked else cell


class HarmlessStream:
    """A text stream to a terminal through which nothing harmful passes.

    Parameters
    ----------
    stream : text stream
        Where it goes.
    """

    def __init__(self, stream: IO[str]) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write a text; what would act on the terminal is written as its code.

        Parameters
        ----------
        text : str
            As it is, whatever is in it.
        """
        self._stream.write(harmless(text))
        return len(text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)
