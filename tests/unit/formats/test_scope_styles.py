"""Every style of capture file is read with its known truth, or refused with the right sentence."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import pytest

CORPUS: dict[str, Any] = runpy.run_path(str(Path(__file__).parents[2] / "reference" / "capture_styles.py"))
STYLES = CORPUS["STYLES"]


@pytest.mark.parametrize("item", STYLES, ids=[item.name for item in STYLES])
def test_style(item: Any, tmp_path: Path) -> None:
    good, words = CORPUS["outcome"](item, tmp_path)
    assert good, words


def test_there_are_enough_styles_and_no_name_twice() -> None:
    assert sum(not item.refused for item in STYLES) >= 60
    assert len({item.name for item in STYLES}) == len(STYLES)


def test_a_wrong_reading_is_noticed(tmp_path: Path) -> None:
    item = STYLES[0]
    captures = CORPUS["read_style"](item, tmp_path)
    shifted = tuple((unit, values + 0.1, tolerance) for unit, values, tolerance in item.channels)
    wrong = CORPUS["Style"](name="wrong", files=item.files, channels=shifted)
    assert "differs by" in CORPUS["mismatch"](wrong, captures)
