"""What a specimen's record says, as tables of the page: what it is, the parts found, the timeline."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePath

from feelcheck.model import Part, Profile
from feelcheck.model.labels import AS_FOUND
from feelcheck.renderers.profile_text import PART_HEADER, STEP_HEADER, part_cells, step_cells
from feelcheck.renderers.report.tables import Cell, Table, plain_table

__all__ = ["TABLES", "parts_table", "record_table", "timeline_table"]


def record_table(profiles: tuple[Profile, ...]) -> Table:
    """Return what every specimen is, a row each; photos by the names of their files.

    Parameters
    ----------
    profiles : tuple of Profile
        Records of specimens.
    """
    rows = [
        (
            profile.specimen,
            profile.pad,
            profile.stick,
            profile.sensor.kind or profile.kind,
            profile.sensor.marking,
            "" if profile.sensor.supply_v is None else f"{profile.sensor.supply_v:g} V",
            ", ".join(
                f"{axis} {'as the volts' if sign > 0 else 'against the volts'}" for axis, sign in _polarity(profile)
            ),
            ", ".join(PurePath(photo).name for photo in profile.photos) or "none",
            profile.notes,
        )
        for profile in profiles
        if profile.path
    ]
    header = ("specimen", "pad", "stick", "kind", "marking", "supply", "code rises", "photos", "notes")
    return plain_table("The specimens", header, rows)


def _polarity(profile: Profile) -> Iterable[tuple[str, int]]:
    return profile.polarity.items()


def parts_table(profiles: tuple[Profile, ...]) -> Table:
    """Return the parts found on every board, a row each.

    Parameters
    ----------
    profiles : tuple of Profile
        Records of specimens.
    """
    rows = [(profile.specimen, *_part(part)) for profile in profiles for part in profile.parts]
    return plain_table("Parts found on the boards", ("specimen", *PART_HEADER), rows)


def _part(part: Part) -> tuple[Cell | str, ...]:
    place, role, value, within, *known = part_cells(part)
    return (place, role, Cell(text=value, sort=part.value), within.replace("+-", "± "), *known)


def timeline_table(profiles: tuple[Profile, ...]) -> Table:
    """Return every step of every timeline with what was recorded in that state.

    Parameters
    ----------
    profiles : tuple of Profile
        Records of specimens.
    """
    rows = [
        row
        for profile in profiles
        if profile.path
        for row in [
            (profile.specimen, AS_FOUND, "", "", "", _recorded(profile, AS_FOUND)),
            *((profile.specimen, *step_cells(state), _recorded(profile, state.name)) for state in profile.states),
        ]
    ]
    return plain_table("The timeline of states", ("specimen", *STEP_HEADER, "recorded in it"), rows)


def _recorded(profile: Profile, state: str) -> str:
    n_hand = sum(record.state == state for record in profile.hand)
    n_bench = sum(record.state == state for record in profile.bench)
    words = [f"{n_bench} on the bench"] if n_bench else []
    words += [f"{n_hand} in the hand"] if n_hand else []
    return ", ".join(words) or "nothing"


TABLES = (record_table, parts_table, timeline_table)
