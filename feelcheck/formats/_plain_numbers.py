"""Rows written in uncommon ways turned into cells of plain numbers: thousands, ``×10^3``, ``1D3``, units, labels."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Mapping, Sequence

from feelcheck.errors import FormatError
from feelcheck.formats._named_rows import named_rows
from feelcheck.formats._numbers import cell_kind
from feelcheck.formats._raw_dumps import event_rows, plain_bytes
from feelcheck.formats._unfold import unfold
from feelcheck.formats.numbers import (
    FEWEST_ROWS,
    MOST_BAD_CELLS,
    MOST_OTHER_ROWS,
    N_SLICES,
    NEARLY_ALL,
    SAMPLED_CHARS,
    WHOLE_CHARS,
)

__all__ = ["are_one_column", "plain_numbers", "plain_rows", "strip_inline"]

_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}(?:\.\d*)?")
_AFTER_COMMA = re.compile(r"\d+(?:[eE][+-]?\d+)?")
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
_ROW_END = re.compile(r"[ \t]*[;,](?=[ \t]*$)", re.M)
_BY_BLANKS = re.compile(r"[ \t]*[+-]?\.?\d[^;,|]*[ \t][^;,|]*[;,][ \t]*")
_TAB_BEHIND = re.compile(r'(?<=[,;|])\t+(?=")')
_CELL = re.compile(r"[^;|\t\n\"]+")
_ROW = re.compile(r"[ \t\"+-]*[\d.,]")
_QUOTED = re.compile(r"\"([^\"\n]*)\"")
_GROUPED = {
    ",": re.compile(r"([+-]?[1-9]\d{0,2}(?:,\d{3})+)((?:\.\d+)?(?:[eE][+-]?\d+)?)"),
    ".": re.compile(r"([+-]?[1-9]\d{0,2}(?:\.\d{3})+)((?:,\d+)?(?:[eE][+-]?\d+)?)"),
}
_HAS_MARK = {mark: re.compile(rf"[+-]?\d*\{mark}\d+(?:[eE][+-]?\d+)?") for mark in ",."}
_TWICE = re.compile(r"\d([,.])\d{3}\1\d{3}(?!\d)")
_BOTH_MARKS = (re.compile(r",\d"), re.compile(r"\.\d"))
_SUPERSCRIPT = re.compile("(?<=10)[⁻⁺⁰¹²³⁴⁵⁶⁷⁸⁹]+")
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")
_UNIT_BEHIND = re.compile(r"(?<=[\d.])[ ]?((?:[munpkµμ]?(?:V|A|T|s|sec|Hz|%)))(?=[\s,;|\"]|$)", re.M)
_LABEL_BEFORE = re.compile(r"(?:(?<=[\s,;|])|^)([A-Za-z_][\w ]{0,20}?)\s*[:=]\s*(?=[+-]?\.?\d)", re.M)
_CELLS = re.compile(r"(?:[+-]?[\d.,]++(?:[eE][+-]?\d+)?[ ]?(?:[munpkµμ]?(?:V|A|T|sec|s|Hz|%))?[\s,;|\"]*)++")
_LABELLED_LINE = re.compile(r"^[\s,;|]*(?:[A-Za-z_][\w ]{0,20}?\s*[:=]\s*[+-]?[\d.]+(?:[eE][+-]?\d+)?[\s,;|]*)+$")
_STEPS: tuple[tuple[str, str, re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    ("hexadecimal numbers were read as whole numbers", "xX", _HEX, lambda m: m[1] + str(int(m[2], 16))),
    ("powers of ten were read as exponents", "×x*·", _POWER, r"e\1"),
    ("D exponents were read as powers of ten", "dD", _FORTRAN, r"\1e\2"),
    ("apostrophes were read as thousands separators", "'’", _BY_MARK, ""),
    (
        "blanks inside numbers were read as thousands separators",
        " ",
        _BY_BLANK,
        lambda m: (m[1] or m[2]).replace(" ", ""),
    ),
)

EXPONENTS = {"p": "e-12", "n": "e-9", "u": "e-6", "µ": "e-6", "μ": "e-6", "m": "e-3", "k": "e3", "M": "e6"}
"""No G: it is gauss, or an acceleration."""

_UNIT = "V|A|T|sec|s|Hz"
_PARTS = re.compile(rf"(?<![\w.])([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))[ ]?([pnuµμmkM]?)({_UNIT})?(?![\w.])")
_GLUED = re.compile(r"\d[pnuµμmkM](?!\w)")
_PREFIXED = re.compile(r"\d[ ]?[pnuµμmkM]")


def plain_rows(text: str) -> tuple[str, tuple[str, ...]]:
    """Return the text as rows of cells that hold one plain number or word each, and what was done."""
    if (events := event_rows(text)) is not None:
        return events
    text, unfolded = unfold(text)
    if (decimal := plain_bytes(text)) is not None:
        text, unfolded = decimal, (*unfolded, "pairs of hexadecimal digits were read as numbers from 0 to 255")
    text, plain = plain_numbers(text)
    text, bare = strip_inline(text)
    text, named = (text, ()) if unfolded or bare else named_rows(text)
    return text, (*unfolded, *plain, *bare, *named)


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
    if _is_ended(sample):
        text = _ROW_END.sub("", text)
        sample = _sample(text)
    if _SUPERSCRIPT.search(sample):
        text = _SUPERSCRIPT.sub(lambda m: "^" + m[0].translate(_SUPERSCRIPTS), text)
        sample = _sample(text)
    for words, marks, pattern, plain in _STEPS:
        if any(mark in sample for mark in marks) and _is_common(pattern, sample):
            text = pattern.sub(plain, text)
            sample = _sample(text)
            done.append(words)
    if (scaled := without_prefixes(text, sample)) is not None:
        text, sample = scaled, _sample(scaled)
        done.append("prefixes behind numbers (m, u, k) were worked in")
    if _is_clock_fraction(sample):
        text = _CLOCK_COMMA.sub(r"\1.\2", text)
    text, grouped = _without_groups(text, sample)
    return text, (*done, *grouped)


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


def are_one_column(rows: Sequence[str], above: Sequence[str], width: int, facts: Mapping[str, object]) -> bool:
    """Return whether comma-separated numbers are one column of numbers with decimal commas.

    Parameters
    ----------
    rows, above : sequence of str
        The data, and the lines above them.
    width : int
        Columns of numbers that commas make.
    facts : mapping
        Where they stand, for messages.

    Raises
    ------
    FormatError
        Where commas both part the columns and stand inside the numbers, as decimal marks or between thousands.
    """
    _refuse_grouped(rows, above, facts)
    if width % 2:
        return False
    cut = [row for row in (line.split(",") for line in rows[:300]) if len(row) > 1]
    cells = [cell.strip() for row in cut for cell in row[1::2]]
    heads = [cell.strip().lstrip("+-") for row in cut for cell in row[0::2]]
    n_plain = sum(bool(_AFTER_COMMA.fullmatch(cell)) for cell in cells)
    if n_plain < NEARLY_ALL * len(cells) or not all(cell.isdigit() for cell in heads if cell):
        return False
    names = next((line for line in reversed(above) if line.strip(" ,")), "").split(",")
    n_names = len(names) if cell_kind(names[0], ".") == "x" else 0
    if 2 * n_names != width or n_names == 1:
        return 2 * n_names == width
    raise FormatError(
        "Numbers with a decimal comma must not be separated by commas too, unless they stand in quotes.",
        {**facts, "got": rows[0].strip(), "columns named": n_names},
        "Export it again with a semicolon or tab between the columns.",
    )


def _refuse_grouped(rows: Sequence[str], above: Sequence[str], facts: Mapping[str, object]) -> None:
    """Refuse rows such as ``0.1,1,234.5`` under two names or among rows such as ``0.1,999.5``."""
    names = next((line.rstrip(", ").split(",") for line in reversed(above) if line.strip(" ,")), [])
    named = len(names) if names and all(cell_kind(name, ".") == "x" for name in names) else 0
    commas = {row.rstrip(", ").count(",") for row in rows}
    if len(commas) == 1 and not 1 < named <= max(commas):
        return  # all rows are as wide as each other and as their names
    filled = [[cell.strip() for cell in row.rstrip(", ").split(",")] for row in rows]
    widths = [len(row) for row in filled if all(cell_kind(cell, ".") == "n" for cell in row)]
    narrow = min([*widths, *([named] if named > 1 else [])], default=0)
    wide = [row for row in filled if len(row) > narrow > 0]
    pairs = (any(_THOUSANDS.fullmatch(f"{a},{b}") for a, b in itertools.pairwise(row)) for row in wide)
    if len(wide) >= FEWEST_ROWS and (named == narrow or not named) and all(pairs):
        raise FormatError(
            "Commas must not part columns and group thousands too, unless the numbers stand in quotes.",
            {**facts, "got": ",".join(wide[0])[:60], "columns": narrow},
            "Export it again without thousands separators, or with a semicolon or tab between the columns.",
        )


def _sample(text: str) -> str:
    if len(text) <= WHOLE_CHARS:
        return text
    width = SAMPLED_CHARS // N_SLICES
    starts = [k * (len(text) - width) // (N_SLICES - 1) for k in range(N_SLICES)]
    return "\n".join(text[text.find("\n", start) + 1 : start + width].rpartition("\n")[0] for start in starts)


def _is_common(pattern: re.Pattern[str], sample: str) -> bool:
    """Tell whether a pattern stands in several lines of the data rather than once in a comment."""
    return len(list(itertools.islice(pattern.finditer(sample), 3))) == 3


def _is_ended(sample: str) -> bool:
    """Tell whether rows of numbers that blanks part end in a mark, as a matrix is written in a program."""
    rows = [line for line in sample.split("\n") if _ROW.match(line)]
    return len(rows) > FEWEST_ROWS and sum(bool(_BY_BLANKS.fullmatch(row)) for row in rows) > NEARLY_ALL * len(rows)


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
    return bool(n_rising >= (1 - MOST_BAD_CELLS) * (len(instants) - 1))


def _without_groups(text: str, sample: str) -> tuple[str, tuple[str, ...]]:
    """Take out commas or points that group thousands, where the other mark is the decimal one."""
    if not all(mark.search(sample) for mark in _BOTH_MARKS) and not _TWICE.search(sample):
        return text, ()
    lines = [line for line in sample.split("\n") if _ROW.match(line)]
    separator = next((mark for mark in ";\t|" if _is_in_most(mark, lines)), "")
    bare = not separator and not _is_in_most('"', lines)
    blanks = bare and bool(lines) and sum(len(line.split()) > 1 for line in lines) > NEARLY_ALL * len(lines)
    if bare and not blanks:
        return text, ()
    for mark, other in ((",", "."), (".", ",")):
        cells = sample.split() if blanks else (_CELL if separator else _QUOTED).findall(sample)
        cells = [cell.strip(" ,") for cell in cells]
        numeric = [cell for cell in cells if cell[:1].isdigit() or cell[:1] in "+-.,"]
        with_mark = [cell for cell in numeric if mark in cell and re.fullmatch(r"[+-]?[\d.,]+(?:[eE][+-]?\d+)?", cell)]
        grouped = [cell for cell in with_mark if _GROUPED[mark].fullmatch(cell)]
        # 1,234 alone may be one and a quarter: the other mark must be seen as the decimal one somewhere, or two groups
        sure = any(other in cell or cell.count(mark) > 1 for cell in grouped)
        sure = sure or any(_HAS_MARK[other].fullmatch(cell) for cell in numeric)
        if len(grouped) >= 3 and len(grouped) >= (1 - MOST_BAD_CELLS) * len(with_mark) and sure:
            within = _EDGE if blanks else r"(?:^|(?<=[\s;|\"]))"
            pattern = re.compile(within + _GROUPED[mark].pattern + r"(?=[\s;|\"]|$)", re.M)
            text = pattern.sub(lambda m, mark=mark: m[1].replace(mark, "") + m[2], text)  # type: ignore[misc]
            name = "commas" if mark == "," else "points"
            return text, (f"{name} inside numbers were read as thousands separators",)
    return text, ()


def _is_in_most(mark: str, lines: list[str]) -> bool:
    return bool(lines) and sum(mark in line for line in lines) > NEARLY_ALL * len(lines)


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
