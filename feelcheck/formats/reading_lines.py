"""Cursor readings in plain words: ``rise 10-90 = 9.1 ms``, ``falling t10 = 0.5 ms, t90 = 10.8 ms, error = 0.1 ms``."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from feelcheck.errors import FormatError
from feelcheck.formats._names import find_unit
from feelcheck.model.readings import TypedEdge, TypedReadings
from feelcheck.model.recording import Provenance

__all__ = ["EXAMPLE", "are_reading_lines", "parse_readings", "time_in_words"]

EXAMPLE = "rise 10-90 = 9.1 ms, error = 0.1 ms, drive rise = 2.0 ms"
NEXT = f'Write it like "{EXAMPLE}" or "falling t10 = 0.5 ms, t50 = 3.7 ms, t90 = 10.8 ms, error = 0.1 ms".'

MOST_LINES, LONGEST_LINE = 200, 200
"""More than anybody types of cursor readings; longer texts are tables."""

_NUMBER = r"\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?"
_UNIT = r"(?:[munµμ]?s(?:ec)?)\b"
_STATEMENT = re.compile(
    rf"(?P<name>[^=:;\n]*?)\s*[=:]\s*(?P<value>-?{_NUMBER})\s*(?P<unit>{_UNIT})?"
    rf"(?:\s*(?:±|\+/?-)\s*(?P<error>{_NUMBER})\s*(?P<error_unit>{_UNIT})?)?\s*(?:[,;\n]|$|(?=\s))"
)
_SPAN = re.compile(r"10\s*%?\s*(?:-|–|to|\.\.|/)\s*90\s*%?|(?:rise|fall)[ _-]?time|transition|duration|\bt_?[rf]\b")
_INSTANT = re.compile(r"(?:\bt_?|\b)(10|50|90)\s*%?\s*$")
_RISING, _FALLING = re.compile(r"\bris|\bup\b|\bt_?r\b"), re.compile(r"\bfall|\bdown\b|\bt_?f\b")
_EDGE_ALONE = re.compile(r"(?:the )?(?:rise|rising|fall|falling|up|down)(?: edge| flank)?")
_DRIVE, _ERROR = re.compile(r"drive|coil|field|current|stimulus"), re.compile(r"error|uncertain|resolution|\boff\b")
_RISE_WORDS = re.compile(r"\bris|ramp|\bfall|10\s*%?\s*(?:-|–|to)\s*90|transition|time\b|slew")


@dataclass(slots=True)
class _Edge:
    """One edge while it is being said, s."""

    direction: Literal["rising", "falling"]
    values: dict[str, float] = field(default_factory=dict)
    error_s: float | None = None


def are_reading_lines(text: str) -> bool:
    """Tell whether a text is readings in words: every line that says something names an edge, an instant or an error.

    Parameters
    ----------
    text : str
        The text of a file, or what was typed.

    Examples
    --------
    >>> are_reading_lines("rise 10-90 = 9.1 ms"), are_reading_lines("scale = 3 ms"), are_reading_lines("1,2,3")
    (True, False, False)
    """
    lines = [line.strip() for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if not lines or len(lines) > MOST_LINES or not all(_may_be_reading(line) for line in lines):
        return False
    said = [line for line in lines if "=" in line or ":" in line]
    return any(_STATEMENT.search(line) for line in said) and all(_kind(name) for line in said for name in _names(line))


def _may_be_reading(line: str) -> bool:
    """Whether a line is short and holds a statement, or an edge alone: no pattern is run over the rows of a table."""
    if len(line) > LONGEST_LINE:
        return False
    return "=" in line or ":" in line or _EDGE_ALONE.fullmatch(line.lower()) is not None


def _names(line: str) -> list[str]:
    found = [match["name"].strip(" ,").lower() for match in _STATEMENT.finditer(line)]
    return found or [line.lower().strip(" :")]


def _kind(name: str) -> str:
    """What a name stands for; empty if for nothing known."""
    if _DRIVE.search(name):
        return "drive_rise" if _RISE_WORDS.search(name) else "drive"
    if _ERROR.search(name):
        return "error"
    if _SPAN.search(name):
        return "span"
    instant = _INSTANT.search(name)
    if instant:
        return f"t{instant[1]}"
    return "span" if _EDGE_ALONE.fullmatch(name) else ""


def parse_readings(lines: str | Sequence[str], *, name: str = "typed in") -> TypedReadings:
    """Return the edges that a few lines of words tell of.

    Parameters
    ----------
    lines : str or sequence of str
        Statements ``name = number unit``, separated by commas, semicolons or line ends. A name holds a direction
        (``rise``, ``falling``), what was read (``10-90``, ``t10``, ``50 %``), ``error``, ``drive`` (the instant at
        which the drive is half-way) or ``drive rise`` (its own 10-90 %). ``± 0.1 ms`` behind a value is its error.
    name : str
        What the readings are called.

    Returns
    -------
    TypedReadings
        Times in seconds. A duration alone stands as an edge that begins at 0, read with two cursors.

    Raises
    ------
    FormatError
        If a statement is not understood, a unit or the reading error is missing, or an edge has too little.

    Examples
    --------
    >>> found = parse_readings("rise 10-90 = 9.1 ms, error = 0.1 ms, drive rise = 2.0 ms")
    >>> found.edges[0].direction, found.edges[0].t90_s, found.drive_transition_s
    ('rising', 0.0091, 0.002)
    """
    text = lines if isinstance(lines, str) else "\n".join(lines)
    typed = text.splitlines()
    if len(typed) > MOST_LINES or any(len(line) > LONGEST_LINE for line in typed):
        facts = {"allowed": f"{MOST_LINES} lines of {LONGEST_LINE} characters"}
        raise FormatError("Readings are a few short lines.", {"got": _short(text), **facts}, NEXT)
    edges, error_s, drive_s = _said(text)
    if not edges:
        raise FormatError("Readings tell of at least one edge.", {"got": _short(text)}, NEXT)
    digest = hashlib.sha256(text.encode()).hexdigest()
    return TypedReadings(
        edges=tuple(_typed(edge, error_s) for edge in edges),
        provenance=Provenance(path=name, format="readings", sha256=digest),
        drive_transition_s=drive_s,
    )


def _said(text: str) -> tuple[list[_Edge], float | None, float | None]:
    """The edges in order, the error that holds for all, and the drive's own rise."""
    edges: list[_Edge] = []
    error_s, drive_s = None, None
    direction: Literal["rising", "falling"] | None = None
    for line in re.split(r"[\n;]", text):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        statements = list(_STATEMENT.finditer(line))
        # A line without an equals sign is a heading: it names the direction of those that follow.
        direction = _direction(line) or direction if not statements else direction
        if not statements and _direction(line) is None:
            raise FormatError("A reading is a name, an equals sign, a number and a unit.", {"got": _short(line)}, NEXT)
        for match in statements:
            label = match["name"].strip(" ,").lower()
            kind, value = _kind(label), _seconds(match["value"], match["unit"], match[0])
            own = None if match["error"] is None else _seconds(
                match["error"], match["error_unit"] or match["unit"], match[0]
            )  # fmt: skip
            if kind in ("drive_rise", "span") and not value > 0:
                raise FormatError("A transition takes longer than no time.", {"got": _short(match[0])}, NEXT)
            if kind == "drive_rise":
                drive_s = value
                continue
            direction = _direction(label) or direction
            if kind == "error":
                error_s, edges = _with_error(edges, error_s, value)
                continue
            if not kind or direction is None:
                raise FormatError("A reading names its edge and what was read.", {"got": _short(match[0])}, NEXT)
            # What was read of this edge already belongs to the next one.
            if not edges or edges[-1].direction != direction or kind in edges[-1].values:
                edges.append(_Edge(direction=direction))
            edges[-1].values[kind] = value
            edges[-1].error_s = own if own is not None else edges[-1].error_s
    return edges, error_s, drive_s


