"""From a TOML file to a specimen's record: every key known, every value of its kind."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import MISSING, Field, fields, replace
from pathlib import Path
from typing import Any, TypeVar

import tomlkit
from tomlkit.exceptions import TOMLKitError

from feelcheck.errors import ProfileError
from feelcheck.model import (
    BenchRecord,
    Caveat,
    Condition,
    Estimate,
    HandRecord,
    Part,
    Profile,
    SensorFound,
    StateRecord,
    Status,
)
from feelcheck.numerics.si_values import parse_si

__all__ = ["PROFILE_VERSION", "document_of", "read_profile"]

PROFILE_VERSION = 1
Table = Mapping[str, Any]
T = TypeVar("T")
D = TypeVar("D")


def read_profile(path: Path | str) -> Profile:
    """Read a specimen's record.

    Raises
    ------
    ProfileError
        If the file is missing, is no TOML, holds an unknown key or a value of the wrong kind, or is of a newer
        version than this program knows.
    """
    file = Path(path)
    return _profile_from(_upgraded(_parsed(file, tomllib.loads), file), file)


def document_of(file: Path) -> tomlkit.TOMLDocument:
    """Return the TOML document as it stands, comments and all (slower than `read_profile`: for editing)."""
    return _parsed(file, tomlkit.parse)


def _parsed(file: Path, parse: Callable[[str], D]) -> D:
    if not file.is_file():
        raise ProfileError("There is no such record.", {"file": file}, "Make one with: feelcheck profile new SPECIMEN")
    try:
        return parse(file.read_text(encoding="utf-8"))
    except (TOMLKitError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ProfileError("A record is a TOML file.", {"file": file, "got": error}, "Mend the line named.") from error


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
        "parts": lambda rows: tuple(_part_from(row, where) for row in rows),
        "states": lambda rows: tuple(_record(StateRecord, row, where, "states") for row in rows),
        "bench": lambda rows: tuple(_bench_from(row, where) for row in rows),
        "hand": lambda rows: tuple(_hand_from(row, where) for row in rows),
        "photos": tuple,
        "feel": lambda table: _estimates(table, where, "feel"),
    }
    return replace(_record(Profile, content, where, "", readers), path=where)


def _record(
    kind: type[T], table: Any, where: str, section: str, readers: Mapping[str, Callable[[Any], Any]] | None = None
) -> T:
    """Build a dataclass from a TOML table: unknown and missing keys are refused by name."""
    if not isinstance(table, Mapping):
        raise ProfileError("A section of a record is a table.", {"file": where, "section": section, "got": table})
    known: dict[str, Field[Any]] = {field.name: field for field in fields(kind) if field.name != "path" or section}  # type: ignore[arg-type]
    _refuse_unknown(table, known, where, section)
    required = [name for name, field in known.items() if field.default is MISSING and field.default_factory is MISSING]
    for name in required:
        if name not in table:
            raise ProfileError("A key is missing.", {"file": where, "section": section or "top", "key": name})
    converted = {key: (readers or {}).get(key, lambda value: value)(value) for key, value in table.items()}
    for key, value in converted.items():
        _check_kind(value, str(known[key].type), {"file": where, "section": section or "top", "key": key})
    return kind(**converted)


_KINDS: dict[str, tuple[type, ...]] = {"str": (str,), "int": (int,), "float": (int, float), "bool": (bool,)}


def _check_kind(value: Any, annotation: str, facts: dict[str, Any]) -> None:
    allowed = _KINDS.get(annotation.removesuffix(" | None"))
    if allowed and (not isinstance(value, allowed) or (isinstance(value, bool) and bool not in allowed)):
        raise ProfileError("A value is of the wrong kind.", {**facts, "got": repr(value), "allowed": annotation})


def _refuse_unknown(table: Table, known: Iterable[str], where: str, section: str) -> None:
    names = list(known)
    for key in table:
        if key not in names:
            near = difflib.get_close_matches(key, names, n=1, cutoff=0.0)
            facts = {"file": where, "section": section or "top", "got": key, "nearest known": near[0] if near else "-"}
            raise ProfileError("A record holds known keys only.", facts, "Correct the key, or put it under notes.")


def _part_from(row: Any, where: str) -> Part:
    def value_of(text: Any) -> float:
        try:
            return float(text) if isinstance(text, int | float) else parse_si(text)
        except ValueError as error:
            raise ProfileError("A part needs a value such as 4.7k or 560n.", {"file": where, "got": text}) from error

    return _record(Part, row, where, "parts", {"value": value_of})


def _bench_from(row: Any, where: str) -> BenchRecord:
    readers: dict[str, Callable[[Any], Any]] = {
        "directions": lambda table: {key: _estimates(value, where, "bench") for key, value in table.items()},
        "overall": lambda table: _estimates(table, where, "bench"),
        "caveats": lambda rows: tuple(_record(Caveat, caveat, where, "bench.caveats") for caveat in rows),
    }
    return _record(BenchRecord, row, where, "bench", readers)


def _hand_from(row: Any, where: str) -> HandRecord:
    def axes_of(table: Table) -> Mapping[str, Any]:
        return {
            axis: {("" if key == "both" else key): _estimates(value, where, f"hand.{axis}") for key, value in t.items()}
            for axis, t in table.items()
        }

    readers: dict[str, Callable[[Any], Any]] = {
        "axes": axes_of,
        "release": lambda table: _estimates(table, where, "hand.release"),
        "condition": lambda table: _record(Condition, table, where, "hand.condition"),
        "report_interval": lambda table: _estimate(table, "report_interval", where, "hand"),
    }
    return _record(HandRecord, row, where, "hand", readers)


def _estimates(table: Table, where: str, section: str) -> Mapping[str, Estimate]:
    return {key: _estimate(value, key, where, section) for key, value in table.items()}


def _estimate(table: Any, quantity: str, where: str, section: str) -> Estimate:
    def status_of(text: Any) -> Status:
        try:
            return Status(text)
        except ValueError as error:
            raise ProfileError("A status is one of five words.", {"file": where, "got": text}) from error

    def caveats_of(rows: Sequence[Any]) -> tuple[Caveat, ...]:
        return tuple(_record(Caveat, row, where, f"{section}.caveats") for row in rows)

    whole = {"quantity": quantity, **table} if isinstance(table, Mapping) else table
    try:
        return _record(Estimate, whole, where, f"{section}.{quantity}", {"status": status_of, "caveats": caveats_of})
    except ProfileError:
        raise
    except ValueError as error:
        raise ProfileError(
            "An estimate contradicts itself.", {"file": where, "section": section, "got": error}
        ) from error
