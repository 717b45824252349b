"""Keyed settings in the text round the data, whatever their style."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from feelcheck.formats._layout import Dialect, split_cells
from feelcheck.formats._names import find_unit, split_name
from feelcheck.formats._numbers import cell_kind, parse_quantity
from feelcheck.formats._words import folded
from feelcheck.formats.numbers import FEWEST_MESSAGES

__all__ = ["COMMENT", "PAIR", "Setting", "find_settings", "keyed_settings", "make_setting", "normal_key"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One ``key: value`` of the preamble (or beside, or behind the data); `line` counts from 1.

    Parameters
    ----------
    key : str
        In lower case, words separated by one blank (``"sample interval"``).
    value : str
        As in the file.
    unit : str
        From a cell beside the value or from the key (``sampling_rate_hz``); empty otherwise.
    line : int
        Line number.
    """

    key: str
    value: str
    unit: str
    line: int


COMMENT = re.compile(r"^[\s#;%!*/\"'>]+(?=[^\s])")
_POINTS_FOR = re.compile(r"^(\d+)\s*(?:points?|samples?|pts)?\s*=\s*(.+)$")


def normal_key(text: str) -> str:
    """Return a key in lower case with single blanks between its words.

    Examples
    --------
    >>> [normal_key(key) for key in ("SampleInterval", "H_Resolution:", "HOffset ...", "  Sample  Rate....")]
    ['sample interval', 'h resolution', 'h offset', 'sample rate']
    """
    text = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z]{2})", " ", text)
    return re.sub(r"[^\w/Δµ]+|_+", " ", text).strip().lower()


def find_settings(lines: Iterable[tuple[int, str]], dialect: Dialect) -> list[Setting]:
    """Return every keyed setting of the lines, given with their numbers."""
    found: list[Setting] = []
    before: tuple[int, list[str]] | None = None
    for number, line in lines:
        bare = COMMENT.sub("", line).strip()
        cells = [cell.strip().strip('"').strip() for cell in split_cells(bare, dialect.separator)]
        if dialect.separator == " " or len([c for c in cells if c]) < 2 or _is_foreign(bare, dialect):
            cells = _loose_cells(bare, dialect.decimal)
        cells = _as_pairs(cells)
        if bare[:1] + bare[-1:] == "{}":
            found += _from_json(bare, number)
            continue
        found += keyed_settings(cells, number, dialect)
        # a heading (`Time in us, Out in V`) tells its columns' units, not those of settings
        words = told_in_words(bare, number)
        found += [one for one in words if one.key != "time unit" or len([c for c in cells if c]) < 2]
        if before is not None:
            found += _points_for_time(before[1], bare, number)
            found += _tabulated(before[1], cells, number, dialect)
        before = (number, cells)
    return found


_MESSAGE = re.compile(r"^(?:[A-Za-z*]\w*:)*([A-Za-z]\w*)\s+(?![=:])(\S+)$")


def _as_pairs(cells: list[str]) -> list[str]:
    """Return the cells of a line of program messages (``XINCR 2.5E-5;XZERO 0``) as keys and values.

    References
    ----------
    IEEE 488.2-1992, 7.3 (from memory): units parted by semicolons, a header parted from its data by a blank.
    """
    found = [_MESSAGE.match(cell) for cell in cells]
    if sum(match is not None for match in found) < FEWEST_MESSAGES:
        return cells
    return [f"{match[1]}: {match[2]}" if match else cell for match, cell in zip(found, cells, strict=True)]


def _is_foreign(line: str, dialect: Dialect) -> bool:
    """Tell a line that parts key and value by another mark, so that commas belong to the value."""
    if dialect.separator != ",":
        return False
    mark = re.search(r"[\t;]|(?<!\s)\s{2,}+(?=[+-]?\d)", line)
    return bool(_COMMA_VALUE.match(line)) or (mark is not None and mark.start() < line.find(","))


_COMMA_VALUE = re.compile(r"^[A-Za-zµΔ][^:=,;\t]*[:=]\s*[+-]?\d+,\d+(?:[eE][+-]?\d+)?\s*[A-Za-zµ/]*$")


