"""What a column's name says: time, counter, trigger, something else, and its unit."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

__all__ = ["UNIT_SECONDS", "ColumnName", "read_name"]

UNIT_SECONDS = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9}
"""Seconds in one unit of a time column."""

Role = Literal["time", "counter", "other", "trigger", ""]

_UNITS = {
    "s": "s sec secs second seconds",
    "ms": "ms msec msecs milli millis millisecond milliseconds",
    "us": "us µs μs usec usecs micro micros microsecond microseconds",
    "ns": "ns nsec nsecs nano nanos nanosecond nanoseconds",
    "v": "v mv uv volt volts a ma amp amps t mt tesla",
}
_UNIT_OF = {word: unit for unit, words in _UNITS.items() for word in words.split()}


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


_TIME = _set("t timestamps ts stamp elapsed epoch clock zeit uhrzeit temps tiempo tempo tid tijd")
_TIME_END = ("time", "timestamp")
_TIME_BY_UNIT = frozenset(word for unit in UNIT_SECONDS for word in _UNITS[unit].split() if len(word) > 1)
_NOT_TIME = _set(
    "delta dt frame loop reaction poll process interval diff latency last duration period frametime looptime"
)
_COUNTER = _set("frame frames sample samples index idx seq sequence count counter report packet row n i tick")
_OTHER = _set(
    "dt delta latency jitter interval duration period battery voltage temperature temp rssi crc checksum fps date day "
    "id pid end unnamed"
)
_TRIGGER = _set("trigger lt rt l2 r2 ltrigger rtrigger triggerleft triggerright throttle brake")
_BRACKET = re.compile(r"^(?P<stem>.*?)\s*(?:[(\[{<]\s*(?P<inside>[^)\]}>]*)\s*[)\]}>]|/\s*(?P<slash>[^/\s]+))\s*$")
_GLUED = re.compile(r"^(?P<stem>time|timestamp|t|ts|elapsed)(?P<unit>ms|us|µs|ns)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnName:
    """A column's name taken apart.

    Parameters
    ----------
    words : tuple of str
        Lower-case words without the unit.
    unit : str
        ``"s"``, ``"ms"``, ``"us"``, ``"ns"``; ``"v"`` for a bench quantity (volt, ampere, tesla) in brackets; or
        empty.
    role : {"time", "counter", "other", "trigger", ""}
        What the words say the column is; empty for anything that may be an axis.
    """

    words: tuple[str, ...]
    unit: str
    role: Role


def _words(text: str) -> list[str]:
    spaced = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", " ", text)
    return [word for word in re.split(r"[^0-9a-zµμ#]+", spaced.lower()) if word]


def _split_unit(name: str) -> tuple[list[str], str]:
    bracket = _BRACKET.match(name)
    if bracket:
        unit = _UNIT_OF.get((bracket["inside"] or bracket["slash"] or "").strip().lower(), "")
        if unit:
            return _words(bracket["stem"]), unit
    words = [word for word in _words(name) if word != "in"]
    if words and (glued := _GLUED.match(words[-1])):
        return [*words[:-1], glued["stem"]], _UNIT_OF[glued["unit"]]
    if len(words) > 1 and _UNIT_OF.get(words[-1], "v") != "v":
        return words[:-1], _UNIT_OF[words[-1]]
    return words, ""


def _role(words: list[str], unit: str) -> Role:
    known = set(words)
    if known & _TRIGGER:
        return "trigger"
    timed = known & _TIME or any(word.endswith(_TIME_END) for word in words)
    by_unit = len(words) <= 1 and (known & _TIME_BY_UNIT or (not words and unit in UNIT_SECONDS))
    if not known & _NOT_TIME and (timed or by_unit):
        return "time"
    if not words or known <= _COUNTER | {"no", "nr", "number", "num", "id", "#"}:
        return "counter"
    return "other" if known & _OTHER or (unit in UNIT_SECONDS and known & _NOT_TIME) else ""


@lru_cache(maxsize=4096)
def read_name(name: str) -> ColumnName:
    """Return what a column's name says.

    Notes
    -----
    The unit is taken from brackets (``t [s]``, ``timestamp (us)``), after a slash (``Time/ns``), or from the last word
    (``time_ms``, ``timeUs``). Words of a duration (``dt``, ``loop time``) are not a time axis.

    Examples
    --------
    >>> read_name("timestamp (us)").unit, read_name("Time/ns").role, read_name("left_x").role
    ('us', 'time', '')
    """
    words, unit = _split_unit(name.strip())
    if not unit and len(words) == 1 and words[0] in _TIME_BY_UNIT:
        unit = _UNIT_OF[words[0]]
    return ColumnName(words=tuple(words), unit=unit, role=_role(words, unit))
