"""Every error is a sentence, facts and a next step, and fits Python's own families."""

from __future__ import annotations

import pytest

from feelcheck import errors


def test_the_text_has_sentence_facts_and_next_step() -> None:
    error = errors.FormatError("A log needs a time column.", {"file": "alder.csv", "line": 3}, "Name it with --time.")
    assert str(error).splitlines() == [
        "A log needs a time column.",
        "  file: alder.csv",
        "  line: 3",
        "Next: Name it with --time.",
    ]


@pytest.mark.parametrize(
    ("kind", "family"),
    [
        (errors.FormatError, ValueError),
        (errors.ProfileError, ValueError),
        (errors.NotEnoughDataError, ValueError),
        (errors.NotComparableError, ValueError),
        (errors.SourceError, OSError),
        (errors.PluginError, LookupError),
    ],
)
def test_each_error_is_also_of_the_familiar_family(kind: type[errors.FeelcheckError], family: type[Exception]) -> None:
    with pytest.raises(family, match="rule"):
        raise kind("The rule.")
    assert issubclass(kind, errors.FeelcheckError)


def test_a_fact_without_end_is_cut() -> None:
    text = str(errors.FormatError("A repeat is a short word.", {"repeat": "[" * 100_000}))
    assert len(text) < 1200
    assert "(100000 characters)" in text