def _loose_cells(line: str, decimal: str) -> list[str]:
    """Return the cells of a line that does not use the data's separator: tabs, two blanks, other marks."""
    if _COMMA_VALUE.match(line):
        return [line]
    for pattern in (r"\t+", r"\s{2,}", r";", *([] if decimal == "," else [r","])):
        cells = [cell.strip().strip('"').strip() for cell in re.split(pattern, line)]
        if len([cell for cell in cells if cell]) > 1:
            return cells
    match = re.match(r"^([A-Za-z][^\d:=]*?)(?<!\s)\s++([+-]?[\d.].*)$", line)
    return [match[1], match[2]] if match else [line.strip().strip('"')]


def _from_json(line: str, number: int) -> list[Setting]:
    """Return the settings of one line of JSON, nested ones under their own innermost keys."""
    try:
        data = json.loads(line)
    except ValueError:
        return []
    found: list[Setting] = []
    stack: list[tuple[str, object]] = [("", data)]
    while stack:
        key, value = stack.pop(0)
        if isinstance(value, dict):
            stack = [(name, inner) for name, inner in value.items()] + stack
        elif isinstance(value, str | int | float):
            found.append(make_setting(key, str(value), "", number))
    return found


PAIR = re.compile(r"^(?=[^:=]*[A-Za-zµΔ])((?:[^:=.\s]++|[\s.]++(?![:=]))*+)[\s.]*[:=]\s*(.*)$")


def keyed_settings(cells: Sequence[str], line: int, dialect: Dialect) -> list[Setting]:
    """Return the settings of one line: ``key: value`` inside cells, or a key and the cells behind it."""
    found: list[Setting] = []
    skip = False
    for k, cell in enumerate(cells):
        if skip or cell_kind(cell, dialect.decimal) != "x":
            skip = False
            continue
        pair = PAIR.match(cell)
        if pair and pair[2]:
            found.append(make_setting(pair[1], pair[2], "", line))
            continue
        values = [other for other in cells[k + 1 :] if other]
        starts = k == 0 or not cells[k - 1] or _starts_pair(cells, k, dialect)
        inner = PAIR.match(values[0]) if values else None
        if starts and inner and inner[2] and not pair:
            found.append(make_setting(cell, inner[2], "", line))
        if starts and values and PAIR.match(values[0]) is None:
            unit = values[1] if len(values) > 1 and find_unit(values[1]) else ""
            found.append(make_setting(pair[1] if pair else cell, values[0], unit, line))
            skip = True
    return found


def _starts_pair(cells: Sequence[str], k: int, dialect: Dialect) -> bool:
    """Tell whether cell k is the key of a later pair in a line such as ``Segments,1,Size,1002``."""
    has_number = k + 1 < len(cells) and cell_kind(cells[k + 1], dialect.decimal) == "n"
    return (has_number or cells[k] == cells[0]) and find_unit(cells[k]) is None


_NUMBER_AND_UNIT = r"(?<![\w.,+-])(\d{1,3}(?:,\d{3})+|\d+(?:[.,]\d+)?)\s*([^\W\d]+(?:/s(?:ec(?:ond)?)?)?)"
_ONE_SAMPLE = (
    r"(?:data\s*)?(?:samples?|points?|pts?|rows?|readings?|lines?|values?|messwert\w*|messpunkt\w*|punkte?|zeilen?"
    r"|echantillons?|mesures?|muestras?|amostras?|campion[ei])\b"
)
_SAMPLED = r"(?:sampl|acqui|logg|digiti[sz]|abtast|getastet|echant|muestr|amostr|campion|\bfs\b)"
_WORDED_TIMES = (
    re.compile(rf"{_NUMBER_AND_UNIT}\s*(?:per|/|each|between|a|pro|je|par|por)\s*{_ONE_SAMPLE}"),
    re.compile(
        rf"(?:{_SAMPLED}|{_ONE_SAMPLE}|measured|gemessen|mesure)[^\d]*"
        rf"\b(?:every|each|alle|jede|toutes les|cada|ogni)\s+{_NUMBER_AND_UNIT}"
    ),
)
_WORDED_RATES = (
    re.compile(rf"{_SAMPLED}[^\d]{{0,24}}{_NUMBER_AND_UNIT}"),
    re.compile(rf"{_NUMBER_AND_UNIT}\s*{_SAMPLED}"),
)
_SAMPLES_PER_SECOND = re.compile(rf"{_ONE_SAMPLE}\s*(?:per|a|/|pro|par|por)\s*(?:s|sec\w*|sek\w*)\b")
_NO_RATE = re.compile(r"band(?:width|breite)|filter|trigger|cut.?off|limit|grenz")
_NOT_ENGLISH = re.compile(r"abtast|getastet|messwert|messpunkt|zeilen|gemessen|echant|mesure|muestr|amostr|campion")
_THREE_BEHIND = re.compile(r"\d{1,3}[.,]\d{3}")
_WORDED_UNIT = re.compile(r"\btimes?\b.*?\b(?:in|are|is|as)\s+([^\W\d]+)")


