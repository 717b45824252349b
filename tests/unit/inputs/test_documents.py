"""Foreign documents have limits that are told: files that are none, nesting, lengths, numbers, shapes."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Annotated

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import Meta, Struct

from feelcheck.errors import FormatError, ProfileError
from feelcheck.inputs import file_bytes, file_text, json_document, shaped, toml_document, within_limits
from feelcheck.inputs.documents import DEEPEST, LARGEST_INTEGER, LONGEST_TEXT


def test_only_a_plain_file_is_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "file").write_bytes(b"12345")
    for path in (tmp_path / "pipe", tmp_path, Path("/dev/zero")):
        with pytest.raises(ProfileError, match=r"no folder, pipe or device|Is a directory"):
            file_bytes(path, error=ProfileError)
    assert file_bytes(tmp_path / "file", most=5) == b"12345"
    with pytest.raises(FormatError, match=r"(?s)too big.*bytes: 5.*allowed: 4"):
        file_bytes(tmp_path / "file", most=4)
    with pytest.raises(FileNotFoundError):
        file_bytes(tmp_path / "nowhere")
    with pytest.raises(FormatError, match="null character"):
        file_bytes(Path("a\0b"))
    with pytest.raises(FormatError, match="File name too long"):
        file_bytes(Path("a" * 300))
    (tmp_path / "file").write_bytes(b"caf\xe9")
    with pytest.raises(FormatError, match=r"(?s)text in UTF-8.*byte: 3"):
        file_text(tmp_path / "file")
    (tmp_path / "file").write_bytes(b"\xef\xbb\xbfa = 1")
    assert file_text(tmp_path / "file") == "a = 1"


@pytest.mark.parametrize("depth", [DEEPEST - 1, DEEPEST + 1, 2000, 200_000])
def test_nesting_has_a_limit_however_it_is_written(depth: int) -> None:
    for text in ("[" * depth + "]" * depth, '{"a":' * depth + "1" + "}" * depth):
        if depth < DEEPEST:
            json_document(text.encode(), "x.json")
        else:
            with pytest.raises(FormatError, match=r"(?s)nests beyond.*at most 32 levels"):
                json_document(text.encode(), "x.json")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = " + "1" * 5000, "no valid TOML"),
        (f"a = {LARGEST_INTEGER}", "long number"),
        ("a = 1e400", "finite"),
        ("a = -inf", "finite"),
        ("a = [{b = nan}]", "finite"),
        ("a = '" + "x" * (LONGEST_TEXT + 1) + "'", "long text"),
        ('"' + "k" * (LONGEST_TEXT + 1) + '" = 1', "long text"),
        ("a = " + "[" * 40 + "]" * 40, "nests"),
        ("a = " + "[" * 5000 + "]" * 5000, "nests"),
        (".".join("a" * 40) + " = 1", "nests"),
        ("a = [" + "0," * 600_000 + "]", "holds too much"),
        ("[[a", "no valid TOML"),
    ],
    ids=lambda value: str(value)[:24],
)
def test_toml_has_limits_that_are_told(text: str, words: str) -> None:
    with pytest.raises(ProfileError, match=words) as refused:
        toml_document(text, "alder.toml", error=ProfileError)
    assert len(str(refused.value)) < 600
    assert "set_int_max_str_digits" not in str(refused.value)


def test_json_has_the_same_limits() -> None:
    for text in ("1" * 5000, '{"a": NaN}', '{"a": 1e999}', f"[{-LARGEST_INTEGER - 1}]", '"\xff"', "[1", ""):
        with pytest.raises(FormatError):
            json_document(text.encode("latin-1"), "x.json")
    assert json_document(f"[{-LARGEST_INTEGER}, null, true]".encode(), "x") == [-LARGEST_INTEGER, None, True]


class _Place(Struct, forbid_unknown_fields=True):
    name: str
    size: Annotated[float, Meta(gt=0, le=10)] = 1.0


def test_a_document_has_a_shape_and_the_place_is_named() -> None:
    assert shaped({"name": "c3", "size": 2}, _Place, "x", "rule") == _Place("c3", 2.0)
    for document, words in (
        ({"name": "c3", "size": 11}, r"at: size\n  reason: Expected float <= 10.0"),
        ({"name": "c3", "size": True}, "at: size"),
        ({"name": "c3", "colour": 1}, "at: the top\n  reason: .*unknown field colour"),
        ([], "Expected object, got array"),
    ):
        with pytest.raises(FormatError, match=words):
            shaped(document, _Place, "x", "The rule.")


@given(
    st.recursive(
        st.none() | st.integers() | st.floats() | st.text(), lambda s: st.lists(s) | st.dictionaries(st.text(), s)
    )
)
def test_whatever_a_document_holds_it_is_taken_or_refused(document: object) -> None:
    try:
        within_limits(document, "x")
    except FormatError:
        return
    assert json.loads(json.dumps(document, allow_nan=False)) == document
