"""Gauge studies as tables: one row a reading, columns operator, specimen, repeat, value."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from itertools import product
from pathlib import Path

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.formats.numbers import OVER_RANGE
from feelcheck.inputs import file_text
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
        If a column is missing, or a value is no number or beyond what any instrument shows.
    """
    try:
        text = file_text(path)
    except FormatError as error:
        facts = {**error.facts, "because": error.sentence}
        raise FormatError("A gauge study table is a text file.", facts, "Save it as CSV in UTF-8.") from None
    try:
        return _readings_in(text, path)
    except csv.Error as error:
        facts = {"file": str(path), "got": str(error)}
        raise FormatError("A gauge study table has short cells.", facts, "Save it as CSV in UTF-8.") from None


def _readings_in(text: str, path: Path) -> tuple[list[StudyRow], str]:
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
            if not abs(value) < OVER_RANGE or any(row[column] is None for column in COLUMNS[:3]):
                raise ValueError(row[value_name])
        except (TypeError, ValueError) as error:
            facts = {"file": str(path), "row": str(number), "got": row[value_name], "allowed": f"within {OVER_RANGE:g}"}
            raise FormatError("A reading of a gauge study is a number.", facts, "Mend the row.") from error
        rows.append((row["operator"], row["specimen"], row["repeat"], value))
    return rows, unit


def study_array(rows: Sequence[StudyRow]) -> FloatArray:
    """Return readings as an array, shape (n_operators, n_specimens, n_repeats).

    Parameters
    ----------
    rows : sequence of StudyRow
        One reading a row, every cell of the study filled.

    Raises
    ------
    FormatError
        If a cell is empty or filled twice: factors may not be swapped or guessed.
    """
    readings: dict[tuple[str, str, str], float] = {}
    for operator, specimen, repeat, value in rows:
        if (operator, specimen, repeat) in readings:
            facts = {"operator": operator, "specimen": specimen, "repeat": repeat}
            raise FormatError("A cell of a gauge study is filled once.", facts, "Number the repeats.")
        readings[operator, specimen, repeat] = value
    axes = [sorted({cell[k] for cell in readings}) for k in range(3)]
    missing = next((cell for cell in product(*axes) if cell not in readings), None)
    if missing is not None:
        facts = dict(zip(COLUMNS, missing, strict=False))
        raise FormatError("Every operator measures every specimen equally often.", facts, "Record the missing reading.")
    return np.array([readings[o, s, r] for o, s, r in product(*axes)]).reshape([len(axis) for axis in axes])
