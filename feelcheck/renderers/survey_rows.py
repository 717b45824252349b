"""A result as rows of a survey's table: one an axis and electrical direction."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from feelcheck.renderers._rows import EstimateRow, estimate_rows

__all__ = ["survey_rows"]

_BARE = ("", "timing", "release")
_OUTPUTS = "outputs"


def survey_rows(document: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the rows of a hand or bench document.

    Parameters
    ----------
    document : mapping
        What the result's `to_dict` gives.

    Returns
    -------
    list of dict
        ``axis``, ``direction``, then of each quantity ``<quantity>_<unit>``, ``_low``, ``_high``, ``_status``. What
        holds for the axis or for the whole recording stands in every row that it holds for.

    Examples
    --------
    >>> delay = {"value": 9.1, "low": 8.9, "high": 9.3, "u": 0.1, "unit": "ms", "n": 8, "status": "ok", "caveats": []}
    >>> survey_rows({"axes": {"left_x": {"rising": {"smoothing_delay": delay}}}})[0]["smoothing_delay_ms"]
    9.1
    """
    estimates = [row for row in estimate_rows(dict(document)) if not row.quantity.startswith("poles ")]
    places = dict.fromkeys((_axis(row), row.direction) for row in estimates if row.direction and _axis(row))
    return [
        {"axis": axis, "direction": direction, **_cells(estimates, axis, direction)}
        for axis, direction in sorted(places, key=lambda place: (place[0], place[1]))
    ]


def _axis(row: EstimateRow) -> str:
    """The axis; of a bench capture's further outputs their name."""
    first, _, name = row.part.partition(".")
    return name.split(".")[0] if first == _OUTPUTS and name else row.axis


def _cells(estimates: list[EstimateRow], axis: str, direction: str) -> dict[str, Any]:
    cells: dict[str, Any] = {}
    for row in estimates:
        if _axis(row) in ("", axis) and row.direction in ("", direction):
            cells |= _of(row)
    return cells


def _of(row: EstimateRow) -> dict[str, Any]:
    part = "" if row.part in _BARE or row.part.startswith(_OUTPUTS) else row.part.rpartition(".")[2]
    name = "_".join(filter(None, (part, row.quantity))).replace(" ", "_")
    estimate = row.estimate
    unit = (estimate["unit"] or "value").replace("/", "_per_").replace(" ", "_")
    ends = {f"{name}_{end}": estimate[end] for end in ("low", "high", "status")}
    return {f"{name}_{unit}": estimate["value"], **ends}
