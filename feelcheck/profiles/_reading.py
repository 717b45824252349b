"""From a TOML file to a specimen's record: every key known, every value of its kind."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import MISSING, Field, fields, replace
from functools import cache, lru_cache
from pathlib import Path
from types import UnionType
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

import tomlkit
from tomlkit.exceptions import TOMLKitError

from feelcheck.errors import FormatError, ProfileError
from feelcheck.inputs import file_text, toml_document
from feelcheck.model import (
    BenchRecord,
    Caveat,
    Condition,
    Estimate,
    HandRecord,
    Part,
    Profile,
    RehearsalRecord,
    SensorFound,
    StateRecord,
    Status,
)
from feelcheck.numerics.si_values import component_value, parse_si

__all__ = ["PROFILE_VERSION", "document_of", "profile_in", "read_profile"]

PROFILE_VERSION = 1
Table = Mapping[str, Any]
T = TypeVar("T")


def _no_such_record(file: Path) -> ProfileError:
    """The refusal, with the record that was probably meant."""
    known = {other.stem: other for folder in (file.parent, Path("profiles")) for other in sorted(folder.glob("*.toml"))}
    near = difflib.get_close_matches(file.stem, known, n=1)
    facts = {"file": file} | ({"nearest known": known[near[0]]} if near else {})
    meant = f"If {known[near[0]]} is meant, name it so; else make one with" if near else "Make one with"
    return ProfileError("There is no such record.", facts, f"{meant}: feelcheck profile new {file.stem}")


def read_profile(path: Path | str) -> Profile:
    """Read a specimen's record.

    Parameters
    ----------
    path : path-like
        The record's file.

    Raises
    ------
    ProfileError
        If the file is missing, is no TOML, holds an unknown key or a value of the wrong kind, or is of a newer
        version than this program knows.
    """
    file = Path(path)
    return profile_in(_text(file), file)


@lru_cache(maxsize=8)
def profile_in(text: str, file: Path) -> Profile:
    """Return the record that a text describes, before it is written into a file; the last few are kept.

    Raises
    ------
    ProfileError
        If the text is no record.
    """
    return _profile_from(_upgraded(toml_document(text, file, error=ProfileError), file), file)


def document_of(file: Path) -> tomlkit.TOMLDocument:
    """Return the TOML document as it stands, comments and all (slower than `read_profile`: for editing)."""
    try:
        return tomlkit.parse(_text(file))
    except (TOMLKitError, ValueError, RecursionError) as error:
        raise ProfileError("A record is a TOML file.", {"file": file, "got": error}, "Mend the line named.") from error


def _text(file: Path) -> str:
    if not file.is_file():
        raise _no_such_record(file)
    return file_text(file, error=ProfileError)


def _upgraded(document: Table, file: Path) -> dict[str, Any]:
    """Return the plain content at the present version; version 0 had `name` in place of `specimen`."""
    content: dict[str, Any] = dict(document)
    version = content.get("version", 0)
    if not isinstance(version, int) or version > PROFILE_VERSION:
        facts = {"file": file, "got": version, "allowed": f"up to {PROFILE_VERSION}"}
        raise ProfileError("The record is of a version this program does not know.", facts, "Update feelcheck.")
    if version < 1 and "name" in content:
        content["specimen"] = content.pop("name")
    content["version"] = PROFILE_VERSION
    return content


def _profile_from(content: Table, file: Path) -> Profile:
    where = str(file)
    readers: dict[str, Callable[[Any], Any]] = {
        "sensor": lambda table: _record(SensorFound, table, where, "sensor"),
        "polarity": lambda table: _polarity(table, where),
        "parts": lambda rows: tuple(_part_from(row, where) for row in _rows(rows, where, "parts")),
        "states": lambda rows: tuple(
            _record(StateRecord, row, where, "states") for row in _rows(rows, where, "states")
        ),
        "bench": lambda rows: tuple(_bench_from(row, where) for row in _rows(rows, where, "bench")),
        "hand": lambda rows: tuple(_hand_from(row, where) for row in _rows(rows, where, "hand")),
        "rehearsals": lambda rows: tuple(_rehearsal_from(row, where) for row in _rows(rows, where, "rehearsals")),
        "photos": lambda rows: tuple(rows) if isinstance(rows, list) else rows,
        "feel": lambda table: _estimates(table, where, "feel"),
    }
    return replace(_record(Profile, content, where, "", readers), path=where)


def _record(
    kind: type[T], table: Any, where: str, section: str, readers: Mapping[str, Callable[[Any], Any]] | None = None
) -> T:
    """Build a dataclass from a TOML table: unknown and missing keys are refused by name."""
    _table(table, where, section)
    known: dict[str, Field[Any]] = {field.name: field for field in fields(kind) if field.name != "path" or section}  # type: ignore[arg-type]
    _refuse_unknown(table, known, where, section)
    required = [name for name, field in known.items() if field.default is MISSING and field.default_factory is MISSING]
    for name in required:
        if name not in table:
            raise ProfileError("A key is missing.", {"file": where, "section": section or "top", "key": name})
    converted = {key: (readers or {}).get(key, lambda value: value)(value) for key, value in table.items()}
    hints = _hints(kind)  # type: ignore[arg-type]
    for key, value in converted.items():
        if not _fits(value, hints[key]):
            facts = {"file": where, "section": section or "top", "key": key, "got": repr(value)}
            words = get_args(hints[key]) if get_origin(hints[key]) is Literal else (known[key].type,)
            raise ProfileError("A value is of the wrong kind.", {**facts, "allowed": ", ".join(map(str, words))})
        _check_range(key, value, {"file": where, "section": section, "key": key, "got": value})
    return kind(**converted)


def _table(table: Any, where: str, section: str) -> Table:
    if not isinstance(table, Mapping):
        raise ProfileError("A section of a record is a table.", {"file": where, "section": section, "got": table})
    return table


def _rows(rows: Any, where: str, section: str) -> Sequence[Any]:
    if not isinstance(rows, list):
        facts = {"file": where, "section": section, "got": rows}
        raise ProfileError("Entries that may be several are a list.", facts, f"Begin each with [[{section}]].")
    return rows


_hints = cache(get_type_hints)


def _fits(value: Any, hint: Any) -> bool:
    """Whether a value is of a field's kind; a whole number passes for a number, a truth value does not."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Literal:
        return value in inner
    if origin is UnionType:
        return any(_fits(value, one) for one in inner)
    if origin is tuple:
        return isinstance(value, tuple) and all(_fits(one, inner[0]) for one in value)
    if origin is Mapping:
        return isinstance(value, Mapping) and all(_fits(one, inner[1]) for one in value.values())
    # To Python a truth value is a whole number; in a record it is none.
    if isinstance(value, bool):
        return hint is bool
    return isinstance(value, int | float if hint is float else hint)


