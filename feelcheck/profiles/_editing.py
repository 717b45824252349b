"""Making a record and adding to it; comments and hand edits survive."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import tomlkit

from feelcheck.errors import ProfileError
from feelcheck.model import BenchRecord, HandRecord, Part, Profile, RehearsalRecord, StateRecord
from feelcheck.outputs import locked, new_file, replaced
from feelcheck.profiles._reading import document_of, profile_in, read_profile
from feelcheck.profiles._tables import (
    bench_table,
    hand_table,
    part_table,
    plain_fields,
    profile_table,
    rehearsal_table,
    toml_table,
)

__all__ = ["add_bench", "add_hand", "add_part", "add_rehearsal", "add_state", "note_polarity", "write_profile"]


def write_profile(profile: Profile, path: Path | str) -> None:
    """Write a new record; never over an existing file.

    Parameters
    ----------
    profile : Profile
        The record.
    path : path-like
        Its file.

    Raises
    ------
    ProfileError
        If the file exists.
    """
    file = Path(path)
    document = tomlkit.document()
    document.add(tomlkit.comment("One specimen's record. Edit by hand as you like: comments and order are kept."))
    for key, value in profile_table(profile).items():
        document[key] = value
    try:
        with new_file(file) as stream:
            stream.write(tomlkit.dumps(document).encode("utf-8"))
    except FileExistsError:
        raise ProfileError(
            "A new record never replaces a file.", {"file": file}, "Choose another specimen name."
        ) from None


def add_bench(path: Path | str, record: BenchRecord) -> Profile:
    """Append a bench result; the same capture for the same axis and state is refused.

    Parameters
    ----------
    path : path-like
        The record's file.
    record : BenchRecord
        What is added.

    Raises
    ------
    ProfileError
        If a result from a file with the same hash is there already, or the state is unknown.
    """
    with _editing(path) as (file, profile):
        _check_state(profile, record.state, file)
        same = [r for r in profile.bench if r.sha256 and r.sha256 == record.sha256 and r.axis == record.axis]
        if same:
            raise _twice("bench capture", same[0].path, file)
        return _append(file, "bench", bench_table(record))


def add_hand(path: Path | str, record: HandRecord) -> Profile:
    """Append a hand session; the same session twice is refused.

    Parameters
    ----------
    path : path-like
        The record's file.
    record : HandRecord
        What is added.

    Raises
    ------
    ProfileError
        If the session is there already (same hash, or same name without one), or the state is unknown.
    """
    with _editing(path) as (file, profile):
        _check_state(profile, record.state, file)
        for known in profile.hand:
            if known.sha256 == record.sha256 and (record.sha256 or known.session == record.session):
                raise _twice("hand session", known.session, file)
        return _append(file, "hand", hand_table(record))


def add_rehearsal(path: Path | str, record: RehearsalRecord) -> Profile:
    """Append a rehearsal; the same block twice is refused.

    Parameters
    ----------
    path : path-like
        The record's file.
    record : RehearsalRecord
        What is added.

    Raises
    ------
    ProfileError
        If a block with the same seal is there already.
    """
    with _editing(path) as (file, profile):
        if any(known.seal == record.seal for known in profile.rehearsals):
            raise _twice("rehearsal", f"{record.kind} of {record.date}", file)
        return _append(file, "rehearsals", rehearsal_table(record))


def add_part(path: Path | str, part: Part) -> Profile:
    """Append a part found on the board; a position is described once.

    Parameters
    ----------
    path : path-like
        The record's file.
    part : Part
        What is added.

    Raises
    ------
    ProfileError
        If a part of that position and axis is there already.
    """
    with _editing(path) as (file, profile):
        if any((p.position, p.axis) == (part.position, part.axis) for p in profile.parts):
            raise ProfileError(
                "A place on the board is described once.",
                {"file": file, "position": part.position},
                "Edit the record, or note the change as a state.",
            )
        return _append(file, "parts", part_table(part))


def add_state(path: Path | str, state: StateRecord) -> Profile:
    """Append a step of the specimen's timeline; names are unique and changes name parts that are there.

    Parameters
    ----------
    path : path-like
        The record's file.
    state : StateRecord
        What is added.

    Raises
    ------
    ProfileError
        If the name is taken, or a change names an unknown position.
    """
    with _editing(path) as (file, profile):
        if state.name in profile.state_names:
            raise ProfileError("A state has one name.", {"file": file, "state": state.name}, "Choose another name.")
        positions = {part.position for part in profile.parts}
        for position in state.changes:
            if position not in positions:
                raise ProfileError(
                    "A state changes parts that the record holds.",
                    {"file": file, "got": position, "allowed": ", ".join(sorted(positions)) or "none yet"},
                    "Note it first, with: feelcheck profile part",
                )
        return _append(file, "states", plain_fields(state, StateRecord))


def note_polarity(path: Path | str, axis: str, sign: int) -> Profile:
    """Note whether an axis' code rises with the volts (1) or against them (-1).

    Parameters
    ----------
    path : path-like
        The record's file.
    axis : str
        Name of the axis.
    sign : int
        1 or -1.

    Raises
    ------
    ProfileError
        If the sign is neither.
    """
    with _editing(path) as (file, _):
        document = document_of(file)
        signs = document.get("polarity", tomlkit.inline_table())
        signs[axis] = sign
        document["polarity"] = signs
        return _save(document, file)


@contextmanager
def _editing(path: Path | str) -> Iterator[tuple[Path, Profile]]:
    """Yield a record as it stands now; until the block ends nobody else changes it."""
    file = Path(path)
    read_profile(file)
    with locked(file):
        yield file, read_profile(file)


def _check_state(profile: Profile, state: str, file: Path) -> None:
    if state not in profile.state_names:
        facts = {"file": file, "got": state, "allowed": ", ".join(profile.state_names)}
        raise ProfileError(
            "A result belongs to a state of the timeline.",
            facts,
            f"Note it first: feelcheck profile state {file} {state}",
        )


def _twice(what: str, name: str, file: Path) -> ProfileError:
    return ProfileError(
        f"The same {what} counts once: a copy would look like agreement.",
        {"file": file, "already there": name},
        "Record again if you want a repeat.",
    )


def _append(file: Path, section: str, row: Mapping[str, Any]) -> Profile:
    document = document_of(file)
    if section not in document:
        document[section] = tomlkit.aot()
    document[section].append(toml_table(row))
    return _save(document, file)


def _save(document: tomlkit.TOMLDocument, file: Path) -> Profile:
    """Put a record in its place if it reads back as one; return it."""
    text = tomlkit.dumps(document)
    profile = profile_in(text, file)
    with replaced(file) as stream:
        stream.write(text.encode("utf-8"))
    return profile
