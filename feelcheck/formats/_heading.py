"""Names and units of columns: from the rows above the data, from keyed rows, from what lines of the preamble tell."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from feelcheck.formats._layout import Block, Dialect, split_cells
from feelcheck.formats._names import find_unit, heading_name, is_time_name, name_words, split_name
from feelcheck.formats._numbers import cell_kind, parse_quantity
from feelcheck.formats._settings import COMMENT, PAIR, Setting, keyed_settings, make_setting, normal_key
from feelcheck.formats._words import folded, words_of

__all__ = ["Heading", "find_heading"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """Names and units of the columns 0 .. width - 1, empty where nothing is told, and settings from their rows.

    Parameters
    ----------
    names, units : tuple of str
        Apart from one another.
    line : int
        Where the names stand, from 1; 0 where there are none.
    origin : str
        What kind of rows they came from.
    settings : tuple of Setting
        Keyed cells among them.
    cells : tuple of str
        Names as written, with their units, as many as there are.
    """

    names: tuple[str, ...]
    units: tuple[str, ...]
    line: int
    origin: str
    settings: tuple[Setting, ...] = ()
    cells: tuple[str, ...] = ()


_NAMING_KEY = re.compile(
    r"^(?:trace ?names?|traces?|channels?|labels?|signals?|names?|curves?|waveforms?|columns?|source|x value|legend)$"
)
_UNITS_KEY = re.compile(
    r"^(?:(?:vertical|y|v|channel) ?units?(?: labels?)?|units?|einheit(?:en)?|unites?|unidad(?:es)?|unita)$"
)
_BRACKETED = re.compile(r"[(\[][^()\[\]]*[)\]]\s*$")
_LISTING_KEY = re.compile(r"^[\s#;%!*/\"']*([A-Za-zäöüéà]+)\s*[:=]\s*(?=\S)")
FEWEST_OF_A_DATE = 3
"""Digits of the shortest date: day and year."""
_SETTING_WORDS = re.compile(
    r"units?\b|interval|length|offset|model|firmware|serial|version|trigger|coupling|probe|bandwidth|average|increment"
    r"|position|scale|points|\bdelta\b|comment|note|\bdate\b|operator|specimen|instrument|attenuation|acquisition|mode|type|filter"
    r"|segment|memory|display|data|rate|period|supply|averag"
)


def find_heading(lines: Sequence[str], block: Block, dialect: Dialect) -> Heading:
    """Return names and units of the block's columns from the rows above it, else from keyed rows.

    Parameters
    ----------
    lines : sequence of str
        At least all lines above the block.
    block, dialect
        Where the data are.
    """
    columns = sorted((*block.numbers, *block.times))
    rows = []
    for k in range(block.first - 1, -1, -1):
        if lines[k].strip(" \t,;|\"#%'"):
            rows.append((k, _heading_cells(lines, k, block, dialect, columns)))
        if len(rows) == 4:
            break
    units = [""] * block.width
    if rows and (
        _is_units_row(rows[0][1], columns)
        or _is_sparse_units_row(rows, columns)
        or (len(rows) > 1 and _is_units_below(rows[0][1], rows[1][1], columns))
    ):
        units = _padded(rows[0][1], block.width)
        named = [row for row in rows[1:3] if not _is_one_word(row[1]) and _is_names_row(row[1], columns, relaxed=True)]
        named += [row for row in rows[1:2] if _is_names_row(row[1], columns, relaxed=True)]
        if named or all(find_unit(cell) for cell in rows[0][1] if cell):
            return _heading(named[0] if named else None, units, rows[0], block, dialect, lines)
        units = [""] * block.width
    for k, row in enumerate(rows[:3]):
        if _is_names_row(row[1], columns, quoted=_is_quoted(lines[row[0]], columns)):
            return _above_units(rows[k:], block, dialect, lines)
        if k == 0 and not (_is_aside(row[1]) or _is_broken(row[1], columns)):
            break
    return _keyed_heading(lines, block, dialect)


def _above_units(
    rows: Sequence[tuple[int, list[str]]], block: Block, dialect: Dialect, lines: Sequence[str]
) -> Heading:
    """Return the heading of a row of names, or of the names above it where units and descriptions follow them."""
    columns, units = sorted((*block.numbers, *block.times)), [""] * block.width
    if len(rows) > 1 and _is_units_row(rows[1][1], columns):
        units = _padded(rows[1][1], block.width)
        if len(rows) > 2 and _is_names_row(rows[2][1], columns):
            return _heading(rows[2], units, rows[1], block, dialect, lines)
    return _heading(rows[0], units, None, block, dialect, lines)


def _is_one_word(cells: Sequence[str]) -> bool:
    """Tell a row that says the same of every column (``Analog,Analog``) from a row of names."""
    filled = [cell for cell in cells if cell]
    return len(filled) > 1 and len(set(filled)) == 1


def _is_aside(cells: Sequence[str]) -> bool:
    """Tell a row between names and data that names nothing: a rule, a banner, a count."""
    filled = [cell for cell in cells if cell]
    return len(filled) == 1 or all(set(cell) <= set("-=_*+ ") for cell in filled)


def _is_broken(cells: Sequence[str], columns: Sequence[int]) -> bool:
    """Tell a data row that lacks a number, and so stands above the block."""
    return len(columns) > 0 and columns[0] < len(cells) and cell_kind(cells[columns[0]], ".") in "nt"


def _padded(cells: Sequence[str], width: int) -> list[str]:
    bare = [cell.strip() for cell in cells[:width]]
    return bare + [""] * (width - len(bare))


def _heading_cells(
    lines: Sequence[str], number: int, block: Block, dialect: Dialect, columns: Sequence[int]
) -> list[str]:
    line = lines[number]
    bare = _bare_heading(line, dialect, len(columns))
    whole = split_cells(line, dialect.separator)
    if whole[0].strip() == "#" and len(whole) in (len(columns), block.width, 2 * len(columns)):
        bare = line
    cells = [cell.strip().strip('"').strip() for cell in split_cells(bare, dialect.separator)]
    if len(cells) == len(columns) + 1 == block.width + 1 and all(cells):
        # a column of remarks that no row fills, or a key before the names
        cells = (
            cells[:-1] if folded(cells[-1]) in words_of("note") else cells[1:] if _lists_columns(cells[0]) else cells
        )
    if bare is line and line.lstrip().startswith(";") and len(cells) == block.width + 1:
        cells = cells[1:]
    n_columns = len(columns)
    if block.times[:2] == (0, 1) and len(cells) == block.width - 1:
        cells = ["date", *cells]
    if len(cells) == 2 * n_columns and all(cells[2::2]) and all(find_unit(unit) or not unit for unit in cells[1::2]):
        return [f"{name} ({unit})" if unit else name for name, unit in zip(cells[::2], cells[1::2], strict=True)]
    if dialect.separator == " " or len(cells) < n_columns:
        cells = _other_cells(bare.strip(), (block.width, n_columns)) or cells
    if len(cells) == n_columns - 1 and all(cells) and _is_unnamed_counter(lines, block, dialect):
        return ["", *cells]
    return cells


def _bare_heading(line: str, dialect: Dialect, n_columns: int) -> str:
    """Return a heading's line without comment marks and without a key such as ``columns:`` before its cells."""
    listing = _LISTING_KEY.match(line)
    if listing and _lists_columns(listing[1]) and len(split_cells(line, dialect.separator)) == n_columns:
        return line[listing.end() :]
    if line.lstrip().startswith('"') or (dialect.separator in "\t;" and line.lstrip(" ").startswith(dialect.separator)):
        return line
    return COMMENT.sub("", line)


