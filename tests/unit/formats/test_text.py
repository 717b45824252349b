"""Bytes to text: encodings, line ends, early refusal."""

from __future__ import annotations

import hashlib
import time
from pathlib import Path

import pytest

from feelcheck.errors import FormatError
from feelcheck.formats._text import HEAD_BYTES, read_head, read_text

TEXT = "Zeit (µs);Kanal\n0;1,5\n10;2,5\n"


@pytest.mark.parametrize(
    ("encoding", "bom"),
    [
        ("utf-8", b""),
        ("utf-8", b"\xef\xbb\xbf"),
        ("utf-16-le", b"\xff\xfe"),
        ("utf-16-be", b"\xfe\xff"),
        ("utf-16-le", b""),
        ("utf-16-be", b""),
        ("utf-32-le", b"\xff\xfe\0\0"),
        ("cp1252", b""),
    ],
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\r\r\n"])
def test_every_encoding_and_line_end_gives_the_same_text(tmp_path: Path, encoding: str, bom: bytes, end: str) -> None:
    path = tmp_path / "alder.csv"
    path.write_bytes(bom + TEXT.replace("\n", end).encode(encoding))
    got = read_text(path)
    assert got.text == TEXT
    assert got.encoding == encoding
    assert got.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert got.n_bytes == path.stat().st_size
    assert read_head(path).text == TEXT


def test_latin_1_codes_that_windows_leaves_undefined(tmp_path: Path) -> None:
    path = tmp_path / "alder.csv"
    path.write_bytes(b"t;\x81\xb0\n1;2\n")
    assert read_text(path).encoding == "latin-1"


def test_torn_tail_of_nuls_is_dropped_with_a_remark(tmp_path: Path) -> None:
    path = tmp_path / "alder.csv"
    path.write_bytes(TEXT.encode() + b"\0" * 20)
    got = read_text(path)
    assert got.text == TEXT
    assert got.remarks == ("20 NUL characters were dropped",)


def test_head_ends_at_a_whole_line(tmp_path: Path) -> None:
    path = tmp_path / "alder.csv"
    path.write_text("1,2,ä\n" * 20000, encoding="utf-8")
    head = read_head(path)
    assert head.encoding == "utf-8"
    assert head.text.endswith("ä\n")
    assert HEAD_BYTES - 8 < len(head.text.encode()) <= HEAD_BYTES
    assert head.sha256 == ""


@pytest.mark.parametrize(
    ("data", "match"),
    [
        (b"", "is empty"),
        (b" \n\n", "only blanks"),
        (b"\0" * 4096, "zeros"),
        (b"PK\x03\x04" + b"x" * 50, "workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "old spreadsheet"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "picture"),
        (b"%PDF-1.7\n", "PDF"),
        (bytes(range(256)) * 40, "binary"),
        (b"t,v\n1,2\n" * 9000 + bytes(range(256)) * 900, "binary"),
        (b"\xff\xfe" + b"\x00\xd8" * 500, "damaged utf-16"),
    ],
)
def test_what_is_no_text_is_refused(tmp_path: Path, data: bytes, match: str) -> None:
    path = tmp_path / "birch.csv"
    path.write_bytes(data)
    with pytest.raises(FormatError, match=match):
        read_text(path)


def test_missing_file_folder_and_size(tmp_path: Path) -> None:
    with pytest.raises(FormatError, match="cannot be opened"):
        read_text(tmp_path / "none.csv")
    with pytest.raises(FormatError, match="not a folder"):
        read_text(tmp_path)
    path = tmp_path / "big.csv"
    path.write_text("1,2\n" * 100)
    with pytest.raises(FormatError, match="too big"):
        read_text(path, max_bytes=100)


def test_a_gigabyte_of_zeros_is_refused_at_once(tmp_path: Path) -> None:
    path = tmp_path / "zeros.csv"
    with path.open("wb") as stream:
        stream.truncate(2**30)
    start = time.process_time()
    with pytest.raises(FormatError, match="zeros"):
        read_text(path)
    # Reading a gigabyte would cost at least 0.1 s of processor time; the head alone costs about 1 ms.
    assert time.process_time() - start < 0.05
