"""Files that cannot be measured are refused by their heads; everything else passes to its reader."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from feelcheck.errors import FormatError
from feelcheck.formats.heads import check_heads


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (None, "cannot be opened"),
        (b"", "empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0", "delimited text"),
        (b"one line of words\nand 1 more\n", "no block of numeric rows"),
    ],
)
def test_what_holds_no_numbers_is_refused(content: bytes | None, match: str, tmp_path: Path) -> None:
    path = tmp_path / "alder.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(FormatError, match=match):
        check_heads([path])


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="not a folder"):
        check_heads([tmp_path])


@pytest.mark.parametrize(
    "content",
    [
        b"t,v\n0,1\n1,2\n2,3\n",
        "t;v\n0;1\n1;2\n2;3\n".encode("utf-16"),
        b'[[edge]]\ndirection = "rising"\nt10 = 1.0\n',
        b"direction,t10,t50\nrising,1.0,2.0\n",
        b"comment\n" * 9000 + b"0,1\n1,2\n2,3\n",
    ],
    ids=["table", "utf-16", "typed", "typed table", "long preamble"],
)
def test_what_may_hold_numbers_passes(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "alder.csv"
    path.write_bytes(content)
    check_heads([path])


def test_the_look_loads_no_numerical_library(tmp_path: Path) -> None:
    code = (
        "import sys; from feelcheck import pipeline; from feelcheck.errors import FormatError\n"
        f"try: pipeline.check_heads([{str(tmp_path / 'missing.csv')!r}])\n"
        "except FormatError: print(sorted({'numpy', 'scipy', 'pandas', 'matplotlib'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert done.stdout.strip() == "[]"
