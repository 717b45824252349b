"""What programs print of raw input, as rows: listings of kernel events, and bytes in hexadecimal digits."""

from __future__ import annotations

import re

from feelcheck.counted import counted
from feelcheck.formats.numbers import DUMP_LINES, FEW_DUMPED, NEARLY_ALL

__all__ = ["event_rows", "plain_bytes"]

_EVENT = re.compile(
    r"^[^\d\n]{0,40}?(?P<t>\d+\.\d+)\b[^\n]{0,60}?\bEV_(?P<kind>ABS|KEY)\b[^\n]{0,40}?\b(?P<name>(?:ABS|BTN|KEY)_\w+)\b"
    r"[^\n]{0,20}?\s(?P<value>-?\d+|[0-9a-f]{8}|UP|DOWN)\s*$"
)
_NODE = re.compile(r"\b(event\d+)\b")
_KNOWN = re.compile(r"\bEV_(?:SYN|MSC|REL|FF|LED|REP|SND)\b|\bSYN_(?:REPORT|DROPPED)\b")
# What stands behind another mark than the bytes' own belongs to a number: 0,15;2d;69.
_BYTES = re.compile(
    r"(?:^|(?<=[ \t])|(?<=,)(?=..,)|(?<=;)(?=..;))"
    r"[0-9A-Fa-f]{2}([ ,;\t])[0-9A-Fa-f]{2}(?:\1[0-9A-Fa-f]{2})+(?=\s|\1|$)",
    re.M,
)
_BOTH = re.compile(r"\b(?:\d[A-Fa-f]|[A-Fa-f]\d)\b")
_WORDS = {"UP": "0", "DOWN": "1"}


def event_rows(text: str) -> tuple[str, tuple[str, ...]] | None:
    r"""Return a listing of kernel events as rows of time, kind, control and value, and remarks; None for another text.

    Notes
    -----
    A line states its time with decimals, ``EV_ABS`` or ``EV_KEY``, the control's name and last its value, as a decimal
    number or eight hexadecimal digits in two's complement (names and values: linux/input-event-codes.h and
    linux/input.h). Lines of other kinds, and what stands above the first, are passed over. Where several devices are
    listed, each control is named with its own.

    Examples
    --------
    >>> line = "time {}, type 3 (EV_ABS), code 0 (ABS_X), value {}"
    >>> event_rows("\n".join(line.format(0.5 + k, 7 * k) for k in range(3)))[0]
    'time_s;kind;control;value\n0.5;ABS;ABS_X;0\n1.5;ABS;ABS_X;7\n2.5;ABS;ABS_X;14\n'
    """
    if "EV_ABS" not in text:
        return None
    lines = text.split("\n")
    middle = [line for line in lines[-DUMP_LINES - 1 :] if line.strip()]
    found = [_EVENT.match(line) for line in middle]
    other = sum(match is None and bool(_KNOWN.search(line)) for match, line in zip(found, middle, strict=True))
    n_events = sum(match is not None for match in found)
    if n_events < FEW_DUMPED or n_events + other < NEARLY_ALL * len(middle):
        return None
    rows = [match for line in lines if (match := _EVENT.match(line))]
    nodes = [_node(row[0]) for row in rows]
    several = len(set(nodes)) > 1
    written = (
        f"{row['t']};{row['kind']};{node + ' ' if several else ''}{row['name']};{_decimal(row['value'])}\n"
        for row, node in zip(rows, nodes, strict=True)
    )
    dropped = text.count("SYN_DROPPED")
    lost = (f"{counted(dropped, 'time')} the kernel dropped events: reports are missing there",) if dropped else ()
    return "time_s;kind;control;value\n" + "".join(written), ("a listing of kernel events was read as rows", *lost)


def _node(line: str) -> str:
    found = _NODE.search(line)
    return found[1] if found else ""


def _decimal(value: str) -> str:
    if value in _WORDS:
        return _WORDS[value]
    if len(value) != 8 or value.startswith("-"):
        return value
    number = int(value, 16)
    return str(number - (number >> 31 << 32))


def plain_bytes(text: str) -> str | None:
    r"""Return the text with runs of bytes in two hexadecimal digits as decimal numbers, or None where there are none.

    Notes
    -----
    Nearly all rows must hold a run of three or more bytes, all runs of one length, and some of them letters beside
    digits: where only decimal digits are seen they are taken for decimal numbers.

    Examples
    --------
    >>> plain_bytes("0.1 01 7f 80\n0.2 01 80 80\n0.3 01 8a 80\n0.4 01 9c 80\n")
    '0.1 1 127 128\n0.2 1 128 128\n0.3 1 138 128\n0.4 1 156 128\n'
    """
    # The last line of a sample may be cut.
    sample = text[: 256 * DUMP_LINES].split("\n")[:DUMP_LINES][:-1]
    lines = [line for line in sample if line.strip()]
    runs = [run for line in lines if (run := _BYTES.search(line))]
    mixed = sum(bool(_BOTH.search(run[0])) for run in runs)
    if mixed < FEW_DUMPED or len(runs) < NEARLY_ALL * len(lines) or len({len(run[0]) for run in runs[1:]}) > 1:
        return None
    rows = text.split("\n")
    first = next(k for k, row in enumerate(rows) if _BYTES.search(row))
    if not _begins_as(rows[first], lines[-1]):  # names
        first += 1
    return "\n".join([*rows[:first], _BYTES.sub(_plain, "\n".join(rows[first:]))])


def _plain(run: re.Match[str]) -> str:
    return re.sub(r"[0-9A-Fa-f]{2}", lambda byte: str(int(byte[0], 16)), run[0])


def _begins_as(line: str, other: str) -> bool:
    """Whether two lines begin alike: with a number, or with a word."""
    return line.lstrip()[:1].isdigit() == other.lstrip()[:1].isdigit()
