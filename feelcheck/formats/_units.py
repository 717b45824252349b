"""Units as instruments write them, alone or inside a column's name."""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["Unit", "find_unit", "is_time_name", "split_name"]


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


_PREFIX = {
    "": 1.0, "p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "k": 1e3, "M": 1e6, "G": 1e9,
    "nano": 1e-9, "micro": 1e-6, "milli": 1e-3, "kilo": 1e3, "mega": 1e6, "giga": 1e9,
}  # fmt: skip
_SECOND = r"(?:s|sec|secs|second|seconds|sek|sekunden?|secondes?|segundos?|secondi)"
_RATE = r"(?:hz|hertz|sa/s(?:ec)?|s/s(?:ec)?|sps|samples?/s(?:ec(?:ond)?)?|samples? per second|pts?/s|points?/s)"
_PATTERNS = (
    ("time", "s", re.compile(rf"(p|n|u|m|nano|micro|milli|)\s?{_SECOND}", re.I), 1.0),
    ("frequency", "Hz", re.compile(rf"(m|k|g|kilo|mega|giga|)\s?{_RATE}", re.I), 1.0),
    ("voltage", "V", re.compile(r"(n|u|m|k|micro|milli|kilo|)\s?(?:v|volts?|vdc|vpp)", re.I), 1.0),
    ("current", "A", re.compile(r"(n|u|m|k|micro|milli|kilo|)\s?(?:A|(?i:amps?|amperes?))"), 1.0),
    ("field", "mT", re.compile(r"(n|u|m|micro|milli|)\s?(?:T|(?i:teslas?))"), 1e3),
    ("field", "mT", re.compile(r"(m|k|milli|kilo|)\s?(?:G|Gs|(?i:gauss))"), 0.1),
    ("counts", "counts", re.compile(r"()(?:counts?|cts|lsbs?|adc|adu|raw|codes?|digits?|dn|adc counts?)", re.I), 1.0),
    ("index", "samples", re.compile(r"()(?:samples?|sequence|pts|points?|index|records?|nr|no\.?|#)", re.I), 1.0),
    ("level", "dB", re.compile(r"()(?:db[a-zµu]*)", re.I), 1.0),
    ("other", "", re.compile(r"()(?:°?[cf]|degc|%|w|ohms?|Ω|deg|°|rpm|k)", re.I), 1.0),
)
_CALENDAR = {
    "millis": 1e-3, "micros": 1e-6, "nanos": 1e-9,
    "min": 60.0, "mins": 60.0, "minute": 60.0, "minutes": 60.0, "h": 3600.0, "hour": 3600.0, "hours": 3600.0,
}  # fmt: skip
_MICRO = re.compile(r"^(?:Â?[µμ]|\ufffd|\?)(?=\w)")


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
    if bare.lower() in _CALENDAR:
        return Unit(kind="time", factor=_CALENDAR[bare.lower()], symbol="s")
    if bare.lower() == "adc":
        return Unit(kind="counts", factor=1.0, symbol="counts")
    for kind, symbol, pattern, base in _PATTERNS:
        match = pattern.fullmatch(bare)
        if match:
            return Unit(kind=kind, factor=_factor(match[1], kind) * base, symbol=symbol)
    return None


def _factor(prefix: str, kind: str) -> float:
    prefix = prefix.lower()
    if kind == "frequency" and prefix in ("m", "g"):
        prefix = prefix.upper()
    return _PREFIX[prefix]


_TIME_NAME = re.compile(
    r"(?:t\d*|t ?rel|(?:.*[ _-])?time(?:[ _-]?(?:stamp|axis|base|value|array)?s?)?\d*|time[ _-].*|timestamp.*|zeit.*"
    r"|.*zeitpunkt|temps|tiempo|tempo|tid|tijd|czas|x(?:[ _-]?(?:axis|achse|value|data|values))?\d*|seconds?|secs?"
    r"|(?:milli|micro|nano)s(?:econds?)?|elapsed.*|date ?/? ?time|horizontal|abscissa|uptime|millis|micros|source"
    r"|trace ?name|uhrzeit|hora|heure)",
    re.I,
)


def is_time_name(name: str) -> bool:
    """Tell whether a column of that name (without its unit) is usually a time axis."""
    return bool(_TIME_NAME.fullmatch(name.strip().strip("\"'#%;: ")))


_BRACKET = re.compile(r"^(.*?)\s*[(\[{<]\s*([^()\[\]{}<>]*?)\s*[)\]}>]\s*(.*)$")
_IN_UNIT = re.compile(r"^(?:(.*?)\s+)?in\s+(\S+)$", re.I)
_TAIL = re.compile(r"^(.*?)\s*(?:[_/,;:\s]|\s-\s?|-)\s*([^\s_/,;:-]+(?:/s)?)$")
_SLASH = re.compile(r"^(.+)/([^\s/]+)$")
_HEAD = re.compile(r"^(volts?|amps?|mV|mA|V|millivolts?)[\s_]+(.+)$", re.I)
_GLUED = re.compile(r"^((?:ch|channel|c|a)\d+)(m?[VA])$", re.I)
_CURRENT = re.compile(r"(?:^|[\W_])(?:i|cur\w*|coil\w*|drive\w*|shunt|strom|amp\w*|magnet\w*|load)(?:[\W_\d]|$)", re.I)
_FIELD = re.compile(r"field|feld|\bb\b|flux|gauss|tesla|magnet|hall", re.I)


def split_name(text: str) -> tuple[str, str]:
    """Return the name and the unit that a header cell holds; the unit is empty where there is none.

    Examples
    --------
    >>> [split_name(cell) for cell in ("CH1(V)", "timestamp_ms", "C1 in V", "in s", "Volt", "Channel A", "t/ms")]
    [('CH1', 'V'), ('timestamp', 'ms'), ('C1', 'V'), ('', 's'), ('', 'Volt'), ('Channel A', ''), ('t', 'ms')]
    """
    text = text.strip().strip("\"'").strip()
    match = _BRACKET.match(text)
    if match and find_unit(match[2]):
        return f"{match[1]} {match[3]}".strip(), match[2]
    match = _IN_UNIT.match(text)
    if match and find_unit(match[2]):
        return (match[1] or "").strip(), match[2]
    unit = find_unit(text)
    if unit and (len(text) > 1 or text in "sVv") and unit.kind in ("time", "voltage", "current", "field", "frequency"):
        return "", text
    for pattern in (_SLASH, _TAIL, _GLUED):
        match = pattern.match(text)
        token = match[2] if match else ""
        if match and token == "a" and _CURRENT.search(match[1]):
            token = "A"
        if match and _is_credible(match[1], token):
            return match[1].strip(" _-"), token
    match = _HEAD.match(text)
    if match:
        return match[2].strip(), match[1]
    return text, ""


def _is_credible(name: str, token: str) -> bool:
    """Tell whether the last word of a name is its unit rather than part of the name (``Channel A``)."""
    unit = find_unit(token)
    if unit is None or unit.kind in ("index", "level", "other"):
        return False
    if unit.kind == "counts":
        return token.lower() not in ("adc", "digit", "code")
    if len(token) > 1 and unit.kind != "time":
        return unit.kind != "field" or token not in ("mG", "kG") or bool(_FIELD.search(name))
    if unit.kind == "time":
        return is_time_name(name) or name.strip().lower() in ("dt", "delta t", "interval", "period") or len(token) > 1
    if unit.kind == "current":
        return bool(_CURRENT.search(name))
    return unit.kind == "voltage" or (unit.kind == "field" and bool(_FIELD.search(name)))