def _lists_columns(key: str) -> bool:
    """Tell a key behind which names or units of all columns stand (``columns: t, coil, out``; ``Units;s;A;V``)."""
    word = normal_key(folded(key))
    return bool(_NAMING_KEY.match(word) or _UNITS_KEY.match(word) or word in ("fields", "header", "format", "spalten"))


def _other_cells(line: str, widths: tuple[int, int]) -> list[str] | None:
    """Return the cells of a heading that is parted by another mark than the data are."""
    for pattern in (r"\t", r"\s{2,}", r",", r";", r"\s+(?![(\[])"):
        other = [cell.strip().strip('"').strip() for cell in re.split(pattern, line)]
        if len(other) in widths:
            return other
    return None


def _is_unnamed_counter(lines: Sequence[str], block: Block, dialect: Dialect) -> bool:
    """Tell whether the data begin with a row counter that the names do not count."""
    rows = [split_cells(line, dialect.separator) for line in lines[block.first : block.first + 2]]
    counts = [row[0].strip(' +"') for row in rows if row]
    return counts in (["0", "1"], ["1", "2"])


def _is_units_row(cells: Sequence[str], columns: Sequence[int]) -> bool:
    held = [cells[k] for k in columns if k < len(cells) and cells[k]]
    known = [cell for cell in held if find_unit(cell) is not None]
    if any(split_name(cell)[1] or is_time_name(cell) for cell in held if cell not in known):
        return False
    enough = len(known) >= min(2, len(columns)) or (cells[0] == "" and len(known) == len(held))
    return bool(known) and len(known) >= len(held) - (len(held) > 2) and enough


