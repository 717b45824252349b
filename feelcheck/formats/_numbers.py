"""Numbers as instruments write them: what a cell is, and what a quantity with its unit is worth."""

from __future__ import annotations

import re
from functools import lru_cache

from feelcheck.formats._names import Unit, find_unit
from feelcheck.formats.numbers import OVER_RANGE

__all__ = [
    "OVER_RANGE_WORDS",
    "PLAIN_NUMBER",
    "cell_kind",
    "number_pattern",
    "parse_number",
    "parse_quantity",
    "resolution_of",
]

PLAIN_NUMBER = r"[+-]?(?:\d++(?:\.\d*+)?|\.\d++)(?:[eE][+-]?\d++)?"
"""Pattern of a number with a decimal point; it never goes back over a digit."""

OVER_RANGE_WORDS = (
    "∞", "-∞", "+∞", "inf", "-inf", "+inf", "Inf", "-Inf", "+Inf", "INF", "-INF", "+INF", "Infinity", "-Infinity",
    "OVER", "-OVER", "+OVER", "Over", "over", "OVERLOAD", "Overload", "OL", "-OL", "+OL", "O.L", "0L", "OVFL", "OVF",
    "Overflow", "overflow", "OVLD", "-OVLD", "+OVLD", "OVR", "OVRLD", "OVRFLW", "OVERRANGE", "Overrange", "overrange",
    "OVERFLOW", "overload", "UNDERRANGE", "UNDERFLOW", "OutOfRange", "SAT",
    "UNDER", "Under", "under", "clip", "CLIP", "clipped", "nan", "-nan", "NaN", "NAN", "N/A",
    "n/a", "NA", "#N/A", "#NUM!", "#DIV/0!", "null", "NULL", "none", "None", "---", "----", "-----", "------", "--",
    "-", "***", "****", "*****", "******", "?", "1.#INF", "-1.#INF", "1.#QNAN", "-1.#IND", ">", "<", "invalid",
)  # fmt: skip
"""What stands in a cell where the instrument had no value: over range, or nothing measured."""

_MARKERS = frozenset(OVER_RANGE_WORDS)
_TIME_TEXT = re.compile(
    r"(?:\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}[- ][A-Za-z]{3}[- ]\d{2,4})?[T ]?\s*+"
    r"(?:\d{1,2}:\d{1,2}(?::\d{1,2})?(?:[.,:]\d+)?)?\s*+(?:[AP]\.?M\.?)?(?:Z|[+-]\d\d:?\d\d)?",
    re.I,
)


@lru_cache
def number_pattern(decimal: str) -> re.Pattern[str]:
    """Return the pattern of a number with that decimal mark (``"."`` or ``","``), blanks after the sign allowed."""
    mark = re.escape(decimal)
    whole = rf"\d+(?:{mark}\d*)?|{mark}\d+" if decimal == "." else rf"\d+(?:{mark}\d+)?|{mark}\d+"
    return re.compile(rf"[+-]?[ \t]*(?:{whole})(?:[eE][+-]?[ \t]*\d+)?")


@lru_cache(maxsize=65536)
def cell_kind(cell: str, decimal: str) -> str:
    """Return what a cell is: ``n`` number, ``m`` over-range marker, ``b`` blank, ``t`` date or time, ``x`` text.

    Examples
    --------
    >>> [cell_kind(cell, ".") for cell in ("-00.0024", '"+1.5E-3"', "OVER", " ", "12:30:01.5", "CH1")]
    ['n', 'n', 'm', 'b', 't', 'x']
    """
    bare = cell.strip().strip('"').strip()
    if not bare:
        return "b"
    if number_pattern(decimal).fullmatch(bare):
        return "n"
    if bare in _MARKERS:
        return "m"
    if bare[0].isdigit() and (":" in bare or bare.count("-") == 2 or bare.count("/") == 2 or bare.count(".") == 2):
        return "t" if _TIME_TEXT.fullmatch(bare) else "x"
    return "x"


def parse_number(text: str, decimal: str = ".") -> float | None:
    """Return the number in `text`, or None."""
    bare = re.sub(r"[ \t]", "", text.strip().strip("\"'"))
    if not number_pattern(decimal).fullmatch(bare):
        return None
    return float(bare.replace(",", "."))


_QUANTITY = re.compile(r"^([+-]?\s*(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*)$")
_SI_ONLY = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "m": 1e-3, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9}


def parse_quantity(text: str) -> tuple[float, Unit | None, str] | None:
    """Return value, known unit (None if none or unknown) and the unit's text of ``"4.0us"``, ``"250 kSa/s"``, ``"1M"``.

    The value is as written; an SI prefix without a unit is worked in.

    Examples
    --------
    >>> parse_quantity("250 kSa/s")[:2]
    (250.0, Unit(kind='frequency', factor=1000.0, symbol='Hz'))
    >>> parse_quantity("1M")
    (1000000.0, None, '')
    """
    match = _QUANTITY.match(text.strip().strip("\"'").strip())
    if not match:
        return None
    value = float(match[1].replace(" ", "").replace(",", "."))
    tail = match[2].strip().strip("\"'").rstrip(";,").strip()
    if tail in _SI_ONLY:
        return value * _SI_ONLY[tail], None, ""
    unit = find_unit(tail)
    if unit is None and "/" in tail:
        head = tail.split("/", 1)[0]
        unit = find_unit(head)
        if unit is not None and unit.kind != "time":
            unit = None
    return value, unit, tail


def resolution_of(cells: list[str]) -> float:
    """Return the step to which the numbers in `cells` were rounded when they were written; 0.0 if none is a number.

    Notes
    -----
    Cells with one common number of decimals and no exponent are fixed-point: the step is the last decimal. All others
    are floating: the step is the last of the significant digits (the most that any cell has) at the largest value.
    """
    bare = [cell.strip().strip('"').replace(",", ".") for cell in cells]
    bare = [re.sub(r"[ \t]", "", cell) for cell in bare]
    bare = [cell for cell in bare if number_pattern(".").fullmatch(cell) and abs(float(cell)) < OVER_RANGE]
    if not bare:
        return 0.0
    mantissas = [cell.lower().split("e")[0].lstrip("+-") for cell in bare]
    decimals = {len(m.partition(".")[2]) for m in mantissas}
    if len(decimals) == 1 and not any("e" in cell.lower() for cell in bare):
        return float(10.0 ** -decimals.pop())
    largest = max(abs(float(cell)) for cell in bare)
    digits = max(len(m.replace(".", "").lstrip("0")) for m in mantissas)
    if largest == 0.0 or digits == 0:
        return 0.0
    exponent = int(f"{largest:e}".split("e")[1])
    return float(10.0 ** (exponent - digits + 1))
