"""The list of defects stays honest: each still stands for exactly one place of the code, and its tests exist."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parent))

from defects import KINDS, Defect, defects, spoilt, words
from mutation import BEGIN, END, ROOT, table


@pytest.mark.parametrize("defect", defects(), ids=lambda defect: str(defect.id))
def test_every_defect_applies_exactly_once(defect: Defect) -> None:
    found = spoilt(defect)
    assert defect.kind in KINDS
    ast.parse(found.text)
    assert defect.before.split() != defect.after.split()
    assert defect.tests
    for path in defect.tests:
        assert (ROOT / path.partition("::")[0]).exists(), path


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
