"""How far a part's value on the board may lie from its mark."""

from __future__ import annotations

import re

__all__ = ["ASSUMED_TOLERANCE", "class_2_factors", "is_class_2", "temperature_range_c", "tolerance_factors"]

ASSUMED_TOLERANCE = {"ohm": 0.05, "F": 0.20}
"""Half-widths taken where none is known (common practice, no source)."""

_LOW_C = {"X": -55, "Y": -30, "Z": 10}
_HIGH_C = {"4": 65, "5": 85, "6": 105, "7": 125, "8": 150, "9": 200}
_CHANGE = {"P": (-10, 10), "R": (-15, 15), "S": (-22, 22), "T": (-33, 22), "U": (-56, 22), "V": (-82, 22)}
_CODE = re.compile(r"^([XYZ])([4-9])([PRSTUV])$")
_BIAS_FACTORS = ((2.0, 0.50), (3.5, 0.30), (5.5, 0.19))
_BEYOND = 0.07


def is_class_2(dielectric: str) -> bool:
    """Whether a dielectric loses capacitance under voltage; an unknown one is taken to.

    Parameters
    ----------
    dielectric : str
        Its code, such as ``X7R``; empty if unknown.
    """
    return dielectric.upper() not in ("C0G", "NP0", "FILM")


def temperature_range_c(dielectric: str) -> tuple[int, int, int, int]:
    """Return lowest and highest temperature (deg C) and the change of capacitance over it (%, low and high).

    Parameters
    ----------
    dielectric : str
        Code of the dielectric, such as ``"X7R"``.

    Raises
    ------
    ValueError
        If the code is none of class 2.

    References
    ----------
    EIA-198 letter codes, as in several public tables.

    Examples
    --------
    >>> temperature_range_c("X5R")
    (-55, 85, -15, 15)
    """
    code = _CODE.match(dielectric.upper())
    if not code:
        raise ValueError(f"not a class-2 code: {dielectric!r}")
    return _LOW_C[code[1]], _HIGH_C[code[2]], *_CHANGE[code[3]]


def class_2_factors(bias_v: float) -> tuple[float, float]:
    """Return the factors between which a class-2 capacitor's value under bias lies, relative to its mark.

    Parameters
    ----------
    bias_v : float, V
        Voltage across it in use.

    Notes
    -----
    Deliberately wide: from small-signal value and bias curves of 21 parts of 0402 to 1210 case, of 1 to 47 uF. Curves
    of the small values that sit in stick filters were not found; ask for the part's own curve. Temperature and ageing
    come on top and are inside the width.

    References
    ----------
    Typical maker curves as collected publicly in 2025 (numbers only; the table is among the tests' data).

    Examples
    --------
    >>> class_2_factors(1.8)
    (0.5, 1.05)
    """
    for limit_v, low in _BIAS_FACTORS:
        if abs(bias_v) <= limit_v:
            return low, 1.05
    return _BEYOND, 1.05


def tolerance_factors(half_width: float) -> tuple[float, float]:
    """Return the factors of a symmetric tolerance.

    Parameters
    ----------
    half_width : float
        Half the tolerance as a fraction: 0.1 for 10 %.

    Examples
    --------
    >>> tolerance_factors(0.1)
    (0.9, 1.1)
    """
    return 1.0 - half_width, 1.0 + half_width
