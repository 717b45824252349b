"""What the user may state about a log, checked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from feelcheck.errors import FormatError
from feelcheck.formats._names import Unit
from feelcheck.formats._time_units import stated_unit

__all__ = ["LogOptions", "parse_options"]

_KNOWN = ("time", "time_unit", "rate_hz", "axes", "full_scale")


@dataclass(frozen=True, slots=True, kw_only=True)
class LogOptions:
    """What the user stated about a log.

    Parameters
    ----------
    time : str
        Name of the time or counter column; empty: find it.
    time_unit : Unit or None
        Of time, or samples; None: tell it from the name or the steps.
    rate_hz : float or None, Hz
        Rate of the rows or of the counter.
    axes : tuple of str
        Columns to take as axes; empty: all that may be one.
    full_scale : float or None, codes
        Code at full throw (signed logs), or top code (unsigned logs).
    """

    time: str = ""
    time_unit: Unit | None = None
    rate_hz: float | None = None
    axes: tuple[str, ...] = ()
    full_scale: float | None = None


def parse_options(options: Mapping[str, Any]) -> LogOptions:
    """Return the options checked; None and "" mean not stated.

    Raises
    ------
    FormatError
        On an unknown option or a value that is not allowed.

    Examples
    --------
    >>> parse_options({"axes": "x, y", "rate_hz": 250}).axes
    ('x', 'y')
    """
    unknown = sorted(set(options) - set(_KNOWN))
    if unknown:
        raise FormatError(
            "A log is read with known options only.", {"got": ", ".join(unknown), "allowed": ", ".join(_KNOWN)}
        )
    unit = stated_unit(str(options.get("time_unit") or "").strip())
    axes = options.get("axes") or ()
    names: Iterable[Any] = axes.split(",") if isinstance(axes, str) else axes
    return LogOptions(
        time=str(options.get("time") or "").strip(),
        time_unit=unit,
        rate_hz=_positive(options, "rate_hz"),
        axes=tuple(dict.fromkeys(str(name).strip() for name in names if str(name).strip())),
        full_scale=_positive(options, "full_scale"),
    )


def _positive(options: Mapping[str, Any], key: str) -> float | None:
    given = options.get(key)
    if given is None or given == "":
        return None
    try:
        value = float(given)
    except (TypeError, ValueError):
        value = math.nan
    if not (math.isfinite(value) and value > 0):
        option = "--" + key.replace("_", "-")
        raise FormatError(f"{option} must be a positive number.", {"got": given}, "State it as a plain number.")
    return value
