"""What a column's name says: its unit, and whether it is a time, a counter, a trigger or something else."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Literal

from feelcheck.formats._words import PREFIXED, WORDS, folded, words_of
from feelcheck.plain_text import table_name

__all__ = [
    "UNIT_SECONDS", "ColumnName", "Role", "Unit", "find_unit", "heading_name", "is_time_name", "name_words",
    "read_name", "role_of", "split_name", "time_unit_name",
]  # fmt: skip

Role = Literal["time", "abscissa", "counter", "other", "trigger", ""]


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """A known unit: `factor` turns values into `symbol`, the unit that is used inside.

    Examples
    --------
    >>> find_unit("µs")
    Unit(kind='time', factor=1e-06, symbol='s')
    """

    kind: str
    factor: float
    symbol: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnName:
    """A column's name taken apart.

    Parameters
    ----------
    name, unit_text : str
        As written; the unit is empty where none is told.
    unit : Unit or None
        What the unit's text means.
    words : tuple of str
        Small letters, without a unit of time.
    role : {"time", "abscissa", "counter", "other", "trigger", ""}
        What the words say the column is; empty for anything that may be an axis. An abscissa is the time of a capture
        and an axis of a stick.
    is_bracketed : bool
        Whether the unit stands in brackets or behind a slash.
    """

    name: str
    unit_text: str
    unit: Unit | None
    words: tuple[str, ...]
    role: Role
    is_bracketed: bool

    @property
    def time_factor(self) -> float | None:
        """Seconds in one unit; None where the name holds no unit of time."""
        return self.unit.factor if self.unit is not None and self.unit.kind == "time" else None


_PREFIX = {
    "": 1.0, "p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "k": 1e3, "M": 1e6, "G": 1e9, "nano": 1e-9, "micro": 1e-6,
    "mikro": 1e-6, "milli": 1e-3, "mili": 1e-3, "kilo": 1e3, "mega": 1e6, "giga": 1e9,
    "н": 1e-9, "мк": 1e-6, "м": 1e-3, "к": 1e3, "微": 1e-6, "毫": 1e-3, "マイクロ": 1e-6, "ミリ": 1e-3, "밀리": 1e-3,
}  # fmt: skip
_MEANS = {
    **dict.fromkeys(("second", "milliseconds", "microseconds", "nanoseconds", "minute", "hour", "day"), ("time", "s")),
    "hertz": ("frequency", "Hz"), "volt": ("voltage", "V"), "ampere": ("current", "A"), "tesla": ("field", "mT"),
    "gauss": ("field", "mT"), "counts": ("counts", "counts"), "index": ("index", "samples"), "other": ("other", ""),
}  # fmt: skip
_TIME_UNIT_NAMES = MappingProxyType(
    {1.0: "s", 1e-3: "ms", 1e-6: "us", 1e-9: "ns", 60.0: "min", 3600.0: "h", 86_400.0: "days"}
)
UNIT_SECONDS = MappingProxyType({name: factor for factor, name in _TIME_UNIT_NAMES.items() if factor <= 1.0})
"""Seconds in one unit of those that are looked for in a column's steps."""
_MICRO = re.compile(r"^(?:Â?[µμ]|\ufffd|\?)(?=\w)")


@cache
def _units() -> dict[str, Unit]:
    """Return every unit by its spelling; those whose case matters are spelt so, all others in small letters."""
    found: dict[str, Unit] = {"adc": Unit(kind="counts", factor=1.0, symbol="counts")}
    for row in WORDS:
        if row.kind not in _MEANS:
            continue
        kind, symbol = _MEANS[row.kind]
        for prefix in ["", *PREFIXED.get(row.kind, "").split()]:
            size = _PREFIX[prefix.upper() if kind == "frequency" and prefix in ("m", "g") else prefix] * row.factor
            for word in row.words.split():
                found.setdefault(prefix + word, Unit(kind=kind, factor=size, symbol=symbol))
    return found


@lru_cache(maxsize=8192)
def find_unit(text: str) -> Unit | None:
    """Return the unit that `text` writes, whole; None if it is no unit that is known here.

    Brackets and quotes round it are ignored; a lone ``adc`` is taken for converter counts.

    Examples
    --------
    >>> find_unit("(mV)").factor, find_unit("kSa/s").factor, find_unit("CH1") is None
    (0.001, 1000.0, True)
    """
    bare = text.strip().strip("\"'").strip("()[]{}<> ").rstrip(".:").strip()
    bare = _MICRO.sub("u", bare)
    if not bare or len(bare) > 24:
        return None
    units = _units()
    for spelling in (bare, bare.replace(" ", ""), folded(bare), folded(bare).replace(" ", "")):
        unit = units.get(spelling)
        if unit is not None:
            return unit
    if bare.lower().startswith("db"):
        return Unit(kind="level", factor=1.0, symbol="dB") if bare.isalpha() else None
    return None


