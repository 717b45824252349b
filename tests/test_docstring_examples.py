"""Every example in a docstring is true."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def _with_examples() -> list[str]:
    paths = (path for path in sorted((ROOT / "feelcheck").rglob("*.py")) if ">>> " in path.read_text(encoding="utf-8"))
    return [".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__") for path in paths]


@pytest.mark.parametrize("name", _with_examples())
def test_the_examples_are_true(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    module = import_module(name)
    failed, tried = doctest.testmod(module, report=True)
    assert tried > 0
    assert failed == 0
