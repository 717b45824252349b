"""Gauge studies as tables: one row a reading, columns operator, specimen, repeat, value."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.model import FloatArray

__all__ = ["StudyRow", "read_study_table", "study_array"]

StudyRow = tuple[str, str, str, float]
COLUMNS = ("operator", "specimen", "repeat", "value")


def read_study_table(path: Path) -> tuple[list[StudyRow], str]:
    """Read a gauge study.

    Parameters
    ----------
    path : Path
        A CSV file with the columns operator, specimen, repeat and value; the value column may carry its unit,
        ``value_ms``.

    Returns
    -------
    tuple of (list of StudyRow, str)
        The rows and the unit of the values (seconds for ``value_ms`` and ``value_s``).

    Raises
    ------
    FormatError
        If a column is missing or a value is no number.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        facts = {"file": str(path), "got": str(error)}
        raise FormatError("A gauge study table is a text file.", facts, "Save it as CSV in UTF-8.") from error
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    table = csv.DictReader(lines)
    names = list(table.fieldnames or [])
    value_name = next((name for name in names if name.split("_")[0] == "value"), "")
    if not value_name or any(column not in names for column in COLUMNS[:3]):
        facts = {"file": str(path), "got": ", ".join(names), "allowed": ", ".join(COLUMNS)}
        raise FormatError("A gauge study table has four columns.", facts, "Rename the columns.")
    suffix = value_name.partition("_")[2]
    factor, unit = {"ms": (1e-3, "s"), "s": (1.0, "s")}.get(suffix, (1.0, suffix))
    rows: list[StudyRow] = []
    for number, row in enumerate(table, start=2):
        try:
            value = float(row[value_name]) * factor
            if not math.isfinite(value):
                raise ValueError(row[value_name])
        except (TypeError, ValueError) as error:
            facts = {"file": str(path), "row": str(number), "got": row[value_name]}
            raise FormatError("A reading of a gauge study is a number.", facts, "Mend the row.") from error
        rows.append((row["operator"], row["specimen"], row["repeat"], value))
    return rows, unit


def study_array(rows: Sequence[StudyRow]) -> FloatArray:
    """Return readings as an array, shape (n_operators, n_specimens, n_repeats).

    Raises
    ------
    FormatError
        If a cell is empty or filled twice: factors may not be swapped or guessed.
    """
    axes = [sorted({str(row[k]) for row in rows}) for k in range(3)]
    readings = np.full([len(axis) for axis in axes], np.nan)
    for row in rows:
        cell = tuple(axes[k].index(str(row[k])) for k in range(3))
        if not np.isnan(readings[cell]):
            facts = {"operator": row[0], "specimen": row[1], "repeat": row[2]}
            raise FormatError("A cell of a gauge study is filled once.", facts, "Number the repeats.")
        readings[cell] = row[3]
    if np.isnan(readings).any():
        o, s, r = (int(k) for k in np.argwhere(np.isnan(readings))[0])
        facts = {"operator": axes[0][o], "specimen": axes[1][s], "repeat": axes[2][r]}
        raise FormatError("Every operator measures every specimen equally often.", facts, "Record the missing reading.")
    return readings
