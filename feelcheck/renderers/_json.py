"""Everything as JSON: one encoder for every type of the model."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from enum import StrEnum
from typing import Any

from feelcheck.model import AxisResult, CoupledLag, Estimate, FeelResult, MarkerLag, RimBracket
from feelcheck.plain_text import json_escaped
from feelcheck.renderers._format import shown

__all__ = ["displayed", "dump", "encoded", "picked"]

_SIGNIFICANT_DIGITS = 9
_LEFT_OUT: dict[type, frozenset[str]] = {AxisResult: frozenset({"name"}), FeelResult: frozenset({"facts"})}
"""Fields that stand elsewhere in the document: as the key, or not at all."""

_SPREAD = "extra"
"""The field whose entries stand beside the others, by quantity."""


def encoded(value: Any) -> Any:
    """Return a value of the model as JSON: records by field, estimates with interval and status, times of both in ms.

    Parameters
    ----------
    value : Any
        An estimate, a record, a mapping, a sequence of these, or what JSON knows already.

    Examples
    --------
    >>> encoded(Estimate.at_most("time_constant", 0.001, unit="s"))["high"]
    1.0
    """
    own = _OWN.get(type(value))
    if own is not None:
        return own(value)
    if is_dataclass(value):
        left_out = _LEFT_OUT.get(type(value), frozenset())
        return picked(value, *(field.name for field in fields(value) if field.name not in left_out))
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, Mapping):
        return {name: encoded(inner) for name, inner in value.items()}
    return [encoded(inner) for inner in value] if isinstance(value, list | tuple) else value


def picked(record: Any, *names: str) -> dict[str, Any]:
    """Return some fields of a record as a JSON object, in this order.

    Parameters
    ----------
    record : dataclass instance
        Of the model.
    *names : str
        Its fields.

    Examples
    --------
    >>> picked(RimBracket(family="one_pole", low_s=None, high_s=0.009, n=8), "family", "n")
    {'family': 'one_pole', 'n': 8}
    """
    found: dict[str, Any] = {}
    for name in names:
        value = encoded(getattr(record, name))
        found |= value if name == _SPREAD else {name: value}
    return found


def displayed(value: float | None, unit: str) -> float | None:
    """Return a bare number in the unit that its estimates have in JSON; None stays None."""
    return None if value is None else shown(Estimate.measured("number", value, u=0.0, unit=unit)).value


def _rounded(number: float | None) -> float | None:
    if number is None or not math.isfinite(number):
        return None
    return float(f"{number:.{_SIGNIFICANT_DIGITS}g}")


def _estimate(estimate: Estimate) -> dict[str, Any]:
    """Low and high are the 95 % interval, unknown numbers null."""
    view = shown(estimate)
    numbers = {name: _rounded(getattr(view, name)) for name in ("value", "low", "high", "u")}
    return {**numbers, "unit": view.unit, **picked(estimate, "n", "status", "caveats")}


def _bracket(bracket: RimBracket) -> dict[str, Any]:
    low, high = (None if bound_s is None else 1e3 * bound_s for bound_s in (bracket.low_s, bracket.high_s))
    return {"family": bracket.family, "low": low, "high": high, "n": bracket.n}


def _marker(marker: MarkerLag) -> dict[str, Any]:
    axes: dict[str, dict[str, Any]] = {}
    for (axis, direction), estimate in marker.directions.items():
        axes.setdefault(axis, {})[direction] = _estimate(estimate)
    names = {"button": marker.button or None, "stick": marker.stick or None}
    return {**names, **picked(marker, "delay", "onset_delay"), "axes": axes}


def _coupled(coupled: CoupledLag) -> dict[str, Any]:
    names = {"first": coupled.first or None, "second": coupled.second or None}
    return {**names, **picked(coupled, "delay", "axes")}


_OWN: dict[type, Callable[[Any], dict[str, Any]]] = {
    Estimate: _estimate,
    RimBracket: _bracket,
    MarkerLag: _marker,
    CoupledLag: _coupled,
}
"""Types whose JSON is not the list of their fields."""


def dump(document: dict[str, Any], *, indent: int | None = 2) -> str:
    """Return the document as JSON text; refuses NaN and infinities, escapes what acts on terminals.

    Parameters
    ----------
    document : dict
        The object.
    indent : int or None
        Columns a level; None for one line, which a large document takes a fifth of the time for.
    """
    return json_escaped(json.dumps(document, indent=indent, ensure_ascii=False, allow_nan=False))
