"""Component values as people write them: 4.7k, 4k7, 0.56u, 560n, 1µ, R47."""

from __future__ import annotations

import math
import re

__all__ = ["format_si", "parse_si"]

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


def format_si(value: float, unit: str = "", *, digits: int = 3) -> str:
    """Return a value with an SI prefix.

    Examples
    --------
    >>> format_si(4700.0, "ohm"), format_si(5.6e-7, "F"), format_si(0.0)
    ('4.7 kohm', '560 nF', '0')
    """
    for factor, prefix in _SHOWN:
        if abs(value) >= factor * (1 - 0.5 * 10.0**-digits):
            return f"{value / factor:.{digits}g} {prefix}{unit}".strip()
    return f"{value:.{digits}g} {unit}".strip()
