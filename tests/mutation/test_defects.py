"""The list of defects stays honest: each still stands for exactly one place of the code, and its tests exist."""

from __future__ import annotations

import ast
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

sys.path.append(str(Path(__file__).parent))

from defects import KINDS, Defect, defects, spoilt, words
from mutation import BEGIN, END, ROOT, table


def fault_of(defect: Defect) -> str:
    """What is wrong with an entry of the list; empty where nothing is."""
    try:
        ast.parse(spoilt(defect).text)
    except (LookupError, SyntaxError) as error:
        return f"{defect.id}: {error}"
    missing = [path for path in defect.tests if not (ROOT / path.partition("::")[0]).exists()]
    if defect.kind not in KINDS or defect.before.split() == defect.after.split() or not defect.tests or missing:
        return f"{defect.id}: kind, words or tests {missing}"
    return ""


def test_every_defect_applies_exactly_once() -> None:
    assert not list(filter(None, map(fault_of, defects())))


def test_an_entry_that_is_wrong_is_told() -> None:
    good = defects()[0]
    ways: list[dict[str, Any]] = [
        {"before": "no such words"}, {"after": good.before}, {"after": "a b("}, {"tests": ()},
        {"tests": ("tests/nowhere.py::test",)}, {"kind": "other"},
    ]  # fmt: skip
    assert all(fault_of(replace(good, **way)) for way in ways)


def test_no_defect_is_listed_twice() -> None:
    assert len({defect.id for defect in defects()}) == len(defects())


def test_layout_hides_no_words() -> None:
    tight, loose = "f(a, b) + c", "f(\n    a,  # why\n    b,\n) + c"
    assert [word for word, _, _ in words(tight)] == [word for word, _, _ in words(loose)]


def test_a_defect_that_no_longer_applies_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "hand").mkdir()
    gone = Defect(id="x", kind="formula", where="hand", before="a + b", after="a", tests=())
    with pytest.raises(LookupError, match="0 times in hand"):
        spoilt(gone, tmp_path)
    (tmp_path / "hand" / "a.py").write_text("c = (a +\n     b)\n")
    assert spoilt(gone, tmp_path).text == "c = (a)\n"
    (tmp_path / "hand" / "b.py").write_text("c = a + b\n")
    with pytest.raises(LookupError, match="2 times"):
        spoilt(gone, tmp_path)


def test_the_table_stands_in_the_contributors_page() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert "| all | " in page.partition(BEGIN)[2].partition(END)[0]
    one = Defect(id="x", kind="formula", where="hand", before="a", after="b", tests=())
    assert table([{"id": "x", "ended": "survived", "s": 1.0}], [one]).splitlines()[-1] == "- `x` survived: `a` -> `b`."
