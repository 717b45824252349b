"""A folder of sessions names them, or stands for all of them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from feelcheck.errors import FormatError
from feelcheck.pipeline import named_recordings

SHIPPED = Path(__file__).parents[3] / "demo_logs"


def test_a_folder_of_sessions_lists_them_or_stands_for_all(tmp_path: Path) -> None:
    for name in ("elm_as_found", "alder_as_found"):
        shutil.copytree(SHIPPED / name, tmp_path / name)
    log = tmp_path / "log.csv"
    log.write_text("t_s,x\n0,1\n")
    with pytest.raises(FormatError, match=r"holds sessions(.|\n)*alder_as_found(.|\n)*--all"):
        named_recordings([tmp_path])
    assert {path.name for path in named_recordings([tmp_path], every=True)} == {"elm_as_found", "alder_as_found"}
    one = tmp_path / "elm_as_found"
    assert named_recordings([log, one]) == [log, one]
    assert named_recordings([tmp_path / "missing"]) == [tmp_path / "missing"]
