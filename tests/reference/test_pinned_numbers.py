"""The judge itself: the same twice, and one number changed is found and named."""

from __future__ import annotations

import json
import runpy
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

SCRIPT = Path(__file__).with_name("pinned_numbers.py")
JUDGE: dict[str, Any] = runpy.run_path(str(SCRIPT))


def test_the_same_twice_and_one_changed_number_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for folder in ("before", "after"):
        words = ["write", str(tmp_path / folder), "--families", "style,log", "--every", "400", "--jobs", "1"]
        subprocess.run([sys.executable, str(SCRIPT), *words], check=True, capture_output=True)
    assert JUDGE["compare"](tmp_path / "before", tmp_path / "after") == 0
    path = min((tmp_path / "after").glob("log--*.json"))
    document = json.loads(path.read_text())
    document["streams"][0]["time"]["sha256"] = "0"
    document["told"]["remarks"] = ["another word"]
    path.write_text(json.dumps(document))
    assert JUDGE["compare"](tmp_path / "before", tmp_path / "after", "told") == 1
    said = capsys.readouterr().out
    assert "/streams/0/time/sha256" in said
    assert "another word" not in said


def test_every_family_has_items() -> None:
    assert all(len(JUDGE["items"](family)) >= 4 for family in JUDGE["FAMILIES"])
