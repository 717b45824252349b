"""Gauge studies as tables: factors never swapped, cells never guessed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.study import read_study_table, study_array

ROWS = [("mo", "alder", "1", 3.0), ("mo", "birch", "1", 9.0), ("li", "alder", "1", 3.1), ("li", "birch", "1", 9.2)]


def test_milliseconds_become_seconds(tmp_path: Path) -> None:
    file = tmp_path / "study.csv"
    file.write_text("operator,specimen,repeat,value_ms\n" + "\n".join(",".join(map(str, row)) for row in ROWS))
    rows, unit = read_study_table(file)
    assert unit == "s"
    np.testing.assert_allclose(study_array(rows)[:, :, 0], [[0.0031, 0.0092], [0.003, 0.009]])


def test_a_missing_column_is_named(tmp_path: Path) -> None:
    file = tmp_path / "study.csv"
    file.write_text("who,specimen,repeat,value\nmo,alder,1,3\n")
    with pytest.raises(FormatError, match="operator, specimen, repeat, value"):
        read_study_table(file)


@pytest.mark.parametrize("cell", ["three", "", "nan", "-inf", "-1e300", "9.9e37"])
def test_a_reading_that_is_no_number_names_its_row(tmp_path: Path, cell: str) -> None:
    file = tmp_path / "study.csv"
    file.write_text(f"operator,specimen,repeat,value\nmo,alder,1,{cell}\n")
    with pytest.raises(FormatError, match="row: 2"):
        read_study_table(file)


def test_a_cell_filled_twice_is_refused() -> None:
    with pytest.raises(FormatError, match="filled once"):
        study_array([*ROWS, ROWS[0]])


def test_a_missing_cell_is_named() -> None:
    with pytest.raises(FormatError, match="specimen: birch"):
        study_array(ROWS[:-1])
