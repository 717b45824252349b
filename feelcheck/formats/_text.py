"""From the bytes of a file to clean text: encoding, byte order, line ends, and early refusal of what is no text."""

from __future__ import annotations

import codecs
import hashlib
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from feelcheck.errors import FormatError
from feelcheck.formats.numbers import (
    CONTROL_SHARE,
    HEAD_BYTES,
    HEADING_CHARACTERS,
    LARGE_BYTES,
    MOST_BYTES,
    N_SAMPLES,
    SAMPLE_BYTES,
)
from feelcheck.outputs.rule import HEADER_FILE

if TYPE_CHECKING:
    from feelcheck.formats._condensed import Between

__all__ = ["HEAD_BYTES", "LARGE_BYTES", "DecodedText", "naming", "read_head", "read_text", "refuse_document"]

_BOMS = (
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_CONTAINERS = (
    (b"PK\x03\x04", "a zip container (a spreadsheet workbook, or an archive)"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"BZh", "a bzip2 archive"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"BM", "a picture"),
    (b"%PDF", "a PDF document"),
    (b"\x89HDF", "an HDF5 file"),
    (b"PAR1", "a Parquet file"),
)
# Control characters that no text file holds; tab, the line ends, form feed and the old end-of-file mark may occur.
_CONTROL = bytes(set(range(32)) - {0, 9, 10, 11, 12, 13, 26, 27})
# An old end-of-file mark; a typographic minus; blanks that do not break.
_LOOKALIKES = (
    ("\x1a", ""),
    ("\u2212", "-"),
    ("\u2010", "-"),
    ("\u2011", "-"),
    ("\xa0", " "),
    ("\u202f", " "),
    ("\u2009", " "),
)
_GROUPING_BLANK = re.compile("(?<=\\d)[\xa0\u202f\u2009](?=\\d{3}(?!\\d))")


@dataclass(frozen=True, slots=True, kw_only=True)
class DecodedText:
    r"""The text of a file.

    Parameters
    ----------
    text : str
        Without byte-order mark and NUL characters, every line ended by ``"\n"`` alone.
    encoding : str
        Python's name of the encoding that was found.
    sha256 : str
        Hash of the file's bytes; empty where only the head was read.
    n_bytes : int
        Size of the file.
    remarks : tuple of str
        What had to be mended on the way.
    """

    text: str
    encoding: str
    sha256: str
    n_bytes: int
    remarks: tuple[str, ...] = ()


def read_text(path: Path | str, *, between: Between | None = None, max_bytes: int = MOST_BYTES) -> DecodedText:
    r"""Return the text of a file, whatever its encoding and line ends.

    Parameters
    ----------
    path : Path or str
        The file.
    between : {"gap", "thinned"}, optional
        What becomes of the rows of a large file in which nothing moves (`condense`); without it a file is read whole.
    max_bytes : int
        Bigger files are refused, but for those that are condensed.

    Returns
    -------
    DecodedText

    Raises
    ------
    FormatError
        If the path is missing, a folder, empty, too big, not text, or no table though one is read (``between``).

    Notes
    -----
    Only the first 64 KiB and a few samples are looked at before the decision whether it is text, so a huge file of
    zeros costs nothing. A byte-order mark decides the encoding; without one, NUL bytes on every other place mean
    UTF-16, valid UTF-8 is UTF-8, and everything else is told by its words (`decoded_by_words`).
    """
    path = Path(path)
    n_bytes = _check_size(path, None)
    if between is not None:
        refuse_document(path)
    encoding = _text_encoding(path, n_bytes)
    data, digest, told = _bytes_of(path, n_bytes, encoding, between, max_bytes)
    text, encoding, doubt = _decode(data, encoding, path)
    del data
    text, remarks = _clean(text)
    remarks = (*told, *doubt, *remarks)
    if not text or text.isspace():
        raise _refusal(path, "A log or capture needs text, but this file holds only blanks.", {})
    return DecodedText(text=text, encoding=encoding, sha256=digest, n_bytes=n_bytes, remarks=remarks)


def _bytes_of(
    path: Path, n_bytes: int, encoding: str, between: Between | None, max_bytes: int
) -> tuple[bytes, str, tuple[str, ...]]:
    """A file's bytes, its hash, and what was done to them."""
    if between is not None and n_bytes > LARGE_BYTES and encoding in ("", "utf-8"):
        from feelcheck.formats._condensed import condense

        condensed = condense(path, between)
        if condensed is not None:
            return condensed.data, condensed.sha256, (condensed.remark,)
    _check_size(path, max_bytes)
    data = path.read_bytes()
    return data, hashlib.sha256(data).hexdigest(), ()


def read_head(path: Path | str) -> DecodedText:
    """Return the text of a file's first 64 KiB, cut at the last whole line; refuses what `read_text` refuses.

    Meant for a reader's decision whether a file is its own.
    """
    path = Path(path)
    n_bytes = _check_size(path, None)
    encoding = _text_encoding(path, n_bytes)
    with path.open("rb") as stream:
        data = stream.read(HEAD_BYTES)
    text, encoding, doubt = _decode(data, encoding, path, partial=n_bytes > HEAD_BYTES)
    text, remarks = _clean(text)
    if n_bytes > HEAD_BYTES and "\n" in text:
        text = text[: text.rindex("\n") + 1]
    return DecodedText(text=text, encoding=encoding, sha256="", n_bytes=n_bytes, remarks=(*doubt, *remarks))


@contextmanager
def naming(file: str) -> Iterator[None]:
    """Name the file in what is wrong inside."""
    try:
        yield
    except FormatError as problem:
        if "file" in problem.facts:
            raise
        raise FormatError(problem.sentence, {"file": file, **problem.facts}, problem.next_step) from problem


def refuse_document(path: Path) -> None:
    """Refuse a document, such as a specimen's record, where a table of samples or reports is read.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    FormatError
        If its ending is that of a document.
    """
    if path.suffix.lower() == ".toml":
        raise _refusal(
            path,
            "A .toml file is a record, a script or cursor readings, and this one holds no samples or reports.",
            {},
            "Name the recording or the capture itself; a record is shown by: feelcheck profile show",
        )


def _refusal(path: Path, sentence: str, facts: dict[str, object], next_step: str = "") -> FormatError:
    return FormatError(sentence, {"file": path.name, **facts}, next_step or "Export it as delimited text (CSV) first.")


def _check_size(path: Path, max_bytes: int | None) -> int:
    if path.is_dir():
        if (path / HEADER_FILE).is_file():
            raise FormatError(
                "This is a session, recorded in the hand; a scope capture is a file.",
                {"session": path},
                f"Measure it with: feelcheck analyze {path}",
            )
        raise _refusal(path, "A file is needed here, not a folder.", {}, "Name the file itself.")
    try:
        n_bytes = path.stat().st_size
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise _refusal(
            path, "The file cannot be opened.", {"reason": reason}, "Check the path and its permissions."
        ) from problem
    if not path.is_file():
        raise _refusal(path, "A regular file is needed here.", {}, "Name a file of delimited text.")
    if n_bytes == 0:
        raise _refusal(path, "The file is empty.", {}, "Export it again.")
    if max_bytes is not None and n_bytes > max_bytes:
        facts: dict[str, object] = {"bytes": n_bytes, "allowed": max_bytes}
        raise _refusal(path, "The file is too big to be read in one piece.", facts, "Cut it to the part of interest.")
    return n_bytes


def _text_encoding(path: Path, n_bytes: int) -> str:
    """Return the encoding that the head shows ("" where only the whole file can tell); refuse what is no text."""
    try:
        with path.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
            samples = [head]
            for k in range(1, N_SAMPLES + 1):
                # A multiple of four bytes cuts no character of UTF-16 or UTF-32.
                start = (n_bytes * k // (N_SAMPLES + 1)) // 4 * 4
                if start > HEAD_BYTES:
                    stream.seek(start)
                    samples.append(stream.read(SAMPLE_BYTES))
    except OSError as problem:
        raise _refusal(path, "The file cannot be read.", {"reason": problem.strerror}, "Check it.") from problem
    encoding = _wide_encoding(head)
    for magic, kind in _CONTAINERS:
        # A text may begin with the letters BM, GIF8 or BZh; a picture holds more than letters.
        if head.startswith(magic) and (b"\0" in head or kind != "a picture" or not head.isascii()):
            raise _refusal(path, "A log or capture must be delimited text.", {"got": kind})
    if encoding not in ("", "utf-8"):
        return encoding
    for sample in samples:
        if not sample.strip(b"\0"):
            raise _refusal(path, "A log or capture must be text.", {"got": "zeros"})
        n_control = len(sample) - len(sample.translate(None, _CONTROL))
        if n_control + sample.rstrip(b"\0").count(0) > CONTROL_SHARE * len(sample) + 2:
            raise _refusal(path, "A log or capture must be text.", {"got": "binary data"})
    return encoding


def _wide_encoding(head: bytes) -> str:
    for bom, encoding in _BOMS:
        if head.startswith(bom):
            return encoding
    n_pairs = len(head) // 2
    if n_pairs < 2:
        return ""
    share_even = head[0 : 2 * n_pairs : 2].count(0) / n_pairs
    share_odd = head[1 : 2 * n_pairs : 2].count(0) / n_pairs
    if share_odd > 0.7 and share_even < 0.05:
        return "utf-16-le"
    if share_even > 0.7 and share_odd < 0.05:
        return "utf-16-be"
    return ""


def _decode(data: bytes, encoding: str, path: Path, *, partial: bool = False) -> tuple[str, str, tuple[str, ...]]:
    """Return the text, its encoding and a remark where its names may be misread."""
    if encoding.startswith(("utf-16", "utf-32")):
        text = data.decode(encoding, errors="replace").removeprefix("\ufeff")
        if text.count("\ufffd") > CONTROL_SHARE * len(text) + 2:
            raise _refusal(path, "A log or capture must be text.", {"got": f"damaged {encoding}"})
        return text, encoding, ()
    data = data.removeprefix(codecs.BOM_UTF8)
    try:
        if partial:
            return codecs.getincrementaldecoder("utf-8")().decode(data), "utf-8", ()
        return data.decode("utf-8"), "utf-8", ()
    except UnicodeDecodeError:
        from feelcheck.formats._encodings import decoded_by_words  # names and words, for the few files that need them

        return decoded_by_words(data[: data.rfind(b"\n") + 1] if partial else data)


_AS_TEXT = re.compile(r'(?<![^,;\t\n])="([^"\n]*)"(?=[,;\t\n]|$)')
_BROKEN_CELL = re.compile(r'(?<![^,;\t\n])"([^"\n]{0,60}(?:\n[^"\n]{0,60}){1,3})"(?=[,;\t\n])')


def _clean(text: str) -> tuple[str, tuple[str, ...]]:
    remarks = []
    if "\r" in text:
        text = re.sub("\r\r\n", "\n", text) if "\r\r\n" in text else text
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if "\0" in text:
        remarks.append(f"{text.count(chr(0))} NUL characters were dropped")
        text = text.replace("\0", "")
    if any(blank in text for blank in "\xa0\u202f\u2009"):
        text = _GROUPING_BLANK.sub("", text)
    for odd, plain in _LOOKALIKES:
        if odd in text:
            text = text.replace(odd, plain)
    if '="' in text[:HEADING_CHARACTERS]:  # a cell that a spreadsheet is to keep as it is written
        text = _AS_TEXT.sub(r"\1", text)
    if '"' in text[:HEADING_CHARACTERS]:  # a line end inside a quoted heading is a blank
        head = _BROKEN_CELL.sub(lambda cell: " ".join(cell[0].split()), text[:HEADING_CHARACTERS])
        text = head + text[HEADING_CHARACTERS:]
    return text, tuple(remarks)