def _is_units_below(cells: Sequence[str], above: Sequence[str], columns: Sequence[int]) -> bool:
    """Tell a row of units that says a name again where it has no unit (``Time,ms,A`` below ``Time,ms,CH1``)."""
    if (
        not columns
        or len(cells) != len(above)
        or max(columns) >= len(cells)
        or not _is_names_row(above, columns, relaxed=True)
    ):
        return False
    told = [(cells[k], above[k]) for k in columns if cells[k]]
    units = [cell for cell, name in told if (unit := find_unit(cell)) and unit.kind != "index" and cell != name]
    return len(units) > 1 and all(find_unit(cell) or folded(cell) in folded(name) for cell, name in told)


def _is_sparse_units_row(rows: Sequence[tuple[int, Sequence[str]]], columns: Sequence[int]) -> bool:
    """Tell a row of units below names where some columns have none."""
    held = [rows[0][1][k] for k in columns if k < len(rows[0][1]) and rows[0][1][k]]
    if not held or len(rows) < 2 or not all(find_unit(cell) for cell in held):
        return False
    above = [rows[1][1][k] if k < len(rows[1][1]) else "" for k in columns]
    return all(above) and all(cell_kind(cell, ".") == "x" for cell in above) and len(columns) > 1


def _is_names_row(cells: Sequence[str], columns: Sequence[int], *, relaxed: bool = False, quoted: bool = False) -> bool:
    if quoted and _SETTING_WORDS.fullmatch(normal_key(cells[0])):
        return False
    relaxed = relaxed or quoted
    held = [cells[k] if k < len(cells) else "" for k in columns]
    filled = [cell for cell in held if cell]
    n_text = sum(cell_kind(cell, ".") == "x" for cell in filled)
    if not filled or n_text == 0 or (not quoted and _is_keyed(filled)) or (relaxed and n_text < len(filled)):
        return False
    if columns[0] > 0 and cells[0] and _SETTING_WORDS.search(normal_key(cells[0])):
        return False
    if relaxed or is_time_name(split_name(filled[0])[0]) or find_unit(filled[0]):
        return relaxed or n_text == len(filled)
    unnamed_counter = held[0] == "" and len(filled) == len(columns) - 1 and len(cells) >= len(columns) > 1
    if n_text < len(filled) or (len(filled) < len(columns) and not unnamed_counter):
        return False
    with_units = any(all(split_name(cell)) for cell in filled)
    keyed = _SETTING_WORDS.search(normal_key(filled[0])) and len(columns) > 1 and len(filled) <= 2
    return with_units or not keyed or _names_a_date(filled)


def _names_a_date(cells: Sequence[str]) -> bool:
    """Tell names of a column of dates and another (``Date;left_x``) from a date that was set (``Date;2 Nov 26``)."""
    return set(name_words(cells[0])) <= words_of("date") and sum(c.isdigit() for c in cells[-1]) < FEWEST_OF_A_DATE


def _is_quoted(line: str, columns: Sequence[int]) -> bool:
    """Tell a heading whose names all stand in quotes: what is inside them is a name, with its colons."""
    named = line.strip().rstrip(",;\t ")
    return len(columns) > 1 and named.count('"') == 2 * len(columns) and named[:1] + named[-1:] == '""'


def _have_units(cells: Sequence[str]) -> bool:
    return len(cells) > 1 and all(_BRACKETED.search(cell) for cell in cells)


def _is_keyed(cells: Sequence[str]) -> bool:
    if _have_units(cells):
        return False
    return bool(PAIR.match(cells[0])) or any(cell in ("=", "->") or cell.endswith(":") for cell in cells)