_BELOW = {"supply_v": math.inf, "source_ohm": math.inf, "sink_ohm": math.inf, "sink_a": math.inf}
_BELOW |= {"value": math.inf, "rated_v": math.inf, "tolerance_fraction": 1.0}


def _check_range(key: str, value: Any, facts: dict[str, Any]) -> None:
    if facts["section"] in ("parts", "sensor") and key in _BELOW and value is not None and not 0 <= value < _BELOW[key]:
        raise ProfileError("A part's numbers are not negative, a tolerance is below 1.", facts, "Correct the number.")


def _polarity(table: Any, where: str) -> Table:
    for axis, sign in _table(table, where, "polarity").items():
        if sign not in (1, -1):
            facts = {"file": where, "axis": axis, "got": sign}
            raise ProfileError("A polarity is 1 or -1.", facts, "Write 1 if the code rises with the volts, else -1.")
    return table  # type: ignore[no-any-return]


def _refuse_unknown(table: Table, known: Iterable[str], where: str, section: str) -> None:
    names = list(known)
    for key in table:
        if key not in names:
            near = difflib.get_close_matches(key, names, n=1)
            facts = {"file": where, "section": section or "top", "got": key}
            facts |= {"nearest known": near[0]} if near else {"known": ", ".join(names)}
            raise ProfileError("A record holds known keys only.", facts, "Correct the key, or put it under notes.")


