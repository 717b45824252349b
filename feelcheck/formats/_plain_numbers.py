"""Numbers written in uncommon ways (grouped thousands, ``×10^3``, ``1D3``, hexadecimal) turned into plain ones."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Mapping, Sequence

from feelcheck.errors import FormatError
from feelcheck.formats._numbers import cell_kind

__all__ = ["plain_numbers", "refuse_grouped"]

_FEW_ROWS = 3
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}(?:\.\d*)?")
_WHOLE_CHARS = 400_000
_SAMPLED_CHARS = 80_000
_N_SLICES = 20
_EDGE = r"(?:^|(?<=[\s,;|\"(]))"
_END = r"(?=[\s,;|\")]|$)"
_POWER = re.compile(r"(?<=[\d.])\s?[×x*·]\s?10\s?\^?\s?\(?([+-]?\d{1,3})\)?" + _END, re.M)
_FORTRAN = re.compile(_EDGE + r"([+-]?(?:\d++(?:[.,]\d*+)?|[.,]\d++))[dD]([+-]?\d{1,3})" + _END, re.M)
_HEX = re.compile(_EDGE + r"([+-]?)0[xX]([0-9a-fA-F]{1,12})" + _END, re.M)
_BY_MARK = re.compile(r"(?<=\d)['’](?=\d{3}(?!\d))")
_BLANK_GROUPS = r"[ ]*([+-]?[1-9]\d{0,2}(?: \d{3})+)"
_BLANK_TAIL = r"(?:[.,]\d*)?(?:[eE][+-]?\d+)?[ ]*"
_BY_BLANK = re.compile(
    rf"(?:^{_BLANK_GROUPS}(?={_BLANK_TAIL}[,;|\t\"])|(?<=[,;|\t\"]){_BLANK_GROUPS}(?={_BLANK_TAIL}(?:[,;|\t\"]|$)))",
    re.M,
)
_CLOCK_COMMA = re.compile(r"(\d:\d\d),(\d{3}|\d{6})(?=[,;|\t\"\s]|$)", re.M)
_TAB_BEHIND = re.compile(r'(?<=[,;|])\t+(?=")')
_CELL = re.compile(r"[^;|\t\n\"]+")
_ROW = re.compile(r"[ \t\"+-]*[\d.,]")
_QUOTED = re.compile(r"\"([^\"\n]*)\"")
_GROUPED = {
    ",": re.compile(r"([+-]?[1-9]\d{0,2}(?:,\d{3})+)((?:\.\d+)?(?:[eE][+-]?\d+)?)"),
    ".": re.compile(r"([+-]?[1-9]\d{0,2}(?:\.\d{3})+)((?:,\d+)?(?:[eE][+-]?\d+)?)"),
}
_HAS_MARK = {mark: re.compile(rf"[+-]?\d*\{mark}\d+(?:[eE][+-]?\d+)?") for mark in ",."}
_SUPERSCRIPT = re.compile("(?<=10)[⁻⁺⁰¹²³⁴⁵⁶⁷⁸⁹]+")
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")
_STEPS: tuple[tuple[str, str, re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    ("powers of ten were read as exponents", "×x*·", _POWER, r"e\1"),
    ("D exponents were read as powers of ten", "dD", _FORTRAN, r"\1e\2"),
    ("hexadecimal numbers were read as whole numbers", "xX", _HEX, lambda m: m[1] + str(int(m[2], 16))),
    ("apostrophes were read as thousands separators", "'’", _BY_MARK, ""),
    (
        "blanks inside numbers were read as thousands separators",
        " ",
        _BY_BLANK,
        lambda m: (m[1] or m[2]).replace(" ", ""),
    ),
)


def plain_numbers(text: str) -> tuple[str, tuple[str, ...]]:
    r"""Return the text with plain numbers, and what was done; unchanged where the numbers are plain already.

    Examples
    --------
    >>> plain_numbers("1'234.5;2×10^-3;0x1F\n" * 3)[0]
    '1234.5;2e-3;31\n1234.5;2e-3;31\n1234.5;2e-3;31\n'
    >>> plain_numbers("1.234,5;0,25\n" * 3)[0]
    '1234,5;0,25\n1234,5;0,25\n1234,5;0,25\n'
    """
    sample = _sample(text)
    done: list[str] = []
    if _TAB_BEHIND.search(sample):
        text = _TAB_BEHIND.sub("", text)
        sample = _sample(text)
    if _SUPERSCRIPT.search(sample):
        text = _SUPERSCRIPT.sub(lambda m: "^" + m[0].translate(_SUPERSCRIPTS), text)
        sample = _sample(text)
    for words, marks, pattern, plain in _STEPS:
        if any(mark in sample for mark in marks) and _is_common(pattern, sample):
            text = pattern.sub(plain, text)
            sample = _sample(text)
            done.append(words)
    if _is_clock_fraction(sample):
        text = _CLOCK_COMMA.sub(r"\1.\2", text)
    text, grouped = _without_groups(text, sample)
    return text, (*done, *grouped)


def refuse_grouped(rows: Sequence[str], above: Sequence[str], facts: Mapping[str, object]) -> None:
    """Refuse rows such as ``0.1,1,234.5`` under two names or among rows such as ``0.1,999.5``.

    Raises
    ------
    FormatError
        Where commas both part the columns and group thousands.
    """
    filled = [[cell.strip() for cell in row.rstrip(", ").split(",")] for row in rows]
    widths = [len(row) for row in filled if all(cell_kind(cell, ".") == "n" for cell in row)]
    names = next((line.rstrip(", ").split(",") for line in reversed(above) if line.strip(" ,")), [])
    named = len(names) if names and all(cell_kind(name, ".") == "x" for name in names) else 0
    narrow = min([*widths, *([named] if named > 1 else [])], default=0)
    wide = [row for row in filled if len(row) > narrow > 0]
    pairs = [any(_THOUSANDS.fullmatch(f"{a},{b}") for a, b in itertools.pairwise(row)) for row in wide]
    if len(wide) >= _FEW_ROWS and all(pairs) and (named == narrow or not named):
        raise FormatError(
            "Commas must not part columns and group thousands too, unless the numbers stand in quotes.",
            {**facts, "got": ",".join(wide[0])[:60], "columns": narrow},
            "Export it again without thousands separators, or with a semicolon or tab between the columns.",
        )


def _sample(text: str) -> str:
    if len(text) <= _WHOLE_CHARS:
        return text
    width = _SAMPLED_CHARS // _N_SLICES
    starts = [k * (len(text) - width) // (_N_SLICES - 1) for k in range(_N_SLICES)]
    return "\n".join(text[text.find("\n", start) + 1 : start + width].rpartition("\n")[0] for start in starts)


def _is_common(pattern: re.Pattern[str], sample: str) -> bool:
    """Tell whether a pattern stands in several lines of the data rather than once in a comment."""
    return len(list(itertools.islice(pattern.finditer(sample), 3))) == 3


def _is_clock_fraction(sample: str) -> bool:
    """Tell whether the number behind ``12:30:01,`` is its fraction: then clock and fraction rise together."""
    if ":" not in sample:
        return False
    found = re.findall(r"^[^,\n]*?(\d{1,2}):(\d\d),(\d{3}|\d{6})(?=[,;|\t\"\s]|$)", sample, re.M)
    if len(found) < 3 or any(len(parts[2]) != len(found[0][2]) for parts in found):
        return False
    rows = sample.split("\n")
    first = next(k for k, row in enumerate(rows) if re.match(r"[^,\n]*?\d{1,2}:\d\d,\d{3}", row))
    names = next((row for row in reversed(rows[:first]) if row.strip(" ,")), "")
    if names.count(",") == rows[first].count(",") and not any(character.isdigit() for character in names[:1]):
        return False  # each cell has a name of its own: the number behind the clock is no part of it
    instants = [60.0 * int(a) + int(b) + int(c) / 10 ** len(c) for a, b, c in found]
    n_rising = sum(a < b for a, b in itertools.pairwise(instants))
    return bool(n_rising >= 0.98 * (len(instants) - 1))


def _without_groups(text: str, sample: str) -> tuple[str, tuple[str, ...]]:
    """Take out commas or points that group thousands, where the other mark is the decimal one."""
    lines = [line for line in sample.split("\n") if _ROW.match(line)]
    separator = next((mark for mark in ";\t|" if _is_in_most(mark, lines)), "")
    bare = not separator and not _is_in_most('"', lines)
    blanks = bare and bool(lines) and sum(len(line.split()) > 1 for line in lines) > 0.9 * len(lines)
    if bare and not blanks:
        return text, ()
    for mark, other in ((",", "."), (".", ",")):
        cells = sample.split() if blanks else (_CELL if separator else _QUOTED).findall(sample)
        cells = [cell.strip(" ,") for cell in cells]
        numeric = [cell for cell in cells if cell[:1].isdigit() or cell[:1] in "+-.,"]
        with_mark = [cell for cell in numeric if mark in cell and re.fullmatch(r"[+-]?[\d.,]+(?:[eE][+-]?\d+)?", cell)]
        grouped = [cell for cell in with_mark if _GROUPED[mark].fullmatch(cell)]
        sure = any(other in cell for cell in grouped) or any(_HAS_MARK[other].fullmatch(cell) for cell in numeric)
        if len(grouped) >= 3 and len(grouped) >= 0.98 * len(with_mark) and sure:
            within = _EDGE if blanks else r"(?:^|(?<=[\s;|\"]))"
            pattern = re.compile(within + _GROUPED[mark].pattern + r"(?=[\s;|\"]|$)", re.M)
            text = pattern.sub(lambda m, mark=mark: m[1].replace(mark, "") + m[2], text)  # type: ignore[misc]
            name = "commas" if mark == "," else "points"
            return text, (f"{name} inside numbers were read as thousands separators",)
    return text, ()


def _is_in_most(mark: str, lines: list[str]) -> bool:
    return bool(lines) and sum(mark in line for line in lines) > 0.9 * len(lines)
