"""The quantities of a survey's table, found again from its columns."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

__all__ = ["FIXED", "LAST", "MAIN", "QuantityColumns", "columns_of", "has_directions", "number_in", "quantities_of"]

FIXED = (
    "path", "kind", "specimen", "state", "batch", "recorded", "simulated", "complete", "axis", "direction",
)  # fmt: skip
_ENDS = ("_low", "_high", "_status")
LAST = ("reason", "sha256", "tool_version")


MAIN = (
    "smoothing_delay", "time_constant", "transition_10_90", "step_transition_10_90", "mean_delay", "dead_time",
    "asymmetry", "update_interval", "rest_noise", "noise", "return_error", "dead_zone", "quantization_step",
    "resolution", "swing", "sensitivity", "report_interval", "host_jitter",
)  # fmt: skip


def columns_of(names: Iterable[str]) -> tuple[str, ...]:
    """Return the columns of a table in order: what a row is about, the quantities, the main ones first, the rest.

    Parameters
    ----------
    names : iterable of str
        Every column that any row has.

    Examples
    --------
    >>> columns_of(["noise_low", "noise_V", "noise_high", "noise_status"])[10:14]
    ('noise_V', 'noise_low', 'noise_high', 'noise_status')
    """
    found = set(names) - {*FIXED, *LAST}
    place = {name: k for k, name in enumerate(MAIN)}
    quantities = sorted(
        (name.removesuffix("_status") for name in found if name.endswith("_status")),
        key=lambda name: (place.get(name, len(MAIN)), name),
    )
    ordered = list(FIXED)
    for quantity in quantities:
        ends = [f"{quantity}{end}" for end in _ENDS]
        ordered += [*sorted(name for name in found if _is_value_of(name, quantity, quantities)), *ends]
    return (*ordered, *LAST)


def _is_value_of(name: str, quantity: str, quantities: Iterable[str]) -> bool:
    """Whether a column holds values of a quantity and not of one whose name only begins like it."""
    if not name.startswith(f"{quantity}_") or name.endswith(_ENDS):
        return False
    return not any(name.startswith(f"{other}_") for other in quantities if other.startswith(f"{quantity}_"))


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityColumns:
    """One quantity of a table in one unit: its name and unit; which rows count where it has several units."""

    quantity: str
    unit: str
    alone: bool

    @property
    def column(self) -> str:
        """Where its value stands."""
        return f"{self.quantity}_{self.unit}"


def quantities_of(columns: Sequence[str]) -> list[QuantityColumns]:
    """Return every quantity of a table, in the table's order.

    Parameters
    ----------
    columns : sequence of str
        Of the table: of each quantity its values by unit, then ``_low``, ``_high`` and ``_status``.

    Examples
    --------
    >>> found = quantities_of(["path", "rest_noise_counts", "rest_noise_low", "rest_noise_high", "rest_noise_status"])
    >>> found[0].quantity, found[0].unit
    ('rest_noise', 'counts')
    """
    found = []
    for place, name in enumerate(columns):
        quantity = name.removesuffix("_low")
        if quantity == name or f"{quantity}_status" not in columns:
            continue
        units: list[str] = []
        for before in reversed(columns[:place]):
            if not before.startswith(f"{quantity}_") or before.endswith(_ENDS):
                break
            units.append(before.removeprefix(f"{quantity}_"))
        alone = len(units) == 1
        found += [QuantityColumns(quantity=quantity, unit=unit, alone=alone) for unit in reversed(units)]
    return found


def number_in(row: Mapping[str, Any], column: str) -> float | None:
    """Return the number in a cell, None where it is empty.

    Parameters
    ----------
    row : mapping
        A row of a survey's table.
    column : str
        Name of the column.
    """
    cell = row.get(column)
    return float(cell) if isinstance(cell, int | float) and not math.isnan(cell) else None


def has_directions(rows: Iterable[Mapping[str, Any]], of: QuantityColumns) -> bool:
    """Return whether a quantity differs between the directions of any axis; where no axis has both, it may.

    Parameters
    ----------
    rows : iterable of mapping
        Rows of a survey's table.
    of : QuantityColumns
        The quantity's columns.
    """
    cells: dict[tuple[Any, Any], dict[Any, tuple[Any, ...]]] = {}
    for row in rows:
        told = tuple(number_in(row, name) for name in (of.column, f"{of.quantity}_low", f"{of.quantity}_high"))
        if any(number is not None for number in told):
            cells.setdefault((row["path"], row["axis"]), {})[row["direction"]] = told
    both = [set(own.values()) for own in cells.values() if len(own) > 1]
    return not both or any(len(own) > 1 for own in both)