def _part_from(row: Any, where: str) -> Part:
    def value_of(text: Any) -> float:
        try:
            return float(text) if isinstance(text, int | float) and text else parse_si(str(text))
        except ValueError as error:
            raise ProfileError("A part needs a value such as 4.7k or 560n.", {"file": where, "got": text}) from error

    part = _record(Part, row, where, "parts", {"value": value_of})
    if part.role != "other" and (part.unit == "F") != part.role.endswith("capacitor"):
        facts = {"file": where, "position": part.position, "role": part.role, "got": part.unit}
        raise ProfileError("A capacitor is in F, every other part in ohm.", facts, "Correct the unit or the role.")
    try:
        component_value(str(row["value"]), part.unit)
    except FormatError as error:
        met = {"file": where, "position": part.position, **error.facts}
        raise ProfileError(error.sentence, met, error.next_step) from None
    return part


def _bench_from(row: Any, where: str) -> BenchRecord:
    readers: dict[str, Callable[[Any], Any]] = {
        "directions": lambda table: {
            key: _estimates(value, where, "bench") for key, value in _table(table, where, "bench").items()
        },
        "overall": lambda table: _estimates(table, where, "bench"),
        "caveats": lambda rows: tuple(
            _record(Caveat, row, where, "bench.caveats") for row in _rows(rows, where, "bench.caveats")
        ),
    }
    return _record(BenchRecord, row, where, "bench", readers)


def _rehearsal_from(row: Any, where: str) -> RehearsalRecord:
    readers: dict[str, Callable[[Any], Any]] = {
        "estimates": lambda table: _estimates(table, where, "rehearsals"),
        "specimens": lambda rows: tuple(rows) if isinstance(rows, list) else rows,
        "intervals": lambda table: {
            key: tuple(ends) if isinstance(ends, list) else ends
            for key, ends in _table(table, where, "rehearsals").items()
        },
    }
    return _record(RehearsalRecord, row, where, "rehearsals", readers)


def _hand_from(row: Any, where: str) -> HandRecord:
    def axes_of(table: Table) -> Mapping[str, Any]:
        return {
            axis: {
                ("" if key == "both" else key): _estimates(value, where, f"hand.{axis}")
                for key, value in _table(groups, where, f"hand.{axis}").items()
            }
            for axis, groups in _table(table, where, "hand.axes").items()
        }

    readers: dict[str, Callable[[Any], Any]] = {
        "axes": axes_of,
        "release": lambda table: _estimates(table, where, "hand.release"),
        "condition": lambda table: _record(Condition, table, where, "hand.condition"),
        "report_interval": lambda table: _estimate(table, "report_interval", where, "hand"),
    }
    return _record(HandRecord, row, where, "hand", readers)


def _estimates(table: Any, where: str, section: str) -> Mapping[str, Estimate]:
    return {key: _estimate(value, key, where, section) for key, value in _table(table, where, section).items()}


def _estimate(table: Any, quantity: str, where: str, section: str) -> Estimate:
    def status_of(text: Any) -> Status:
        try:
            return Status(text)
        except ValueError as error:
            raise ProfileError("A status is one of five words.", {"file": where, "got": text}) from error

    def caveats_of(rows: Sequence[Any]) -> tuple[Caveat, ...]:
        return tuple(_record(Caveat, row, where, f"{section}.caveats") for row in _rows(rows, where, section))

    whole = {"quantity": quantity, **table} if isinstance(table, Mapping) else table
    if isinstance(table, Mapping) and table.get("unit") in ("ms", "us", "ns"):
        facts = {"file": where, "section": section, "key": quantity, "got": table["unit"]}
        raise ProfileError("A record keeps times in seconds.", facts, "Write the value and its u in s.")
    try:
        return _record(Estimate, whole, where, f"{section}.{quantity}", {"status": status_of, "caveats": caveats_of})
    except ProfileError:
        raise
    except ValueError as error:
        raise ProfileError(
            "An estimate contradicts itself.", {"file": where, "section": section, "got": error}
        ) from error
