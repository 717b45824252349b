"""Component values as people write them: 4.7k, 4k7, 0.56u, 560n, 1µ, R47."""

from __future__ import annotations

import math
import re
from typing import Literal

from feelcheck.errors import FormatError

__all__ = ["PartUnit", "component_value", "format_si", "parse_si"]

PartUnit = Literal["ohm", "F", "A"]

_PREFIXES = {
    "f": 1e-15, "p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3,
    "": 1.0, "R": 1.0, "r": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9,
}  # fmt: skip
_UNITS = r"(?:ohms?|Ω|Ω|[Ff]|farads?|[Vv]|[Aa]|s)?"
_NUMBER = r"\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?"
_PLAIN = re.compile(rf"^({_NUMBER})\s*([fpnuµμmkKMGRr]?)\s*{_UNITS}$")
_INFIX = re.compile(rf"^(\d*)([pnuµμmkKMGRr])(\d+)\s*{_UNITS}$")
_SHOWN = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p"))


def parse_si(text: str) -> float:
    """Return the number behind a component value.

    Parameters
    ----------
    text : str
        A number with an optional SI prefix before or in place of the decimal point, and an optional unit.

    Raises
    ------
    ValueError
        If the text is no such value, or not positive.

    References
    ----------
    IEC 60062: letter in place of the decimal mark (from memory).

    Examples
    --------
    >>> [parse_si(text) for text in ("4.7k", "4k7", "R47", "1M")]
    [4700.0, 4700.0, 0.47, 1000000.0]
    >>> f"{parse_si('560n'):.3g} {parse_si('0.56u'):.3g}"
    '5.6e-07 5.6e-07'
    """
    bare = text.strip()
    plain, infix = _PLAIN.match(bare), _INFIX.match(bare)
    if plain:
        value = float(f"{plain[1].replace(',', '.')}") * _PREFIXES[plain[2]]
    elif infix:
        value = float(f"{infix[1] or '0'}.{infix[3]}") * _PREFIXES[infix[2]]
    else:
        raise ValueError(f"not a component value: {text!r}")
    if not (value > 0 and math.isfinite(value)):
        raise ValueError(f"a component value must be positive: {text!r}")
    return value


SENSIBLE: dict[PartUnit, tuple[float, float]] = {"ohm": (0.1, 1e8), "F": (1e-13, 1e-2), "A": (1e-9, 1.0)}
"""Between what the parts of a sensor board lie, with room on either side (common practice, no source)."""
PART_WORDS: dict[PartUnit, str] = {"ohm": "a resistor", "F": "a capacitor", "A": "a current"}
EXAMPLES: dict[PartUnit, str] = {"ohm": "4.7k", "F": "560n", "A": "20u"}
TELLING = {"ohm": re.compile(r"[kKMGRrΩΩ]|ohm"), "F": re.compile(r"[pnuµμ]|[Ff]$|farad")}
"""Prefixes and units that only parts of one kind carry."""
GUESSED: dict[PartUnit, tuple[str, ...]] = {"ohm": ("", "k", "M"), "F": ("n", "u", "p"), "A": ("u", "m", "n")}


def component_value(text: str, unit: PartUnit) -> float:
    """Return the value of a part that could sit on a sensor board.

    Parameters
    ----------
    text : str
        As people write it; see `parse_si`.
    unit : {"ohm", "F", "A"}
        What kind of part it is.

    Raises
    ------
    FormatError
        If the text is no value, is that of the other kind of part, or lies where no such part does; with a guess at
        the prefix that is missing.

    Examples
    --------
    >>> component_value("4k7", "ohm"), component_value("1u", "F")
    (4700.0, 1e-06)
    >>> component_value("100", "F")  # doctest: +IGNORE_EXCEPTION_DETAIL
    Traceback (most recent call last):
    ...
    feelcheck.errors.FormatError: 100 F is no capacitor of a stick's filter.
      got: 100
      allowed: 0.1 pF to 10 mF
    Next: Write 100n or 100u, if that is meant.
    """
    bare, told = text.strip(), _short(text)
    try:
        value = parse_si(bare)
    except ValueError as error:
        known = "A part needs a value such as 4.7k or 560n."
        raise FormatError(known, {"got": told}, f"Write {PART_WORDS[unit]} like {EXAMPLES[unit]}.") from error
    low, high = SENSIBLE[unit]
    if _is_of_the_other_kind(bare, unit):
        facts = {"got": told, "wanted": PART_WORDS[unit]}
        other: PartUnit = "F" if unit == "ohm" else "ohm"
        raise FormatError(
            f"{told} is the value of {PART_WORDS[other]}, not of {PART_WORDS[unit]}.",
            facts,
            f"Were the two swapped? {PART_WORDS[unit].capitalize()} is written like {EXAMPLES[unit]}.",
        )
    if not low <= value <= high:
        name = f"{told} {unit}" if re.fullmatch(r"[\d.,]+", bare) else told
        allowed = f"{format_si(low, unit)} to {format_si(high, unit)}"
        raise FormatError(
            f"{name} is no {PART_WORDS[unit].removeprefix('a ')} of a stick's filter.",
            {"got": told, "allowed": allowed},
            _guess(bare, unit),
        )
    return value


def _is_of_the_other_kind(text: str, unit: PartUnit) -> bool:
    if unit == "A":
        return False
    other = TELLING["F" if unit == "ohm" else "ohm"]
    return bool(other.search(text)) and not TELLING[unit].search(text)


def _guess(text: str, unit: PartUnit) -> str:
    """The value with the prefix that may be missing, as far as one makes a sensible part."""
    number = re.match(r"\d+(?:[.,]\d+)?", text)
    low, high = SENSIBLE[unit]
    found = []
    for prefix in GUESSED[unit] if number and len(number[0]) < 8 else ():
        written = f"{number[0]}{prefix}" if number else ""
        if written != text and low <= parse_si(written) <= high:
            found.append(written)
    meant = " or ".join(found[:2])
    return f"Write {meant}, if that is meant." if meant else f"Write {PART_WORDS[unit]} like {EXAMPLES[unit]}."


def _short(text: str) -> str:
    """What was typed, cut where it would fill the screen."""
    bare = " ".join(text.split())
    return bare if len(bare) <= 24 else f"{bare[:16]}... ({len(bare)} characters)"


def format_si(value: float, unit: str = "", *, digits: int = 3) -> str:
    """Return a value with an SI prefix.

    Parameters
    ----------
    value : float
        The value, in the unit without prefix.
    unit : str, optional
        The unit.
    digits : int, optional
        Significant digits.

    Examples
    --------
    >>> format_si(4700.0, "ohm"), format_si(5.6e-7, "F"), format_si(0.0)
    ('4.7 kohm', '560 nF', '0')
    """
    for factor, prefix in _SHOWN:
        if abs(value) >= factor * (1 - 0.5 * 10.0**-digits):
            return f"{value / factor:.{digits}g} {prefix}{unit}".strip()
    return f"{value:.{digits}g} {unit}".strip()
