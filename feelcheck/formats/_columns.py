"""One column of a delimited text, whatever it holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats._names import Role, Unit, find_unit, role_of, split_name
from feelcheck.formats._numbers import OVER_RANGE_WORDS
from feelcheck.formats.numbers import OVER_RANGE
from feelcheck.model import FloatArray

__all__ = ["Column", "are_whole", "find_column", "in_range", "read_numbers", "usual_step"]


def in_range(values: FloatArray) -> FloatArray:
    """Return numbers, shape (n,), with NaN in place of those that stand for over range."""
    good = np.abs(values) < OVER_RANGE
    return values if good.all() else np.where(good, values, np.nan)


def read_numbers(cells: pd.Series[Any], decimal: str) -> tuple[pd.Series[Any], NDArray[np.bool_]]:
    """Return the numbers of a column of text, and which of its cells, shape (n,), hold something else."""
    bare = cells.str.replace(r'[\s"]', "", regex=True)
    if decimal == ",":
        bare = bare.str.replace(".", "x", regex=False).str.replace(",", ".", regex=False)
    bare = bare.where(~bare.isin(["", *OVER_RANGE_WORDS]))
    values = pd.to_numeric(bare, errors="coerce").astype(np.float64)
    return values, np.asarray(values.isna() & bare.notna())


def are_whole(values: FloatArray) -> bool:
    """Return whether those of numbers, shape (n,), that are there are whole; most columns that are not soon show it."""
    with np.errstate(invalid="ignore"):  # an endless number has no remainder
        return not any(np.any(part % 1 > 0) for part in (values[:1000], values))


def usual_step(values: FloatArray) -> float:
    """Return the median of the steps of numbers, shape (n,), that go forward; 0.0 where none does."""
    steps = np.diff(values)
    ahead = steps[steps > 0]
    return float(np.median(ahead)) if ahead.size else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Column:
    """One column: n cells as numbers (NaN where blank or over range), booleans or text.

    Parameters
    ----------
    index : int
        Place in the row, from 0.
    name, unit : str
        Apart from one another, empty where none is told.
    cells : ndarray, shape (n,)
        Numbers in `unit`, or text.
    resolution : float
        The step to which the file rounds the numbers; 0 where it is not known.
    written : str
        The cell of the heading that told name and unit; empty where none did.
    """

    index: int
    name: str
    unit: str
    cells: NDArray[Any]
    resolution: float = 0.0
    written: str = ""

    def __post_init__(self) -> None:
        self.cells.setflags(write=False)

    @property
    def label(self) -> str:
        """The name, or the place counted from 1."""
        return self.name or str(self.index + 1)

    @property
    def known_unit(self) -> Unit | None:
        """What the unit means."""
        return find_unit(self.unit) if self.unit else None

    @property
    def time_factor(self) -> float | None:
        """Seconds in one unit; None where it is no unit of time."""
        unit = self.known_unit
        return unit.factor if unit is not None and unit.kind == "time" else None

    @property
    def role(self) -> Role:
        """What name and unit say the column is."""
        return role_of(self.name, self.known_unit)

    @property
    def is_number(self) -> bool:
        """Whether the cells are numbers."""
        return self.cells.dtype.kind in "iuf"

    @property
    def values(self) -> FloatArray:
        """The numbers as doubles, shape (n,)."""
        return np.asarray(self.cells, dtype=np.float64)

    @property
    def finite(self) -> FloatArray:
        """The numbers that are there, shape (<= n,)."""
        values = self.values
        good = np.isfinite(values)
        return values if good.all() else values[good]


def find_column(names: Sequence[str], wanted: str, option: str, *, written: Sequence[str] = ()) -> int:
    """Return the place of the column that `wanted` means.

    As it is written in the heading, or named; by its place (``#2``); or but for case, blanks and its unit.

    Parameters
    ----------
    names : sequence of str
        The columns'.
    wanted, option : str
        What the user typed, and where.
    written : sequence of str, optional
        The heading's cells, where units were taken off the names; empty cells where none tells a name.

    Raises
    ------
    FormatError
        If there is none; lists those there are.

    Examples
    --------
    >>> [find_column(["t", "out", "out 2"], name, "--output", written=["t_ms", "out_V", "out_A"])
    ...  for name in ("out_A", "Out", "#2")]
    [2, 1, 1]
    """
    cells = [cell or name for cell, name in zip(written or names, names, strict=True)]
    bare = wanted.strip().lower()
    for known in (cells, names):
        if wanted in known:
            return known.index(wanted)
    spellings = list(zip(cells, names, strict=True))
    for told in (str, lambda name: split_name(name)[0]):
        alike = [k for k, own in enumerate(spellings) if bare in (told(spelt).strip().lower() for spelt in own)]
        if len(alike) == 1:
            return alike[0]
    if wanted.startswith("#") and wanted[1:].isdecimal() and 0 < int(wanted[1:]) <= len(names):
        return int(wanted[1:]) - 1
    raise FormatError(
        f"{option} must name a column of the file.",
        {"got": wanted, "columns": ", ".join(cells[:20]) + (", ..." if len(cells) > 20 else "")},
        "Write the name as it stands in the header.",
    )
