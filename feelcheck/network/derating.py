"""How far a part's value on the board may lie from its mark."""

from __future__ import annotations

__all__ = ["ASSUMED_TOLERANCE", "class_2_factors", "is_class_2", "tolerance_factors"]

ASSUMED_TOLERANCE = {"ohm": 0.05, "F": 0.20}
"""Half-widths taken where none is known (common practice, no source)."""

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
