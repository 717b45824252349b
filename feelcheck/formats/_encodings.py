"""In which of the older encodings a text's headings are written: the one in which they say most that is known here."""

from __future__ import annotations

import re
from functools import cache

from feelcheck.formats._names import find_unit, name_words
from feelcheck.formats._words import WORDS, folded
from feelcheck.formats.numbers import ENCODED_LINES, HEAD_BYTES

__all__ = ["decoded_by_words"]

ENCODINGS = ("cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp932", "gb18030", "cp949", "big5", "euc_jp", "koi8_r")
"""What instruments and spreadsheets write beside UTF-8, the most usual one first (common practice, no source)."""
ODD = re.compile("[^\x00-\xa0°±²³µ·×÷]{3,}|[\x80-\x9f]")
"""Three letters in a row that are no ASCII, as in a script that was misread, or a control character."""

_WORD = re.compile(r"[^\W\d_]+")


def decoded_by_words(data: bytes) -> tuple[str, str, tuple[str, ...]]:
    """Return text that is no UTF-8, its encoding, and a remark where its names may be misread.

    Notes
    -----
    Frequencies of letters, by which encodings are usually told, mean nothing in a few words of heading. Instead each
    encoding has its say in how many letters stand in words and units that are known here (`WORDS`); where none has,
    the text is Windows-1252, or Latin-1 for the five codes that are undefined there.

    Examples
    --------
    >>> decoded_by_words("時間(ms),コイル電流(A)".encode("shift_jis"))[:2]
    ('時間(ms),コイル電流(A)', 'cp932')
    >>> decoded_by_words("Durée (µs);Intensité (A)".encode("cp1252"))[1]
    'cp1252'
    """
    lines = data[:HEAD_BYTES].split(b"\n")
    lines = lines[:-1] if len(data) > HEAD_BYTES else lines
    sample = b"\n".join([line for line in lines if not line.isascii()][:ENCODED_LINES])
    known = {encoding: _n_known(sample, encoding) for encoding in ENCODINGS}
    told = [encoding for encoding in sorted(ENCODINGS, key=lambda name: -known[name]) if known[encoding] > 0]
    for encoding in (*told, ENCODINGS[0]):
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        return text, encoding, _doubt(text, encoding, known[encoding])
    text = data.decode("latin-1")
    return text, "latin-1", _doubt(text, "latin-1", 0)


def _doubt(text: str, encoding: str, n_known: int) -> tuple[str, ...]:
    if n_known or not ODD.search(text):
        return ()
    return (
        f"the text is no UTF-8 and was read as {encoding}, which may misread its names: a column goes by its place, too"
        " (--drive '#1')",
    )


def _n_known(sample: bytes, encoding: str) -> int:
    """Letters beyond ASCII in words and units that are known, if the sample is written in that encoding; -1 if not."""
    try:
        text = sample.decode(encoding)
    except UnicodeDecodeError:
        return -1
    words = {word for whole in set(_WORD.findall(text)) for word in _known_words(whole)}
    return sum(sum(not letter.isascii() for letter in word) for word in words)


def _known_words(whole: str) -> list[str]:
    if len(whole) > 1 and (find_unit(whole) or folded(whole) in _known()):
        return [whole]
    return [word for word in name_words(whole) if word in _known()]


@cache
def _known() -> frozenset[str]:
    return frozenset(word for row in WORDS for word in row.words.split() if len(word) > 1)