def _with_error(edges: list[_Edge], error_s: float | None, value: float) -> tuple[float | None, list[_Edge]]:
    """An error said behind an edge is that edge's; the first one holds for the others too."""
    if edges and edges[-1].error_s is None:
        edges[-1].error_s = value
    return value if error_s is None else error_s, edges


def _direction(words: str) -> Literal["rising", "falling"] | None:
    lower = words.lower()
    if _DRIVE.search(lower):
        return None
    return "rising" if _RISING.search(lower) else "falling" if _FALLING.search(lower) else None


def _seconds(number: str, unit: str | None, said: str, like: str = NEXT) -> float:
    known = find_unit(unit or "")
    value = float(number.replace(",", "."))
    if known is None or known.kind != "time":
        raise FormatError("A reading needs a unit of time.", {"got": _short(said), "allowed": "s, ms, us, ns"}, like)
    if not abs(value * known.factor) < 1e6:
        raise FormatError("A reading is a time that a scope can show.", {"got": _short(said)}, like)
    return value * known.factor


def time_in_words(text: str) -> float:
    """Return a time with its unit, such as ``2.5ms``, in seconds.

    Parameters
    ----------
    text : str
        A number and a unit.

    Raises
    ------
    FormatError
        If it is no positive time with a unit.
    """
    match = re.fullmatch(rf"\s*({_NUMBER})\s*({_UNIT})?\s*", text)
    like = "Write it like 2.5ms."
    value = _seconds(match[1], match[2], text, like) if match else 0.0
    if not value > 0:
        raise FormatError("A time is a positive number with its unit.", {"got": _short(text)}, like)
    return value


def _typed(edge: _Edge, shared_error_s: float | None) -> TypedEdge:
    error_s = edge.error_s if edge.error_s is not None else shared_error_s
    values = edge.values
    if error_s is None or not error_s > 0:
        facts = {"edge": edge.direction, "got": error_s if error_s is not None else "no error"}
        raise FormatError("Readings need their reading error: how far a cursor can be off, either way.", facts, NEXT)
    if "span" in values and not values.keys() & {"t10", "t90"}:
        return TypedEdge(direction=edge.direction, t10_s=0.0, t90_s=values["span"], time_error_s=error_s)
    instants = [values[name] for name in ("t10", "t50", "t90") if name in values]
    facts = {"edge": edge.direction, "got": ", ".join(f"{name} {1e3 * t:g} ms" for name, t in values.items())}
    if instants != sorted(set(instants)):
        raise FormatError("The instants of an edge must rise: t10, t50, t90.", facts, NEXT)
    if len(instants) < 2 and not (instants and "drive" in values):
        raise FormatError("An edge needs two of t10, t50, t90, its 10-90 %, or one of them and the drive.", facts, NEXT)
    return TypedEdge(
        direction=edge.direction,
        t10_s=values.get("t10"),
        t50_s=values.get("t50"),
        t90_s=values.get("t90"),
        drive_s=values.get("drive"),
        time_error_s=error_s,
    )


def _short(text: str) -> str:
    bare = " ".join(text.split())
    return bare if len(bare) <= 80 else f"{bare[:77]}..."