def _heading(
    names_row: tuple[int, list[str]] | None,
    units: list[str],
    units_row: tuple[int, list[str]] | None,
    block: Block,
    dialect: Dialect,
    lines: Sequence[str],
) -> Heading:
    names, cells = [""] * block.width, [""] * block.width
    extra: list[Setting] = []
    if names_row is not None:
        cells = _aligned(names_row[1], lines, block, dialect)
        names = [heading_name(cell) for cell in _padded(cells, block.width)]
        extra += [s for cell in cells for s in keyed_settings([cell], names_row[0] + 1, dialect)]
        if units_row is not None:
            pairs = list(zip(cells, units_row[1], strict=False))
            extra += [
                make_setting(name, value, "", units_row[0] + 1)
                for name, value in pairs
                if cell_kind(value, dialect.decimal) == "n" and cell_kind(name, dialect.decimal) == "x"
            ]
    for k, name in enumerate(names):
        if PAIR.match(name) and parse_quantity(PAIR.match(name)[2]):  # type: ignore[index]
            names[k] = ""
            continue
        bare, unit = split_name(name)
        if unit and (not units[k] or find_unit(units[k]) is None):
            names[k], units[k] = bare or name, unit
    told = _told_units(lines[: block.first])
    units = [unit or told.get(name.lower(), "") for name, unit in zip(names, units, strict=True)]
    units = units if any(units) else _listed_units(lines[: block.first], block.width, dialect) or units
    units = [unit.strip("()[]{} ") if find_unit(unit) else "" for unit in units]
    line = names_row[0] if names_row is not None else units_row[0] if units_row is not None else -1
    return Heading(
        names=tuple(names),
        units=tuple(units),
        line=line + 1,
        origin="header row",
        settings=tuple(extra),
        cells=tuple(map(heading_name, cells)),
    )


def _told_units(above: Sequence[str]) -> dict[str, str]:
    """Return the units that lines above the heading tell of columns by name: ``Time in ms, Out in V``; ``Out: V``."""
    told: dict[str, str] = {}
    for line in above[-200:]:
        for cell in re.split(r"[,;\t]", COMMENT.sub("", line)):
            name, unit = split_name(cell)
            pair = PAIR.match(cell.strip())
            if pair and find_unit(pair[2]):
                name, unit = pair[1], pair[2].strip()
            known = find_unit(unit) if unit else None
            if name and known is not None and known.kind in ("time", "voltage", "current", "field"):
                told.setdefault(name.strip("\"'()[]{} ").lower(), unit)
    return told


def _listed_units(above: Sequence[str], width: int, dialect: Dialect) -> list[str]:
    """Return the units of all columns, or of all behind the time, that a line above lists (``units: ms, mA, mV``)."""
    for line in reversed(above[-200:]):
        bare = COMMENT.sub("", line)
        key = _LISTING_KEY.match(bare)
        first, *cells = split_cells(bare, dialect.separator) or [""]
        if key is not None:
            first, cells = key[1], re.split(r"[,;\t|]", bare[key.end() :])
        if not _UNITS_KEY.match(normal_key(first)):
            continue
        units = [cell.strip("()[]{}\"' ") for cell in cells]
        while len(units) >= width and not units[-1]:
            units.pop()
        units = ["", *units] if len(units) == width - 1 else units
        if len(units) == width and any(units) and all(find_unit(unit) or not unit.strip("-") for unit in units):
            return units
    return []


def _aligned(cells: list[str], lines: Sequence[str], block: Block, dialect: Dialect) -> list[str]:
    """Return the names shifted by one where the data have an unnamed counter (or blank cell) in front."""
    filled = [cell for cell in cells if cell]
    if len(cells) != block.width - 1 or len(filled) != len(cells):
        return cells
    first = split_cells(lines[block.first], dialect.separator)
    is_full = len(first) == block.width and bool(first[-1].strip())
    return ["", *cells] if is_full and _is_unnamed_counter(lines, block, dialect) else cells


def _keyed_heading(lines: Sequence[str], block: Block, dialect: Dialect) -> Heading:
    """Return names and units from keyed rows such as ``TraceName,CH1,CH2`` and ``Vertical Units,V,V``."""
    names, units = [""] * block.width, [""] * block.width
    columns = sorted((*block.numbers, *block.times))
    line = 0
    for k, text in enumerate(lines[: block.first]):
        bare = COMMENT.sub("", text)
        listing = _LISTING_KEY.match(bare)
        parts = [listing[1], *re.split(r"[,;\t|]", bare[listing.end() :])] if listing else None
        cells = [c.strip().strip('"').strip() for c in parts or split_cells(bare, dialect.separator)]
        key = normal_key(cells[0]) if cells else ""
        values = [cell for cell in cells[1:] if cell]
        target = names if _NAMING_KEY.match(key) else units
        if not values or not (target is names or _UNITS_KEY.match(key)):
            continue
        line = k + 1
        places = columns if len(values) == len(columns) else columns[1:] if len(values) == len(columns) - 1 else []
        for place, value in zip(places, values, strict=False):
            name, unit = split_name(value) if listing and target is names else ("", "")
            target[place] = (name or value) if target is names else value if find_unit(value) else ""
            units[place] = unit or units[place]
    origin = "keyed rows" if line else "none"
    return Heading(names=tuple(names), units=tuple(units), line=line, origin=origin, cells=tuple(names))
