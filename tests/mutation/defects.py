"""The list of small defects, and how one is put into the code: by its words, however they are laid out in lines."""

from __future__ import annotations

import io
import tokenize
import tomllib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

HERE = Path(__file__).resolve().parent
PACKAGE = HERE.parents[1] / "feelcheck"
LAYOUT = {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT, tokenize.ENDMARKER}
KINDS = ("term of u", "threshold", "formula")


@dataclass(frozen=True, slots=True, kw_only=True)
class Defect:
    """A small defect: in a module or room, these words become those; the tests are to notice.

    `within` names the function that holds them, where they stand more than once. `known` says why a survivor may live.
    """

    id: str
    kind: str
    where: str
    before: str
    after: str
    tests: tuple[str, ...]
    within: str = ""
    known: str = ""

    @property
    def room(self) -> str:
        """The room of the package that the defect is in."""
        return self.where.partition("/")[0]


@dataclass(frozen=True, slots=True)
class Spoilt:
    """The module that holds a defect's words, and its text with the defect in."""

    path: Path
    text: str


@cache
def defects() -> tuple[Defect, ...]:
    """Return the whole list, in its order."""
    rows = tomllib.loads((HERE / "defects.toml").read_text(encoding="utf-8"))["defect"]
    return tuple(Defect(**{**row, "tests": tuple(f"tests/{path}" for path in row["tests"])}) for row in rows)


def words(text: str) -> list[tuple[str, int, int]]:
    """Return every word of a piece of code with where it begins and ends; a comma before a closing bracket is none."""
    starts = [0]
    for line in text.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    found = []
    with suppress(tokenize.TokenError):  # a piece may leave a bracket open
        for token in tokenize.generate_tokens(io.StringIO(text).readline):
            if token.type not in LAYOUT:
                begin, end = (starts[line - 1] + column for line, column in (token.start, token.end))
                found.append((token.string, begin, end))
    after = [*found[1:], ("", 0, 0)]
    return [
        word for word, then in zip(found, after, strict=True) if not (word[0] == "," and then[0] in {")", "]", "}"})
    ]


def places(defect: Defect, package: Path = PACKAGE) -> list[tuple[Path, int, int]]:
    """Return where the words of a defect stand: module, begin and end."""
    wanted = tuple(word for word, _, _ in words(defect.before))
    target = package / defect.where
    found = []
    for path in [target] if target.is_file() else sorted(target.rglob("*.py")):
        held, known = _words_of(path, path.stat().st_mtime_ns)
        if not known.issuperset(wanted):
            continue
        low, high = _function(held, defect.within) if defect.within else (0, len(held))
        for k in range(low, high - len(wanted) + 1):
            if held[k][0] == wanted[0] and tuple(word for word, _, _ in held[k : k + len(wanted)]) == wanted:
                found.append((path, held[k][1], held[k + len(wanted) - 1][2]))
    return found


@cache
def _words_of(path: Path, _changed: int) -> tuple[list[tuple[str, int, int]], frozenset[str]]:
    held = words(path.read_text(encoding="utf-8"))
    return held, frozenset(word for word, _, _ in held)


def _function(held: Sequence[tuple[str, int, int]], name: str) -> tuple[int, int]:
    """Return which words belong to a function: from its `def` to the next one."""
    begins = [k for k, word in enumerate(held) if word[0] == "def"]
    for k, following in zip(begins, [*begins[1:], len(held)], strict=True):
        if held[k + 1][0] == name:
            return k, following
    return 0, 0


def spoilt(defect: Defect, package: Path = PACKAGE) -> Spoilt:
    """Return the module with the defect in.

    Raises
    ------
    LookupError
        If the words do not stand there exactly once.
    """
    found = places(defect, package)
    if len(found) != 1:
        at = ", ".join(str(path.relative_to(package)) for path, _, _ in found) or "nowhere"
        raise LookupError(f"{defect.id}: its words stand {len(found)} times in {defect.where} ({at}), not once")
    path, begin, end = found[0]
    text = path.read_text(encoding="utf-8")
    return Spoilt(path, text[:begin] + defect.after + text[end:])
