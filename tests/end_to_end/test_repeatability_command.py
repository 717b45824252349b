"""`feelcheck repeatability` on a table of readings, with its picture."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from feelcheck.cli import app


@pytest.fixture
def study(tmp_path: Path) -> Path:
    rng = np.random.default_rng(3)
    rows = [
        f"{operator},{specimen},{take},{5 + k + rng.normal(0, 0.1):.4f}"
        for operator in ("mo", "li")
        for k, specimen in enumerate(("alder", "birch", "cedar"))
        for take in (1, 2)
    ]
    path = tmp_path / "study.csv"
    path.write_text("operator,specimen,repeat,value_ms\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_the_split_is_printed_and_drawn(study: Path, suffix: str) -> None:
    picture = study.with_suffix(suffix)
    found = CliRunner().invoke(app, ["repeatability", str(study), "--json", "--plot", str(picture)])
    assert found.exit_code == 0, found.output
    document = json.loads(found.stdout)
    assert (document["unit"], document["n_specimens"]) == ("ms", 3)
    assert document["anova"]["specimens"] == pytest.approx(1.0, abs=0.15)
    assert picture.stat().st_size > 2000


def test_a_picture_that_cannot_be_written_is_refused_first(study: Path) -> None:
    found = CliRunner().invoke(app, ["repeatability", str(study), "--plot", str(study.with_suffix(".bmp"))])
    assert found.exit_code == 2
    assert "Repeatability of" not in found.stdout