def told_in_words(line: str, number: int) -> list[Setting]:
    """Return the sample interval or rate, or the unit of time, that a line of plain words tells.

    Examples
    --------
    >>> lines = "one sample every 25 microseconds", "25 us per sample", "logged at 40000 samples per second"
    >>> [f"{found.key} {found.value} {found.unit}" for line in lines for found in told_in_words(line, 1)]
    ['sample interval 25 microseconds', 'sample interval 25 us', 'sample rate 40000 hz']
    >>> told_in_words("all times are microseconds", 2)
    [Setting(key='time unit', value='microseconds', unit='', line=2)]
    """
    words = _SAMPLES_PER_SECOND.sub("hz", folded(line))
    for patterns, kind, key in ((_WORDED_TIMES, "time", "interval"), (_WORDED_RATES, "frequency", "rate")):
        for match in filter(None, (pattern.search(words) for pattern in patterns)):
            unit, value = find_unit(match[2]), _worded_number(match[1], words)
            if unit is not None and unit.kind == kind and value and not _NO_RATE.search(match[0]):
                return [Setting(key=f"sample {key}", value=value, unit=match[2], line=number)]
    told = _WORDED_UNIT.search(words)
    unit = find_unit(told[1]) if told else None
    if told and unit is not None and unit.kind == "time":
        return [Setting(key="time unit", value=told[1], unit="", line=number)]
    return []


def _worded_number(number: str, words: str) -> str:
    """Return a number with a decimal point; empty where three digits may be thousands or a fraction."""
    if _THREE_BEHIND.fullmatch(number) and _NOT_ENGLISH.search(words):
        return ""
    in_thousands = re.fullmatch(r"\d{1,3}(?:,\d{3})+", number)
    return number.replace(",", "" if in_thousands else ".")


def _points_for_time(above: Sequence[str], line: str, number: int) -> list[Setting]:
    """Return the interval that ``100 = 5ms`` (points for a time) under a heading such as ``TIME STEP:`` states."""
    match = _POINTS_FOR.match(line)
    quantity = parse_quantity(match[2]) if match else None
    if match is None or quantity is None or quantity[1] is None or quantity[1].kind != "time":
        return []
    if "time" not in " ".join(above).lower() or not float(match[1]) > 0:
        return []
    return [Setting(key="time step", value=repr(quantity[0] / float(match[1])), unit=quantity[2], line=number)]


def make_setting(key: str, value: str, unit: str, line: int) -> Setting:
    """Return a setting under its usual key, its unit from the cell beside it or from the key."""
    name, key_unit = split_name(key.strip().rstrip(".:= "))
    if not name:
        name, key_unit = key, ""
    return Setting(key=normal_key(name), value=value.strip(), unit=unit or key_unit, line=line)


def _tabulated(keys: Sequence[str], values: Sequence[str], line: int, dialect: Dialect) -> list[Setting]:
    """Return the settings of a row of keys above a row of values."""
    if len(keys) < 3 or abs(len(keys) - len(values)) > 1:
        return []
    kinds = [cell_kind(cell, dialect.decimal) for cell in keys]
    if "n" in kinds or kinds.count("x") < 2 or not any(cell_kind(v, dialect.decimal) == "n" for v in values):
        return []
    return [
        make_setting(key, value, "", line)
        for key, value in zip(keys, values, strict=False)
        if cell_kind(key, dialect.decimal) == "x" and parse_quantity(value) is not None
    ]