def time_unit_name(factor: float) -> str:
    """Return the short name of a unit of time from its seconds (``"ms"`` for 0.001)."""
    return _TIME_UNIT_NAMES.get(factor, f"{factor:g} s")


_LONGEST_NAME = 400
"""A heading of more characters has no unit that anybody could tell."""
_BRACKET = re.compile(r"^(.*?)\s*[(\[{<]\s*([^()\[\]{}<>]*?)\s*[)\]}>]\s*(.*)$")
_IN_UNIT = re.compile(r"^(?:(.*?)[\s_]+)?in[\s_]+(\S+)$", re.I)
_TAIL = re.compile(r"^(.*?)\s*(?:[_/,;:.\s]|\s-\s?|-)\s*([^\s_/,;:.-]+(?:/s)?)$")
_SLASH = re.compile(r"^(.+)/([^\s/]+)$")
_HEAD = re.compile(r"^(volts?|amps?|mV|mA|V|millivolts?)[\s_]+(.+)$", re.I)
_GLUED = re.compile(r"^((?:ch|channel|c|a)\d+)(m?[VA])$", re.I)
_GLUED_TIME = re.compile(r"^(time|timestamp|t|ts|elapsed)(ms|us|[µμ]s|ns)$", re.I)
_CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])")
_CURRENT = re.compile(r"(?:^|[\W_])(?:i|cur\w*|coil\w*|drive\w*|shunt|strom|amp\w*|magnet\w*|load)(?:[\W_\d]|$)", re.I)
_FIELD = re.compile(r"field|feld|\bb\b|flux|gauss|tesla|magnet|hall", re.I)


def heading_name(cell: str) -> str:
    """Return a heading's cell without quotes round it and without the mark that a table puts before a formula.

    Examples
    --------
    >>> [heading_name(cell) for cell in ('"left_x"', "'left_x'", "'=y", "''z", "'a", "b'")]
    ['left_x', 'left_x', '=y', "'z", "'a", "b'"]
    """
    bare = cell.strip().strip('"').strip()
    told = table_name(bare)
    is_quoted = told == bare and len(bare) > 1 and bare[0] == bare[-1] == "'"
    return bare[1:-1].strip() if is_quoted else told


def split_name(text: str) -> tuple[str, str]:
    """Return the name and the unit that a header cell holds; the unit is empty where there is none.

    Examples
    --------
    >>> [split_name(cell) for cell in ("CH1(V)", "timestamp_ms", "C1 in V", "in s", "Volt", "Channel A", "t/ms")]
    [('CH1', 'V'), ('timestamp', 'ms'), ('C1', 'V'), ('', 's'), ('', 'Volt'), ('Channel A', ''), ('t', 'ms')]
    """
    return _split(text)[:2]


def _split(text: str) -> tuple[str, str, bool]:
    bare = text.strip().strip('"').strip()
    return _parted(bare) if len(bare) <= _LONGEST_NAME else (bare, "", False)


def _parted(text: str) -> tuple[str, str, bool]:
    match = _BRACKET.match(text)
    if match and find_unit(match[2]):
        return f"{match[1]} {match[3]}".strip(), match[2], True
    match = _IN_UNIT.match(text)
    if match and find_unit(match[2]):
        return (match[1] or "").strip(), match[2], False
    unit = find_unit(text)
    if unit and (len(text) > 1 or text in "sVv") and unit.kind in ("time", "voltage", "current", "field", "frequency"):
        return "", text, False
    for pattern in (_SLASH, _TAIL, _GLUED, _GLUED_TIME):
        match = pattern.match(text)
        token = match[2] if match else ""
        if match and token == "a" and _is_current(match[1]):
            token = "A"
        if match and _is_credible(match[1], token):
            return match[1].strip(" _-"), token, pattern is _SLASH
    match = _HEAD.match(text)
    if match:
        return match[2].strip(), match[1], False
    return _split_camel(text)


def _split_camel(text: str) -> tuple[str, str, bool]:
    """Take a unit of time off a name such as ``timestampUs``."""
    *stem, last = _CAMEL.split(text)
    unit = find_unit(last) if stem else None
    if unit is not None and unit.kind == "time" and _is_timed("".join(stem)):
        return "".join(stem), last, False
    return text, "", False


def _is_timed(name: str) -> bool:
    words = name_words(name)
    return is_time_name(name) or bool(set(words) & words_of("duration"))


