"""Ways to spoil a file: bytes, lines, numbers, names, nesting. Everything follows from the generator that is given."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

__all__ = ["MUTATIONS", "mutated"]

NUMBERS = [
    b"nan",
    b"inf",
    b"-inf",
    b"1e308",
    b"-1e308",
    b"1e400",
    b"1e-320",
    b"0",
    b"-0",
    b"-1",
    b"1e300",
    b"9" * 400,
    b"9" * 5000,
    b"18446744073709551616",
    b"9223372036854775807",
    b"-9223372036854775808",
    b"0x1F",
    b"1_000",
    b"1,5",
    b"--1",
    b"1e",
    b"",
    b"4k7",
    b"253402300800",
    b"1e18",
    b"4.7.3",
    "٣".encode(),
    b"1e99999999999",
]
TEXTS = [
    b"=cmd|' /C calc'!A0",
    b"\x1b[2J\x1b]0;x\x07",
    "\u202eredla\u2066".encode(),
    b"\0",
    b"'",
    b'"',
    b"a" * 3000,
    b"../../etc",
    b"</script><script>",
    b"{{ 7*7 }}",
    b"%s%n",
    "\U0001f600".encode(),
    b"\xff\xfe",
    b"# ",
    b"[[",
    b"]]",
    b"true",
    b"null",
]
RUNS = [b"1", b"a", b" ", b"[", b"(", b'"', b"'", b"\t", b".", b"-", b"_", b"1,", b"a1", b'["', b"array(", b":1"]
NUMBER = re.compile(rb"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
WORD = re.compile(rb"[A-Za-z_]{2,}")

Change = Callable[[bytes, random.Random], bytes]


def _bytes(data: bytes, by: random.Random) -> bytes:
    spoilt = bytearray(data)
    for _ in range(by.choice((1, 1, 2, 8, 40))):
        at = by.randrange(len(spoilt) + 1)
        kind = by.randrange(4)
        if kind == 0 and at < len(spoilt):
            spoilt[at] ^= 1 << by.randrange(8)
        elif kind == 1:
            spoilt[at:at] = by.randbytes(by.choice((1, 3, 20)))
        elif kind == 2:
            del spoilt[at : at + by.choice((1, 5, 200))]
        else:
            spoilt[at : at + 1] = bytes([by.choice(b'\0\n\r\t,;"=[]{}\xff\xef#')])
    return bytes(spoilt)


def _truncated(data: bytes, by: random.Random) -> bytes:
    return data[: by.randrange(len(data) + 1)]


def _lines(data: bytes, by: random.Random) -> bytes:
    lines = data.split(b"\n")
    a, b = sorted(by.randrange(len(lines) + 1) for _ in range(2))
    kind = by.randrange(6)
    if kind == 0:
        lines[a:b] = reversed(lines[a:b])
    elif kind == 1:
        by.shuffle(lines)
    elif kind == 2:
        lines[a:a] = lines[a:b]
    elif kind == 3:
        del lines[a:b]
    elif kind == 4:
        lines = lines[:1] + lines[a:b] * by.choice((1, 3))
    else:
        lines.insert(a, by.choice(TEXTS + NUMBERS))
    return b"\n".join(lines)


def _numbers(data: bytes, by: random.Random) -> bytes:
    share, odd = by.choice((0.002, 0.05, 1.0)), by.choice(NUMBERS)
    return NUMBER.sub(lambda found: odd if by.random() < share else found.group(), data)


def _one_number(data: bytes, by: random.Random) -> bytes:
    found = list(NUMBER.finditer(data[:20_000]))
    if not found:
        return data
    at = by.choice(found)
    return data[: at.start()] + by.choice(NUMBERS) + data[at.end() :]


def _one_word(data: bytes, by: random.Random) -> bytes:
    found = list(WORD.finditer(data[:20_000]))
    if not found:
        return data
    at, other = by.choice(found), by.choice(found)
    put = by.choice((by.choice(TEXTS), by.choice(NUMBERS), other.group(), b""))
    return data[: at.start()] + put + data[at.end() :]


def _columns(data: bytes, by: random.Random) -> bytes:
    separator = max((b",", b";", b"\t"), key=data.count)
    lines = [line.split(separator) for line in data.split(b"\n")]
    k = by.randrange(max(1, len(lines[len(lines) // 2])))
    kind = by.randrange(4)
    for line in lines:
        if k < len(line):
            if kind == 0:
                del line[k]
            elif kind == 1:
                line[k:k] = [line[k]] * by.choice((1, 2, 300))
            elif kind == 2:
                line[k] = line[0]
            else:
                line.reverse()
    return separator.join([b""]).join([b"\n".join(separator.join(line) for line in lines)])


def _nested(data: bytes, by: random.Random) -> bytes:
    depth = by.choice((5, 40, 2000, 50_000))
    left, right = by.choice(((b"[", b"]"), (b'{"a":', b"}"), (b"[[", b"]]")))
    deep = left * depth + b"1" + right * depth
    found = list(NUMBER.finditer(data[:20_000]))
    at = by.choice(found) if found else None
    return data + deep if at is None else data[: at.start()] + deep + data[at.end() :]


def _long_run(data: bytes, by: random.Random) -> bytes:
    """One text again and again at one place: what takes the square of its length shows."""
    unit = by.choice(
        (b"1", b"a", b" ", b"[", b"(", b'"', b"'", b"\t", b".", b"-", b"_", b"1,", b"a1", b'["', b"array(", b":1")
    )
    at = by.randrange(len(data) + 1)
    return data[:at] + unit * by.choice((300, 20_000)) + data[at:]


def _encoded(data: bytes, by: random.Random) -> bytes:
    text = data.decode("utf-8", "replace")
    encoding = by.choice(("utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "utf-8-sig"))
    return text.encode(encoding, "replace")


MUTATIONS: tuple[Change, ...] = (
    _bytes,
    _bytes,
    _truncated,
    _lines,
    _lines,
    _numbers,
    _one_number,
    _one_number,
    _one_word,
    _one_word,
    _columns,
    _nested,
    _long_run,
    _encoded,
)


def mutated(data: bytes, by: random.Random) -> bytes:
    """Return a file spoilt in one to four ways; now and then it stays sound, is empty, or is something else."""
    if by.random() < 0.02:
        return by.choice((data, b"", b"\0" * 300, by.randbytes(500), b"\n" * 50, b",,,\n" * 80))
    for _ in range(by.choice((1, 1, 2, 4))):
        data = by.choice(MUTATIONS)(data, by)[:200_000]
    return data
