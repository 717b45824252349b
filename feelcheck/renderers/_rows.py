"""Every estimate of a JSON document as one row: where it belongs, and its numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from feelcheck.model.quantities import DIRECTIONS

__all__ = ["EstimateRow", "estimate_rows"]

_PARTS_OF_ESTIMATE = frozenset(("value", "low", "high", "status", "unit"))
_SILENT = ("axes", "estimates", "rising", "falling")


@dataclass(frozen=True, slots=True, kw_only=True)
class EstimateRow:
    """One estimate of a document.

    Parameters
    ----------
    part : str
        Which part of the document it stands in: ``"timing"``, ``"drive"``, ``"lag.coupled"``; empty for an axis' own.
    axis, direction, quantity : str
        Axis and electrical direction, empty where it has none; its name.
    estimate : dict
        The estimate's own object: value, low, high, u, unit, n, status, caveats.
    """

    part: str
    axis: str
    direction: str
    quantity: str
    estimate: dict[str, Any]


def estimate_rows(document: dict[str, Any]) -> list[EstimateRow]:
    """Return every estimate of a document, in the document's order.

    Parameters
    ----------
    document : dict
        What a result's `to_dict` gives.

    Notes
    -----
    Of a bench result the output's name is the axis. An estimate in a list has its number (from 1) behind its name.

    Examples
    --------
    >>> delay = {"value": 9.1, "low": 8.9, "high": 9.3, "u": 0.1, "unit": "ms", "n": 8, "status": "ok", "caveats": []}
    >>> row = estimate_rows({"axes": {"left_x": {"rising": {"smoothing_delay": delay}}}})[0]
    >>> row.axis, row.direction, row.quantity
    ('left_x', 'rising', 'smoothing_delay')
    """
    output = str((document.get("source") or {}).get("output") or "")
    return [_row(place, axis or _axis_of(place, output), found) for place, axis, found in _walk(document, (), "")]


def _walk(node: Any, place: tuple[str, ...], axis: str) -> Iterator[tuple[tuple[str, ...], str, dict[str, Any]]]:
    if isinstance(node, dict):
        if node.keys() >= _PARTS_OF_ESTIMATE:
            yield place, axis, node
            return
        own = str(node.get("axis") or axis)
        for key, child in node.items():
            yield from _walk(child, (*place, key), own)
    elif isinstance(node, list):
        for k, child in enumerate(node, start=1):
            yield from _walk(child, (*place, str(k)), axis)


def _axis_of(place: tuple[str, ...], output: str) -> str:
    if "axes" in place[:-1]:
        return place[place.index("axes") + 1]
    return output if place[0] in DIRECTIONS or len(place) == 1 else ""


def _row(place: tuple[str, ...], axis: str, estimate: dict[str, Any]) -> EstimateRow:
    quantity = f"{place[-2]} {place[-1]}" if place[-1].isdigit() and len(place) > 1 else place[-1]
    last = 2 if place[-1].isdigit() else 1
    direction = next((word for word in place[:-1] if word in DIRECTIONS), "")
    part = ".".join(word for word in place[:-last] if word not in _SILENT and word != axis and not word.isdigit())
    return EstimateRow(part=part, axis=axis, direction=direction, quantity=quantity, estimate=estimate)