def _is_credible(name: str, token: str) -> bool:
    """Tell whether the last word of a name is its unit rather than part of the name (``Channel A``)."""
    unit = find_unit(token)
    if unit is None or unit.kind in ("index", "level", "other"):
        return False
    if unit.kind == "counts":
        return token.lower() not in ("adc", "digit", "code")
    if unit.kind == "time":
        plain = unit.factor < 1.0 and len(token) > 1
        return plain or token.lower() in ("sec", "secs", "seconds") or _is_timed(name)
    if len(token) > 1:
        return unit.kind != "field" or token not in ("mG", "kG") or bool(_FIELD.search(name))
    if unit.kind == "current":
        return _is_current(name)
    return unit.kind == "voltage" or (unit.kind == "field" and bool(_FIELD.search(name)))


def _is_current(name: str) -> bool:
    return bool(_CURRENT.search(name) or set(name_words(name)) & words_of("driving"))


def name_words(text: str) -> list[str]:
    """Return the words of a name in small letters, parted where case changes.

    Examples
    --------
    >>> name_words("Left StickX"), name_words("线圈电流")
    (['left', 'stick', 'x'], ['线圈', '电流'])
    """
    spaced = folded(_CAMEL.sub(" ", text.strip().strip("\"'")))
    if not spaced.isascii():
        spaced = _unspaced().sub(r" \g<0> ", spaced)
    return [word for word in re.split(r"[^\w#]+|_+", spaced) if word]


@cache
def _unspaced() -> re.Pattern[str]:
    """Return the pattern of the words of languages that put no blanks between them, the longest first."""
    words = {word for row in WORDS for word in row.words.split() if len(word) > 1 and min(word) >= "\u3000"}
    return re.compile("|".join(sorted(words, key=len, reverse=True)))


def _bare(word: str) -> str:
    """Return a word without its number (``time2``); ``t10`` is no time but the instant of 10 %."""
    bare = word.rstrip("0123456789")
    return bare if len(bare) > 1 or len(word) <= 2 else word


def role_of(name: str, unit: Unit | None) -> Role:
    """Return what a name and its unit say that a column is.

    Examples
    --------
    >>> role_of("Laufzeit", find_unit("ms")), role_of("dt", None), role_of("left_x", None)
    ('time', 'other', '')
    """
    return _role(tuple(name_words(name)), unit)


def is_time_name(name: str) -> bool:
    """Tell whether a column of that name (without its unit) is usually the time axis of a capture.

    Examples
    --------
    >>> [is_time_name(name) for name in ("Zeitpunkt", "hora", "x-axis", "CH1", "frame time")]
    [True, True, True, False, False]
    """
    words = name_words(name.strip("#%;: "))
    return _role(tuple(words), None) in ("time", "abscissa")


def _says_time(words: tuple[str, ...]) -> bool:
    known = words_of("time")
    bare = (_bare(words[0]),) if len(words) == 1 else words
    return any(word in known or _bare(word).endswith(("time", "timestamp")) or word.startswith("zeit") for word in bare)


def _role(words: tuple[str, ...], unit: Unit | None) -> Role:
    known = set(words)
    timed = unit is not None and unit.kind == "time"
    if known & words_of("trigger"):
        return "trigger"
    is_unit = len(words) == 1 and len(words[0]) > 1 and _is_unit_of_time(words[0])
    lasts = bool(known & words_of("duration"))
    if not lasts and not known & words_of("pace") and (_says_time(words) or is_unit or (not words and timed)):
        return "time"
    if not words or known <= words_of("counter"):
        return "counter"
    if known & words_of("aside", "pace") or (timed and lasts):
        return "other"
    if _bare(words[0]) in words_of("abscissa") and {_bare(w) for w in words} <= words_of("abscissa", "abscissa beside"):
        return "abscissa"
    return "abscissa" if words[0] == "trace" and words[1:] == ("name",) else ""


def _is_unit_of_time(word: str) -> bool:
    unit = find_unit(word)
    return unit is not None and unit.kind == "time" and unit.factor <= 1.0


@lru_cache(maxsize=16384)
def read_name(text: str) -> ColumnName:
    """Return what a column's name says.

    Notes
    -----
    The unit is taken from brackets (``t [s]``, ``timestamp (us)``), after a slash (``Time/ns``), from the last word
    (``time_ms``, ``timeUs``), or the name is a unit. Words of a duration (``dt``, ``loop time``) are no time axis.

    Examples
    --------
    >>> name = read_name("timestampUs")
    >>> name.role, name.time_factor, read_name("t/min").time_factor, read_name("left_x").role
    ('time', 1e-06, 60.0, '')
    """
    name, unit_text, is_bracketed = _split(text)
    unit = find_unit(unit_text) if unit_text else None
    words = tuple(name_words(name if unit is not None and unit.kind == "time" else text))
    words = tuple(word for word in words if word != "in")
    return ColumnName(
        name=name,
        unit_text=unit_text,
        unit=unit,
        words=words,
        role=_role(words, unit),
        is_bracketed=is_bracketed,
    )
