"""Which channel drives and which ones answer: from names and units, and from moving alike."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal

import numpy as np

from feelcheck.formats._names import name_words
from feelcheck.formats._words import words_of
from feelcheck.formats.numbers import ALIKE, ALIKE_SAMPLES
from feelcheck.model.bench import Channel
from feelcheck.model.stream import FloatArray

__all__ = ["Role", "are_alike", "role_by_name", "roles_by_name", "settled_roles"]

Role = Literal["drive", "output", "other", ""]

_DRIVE = re.compile(
    r"coil|field|feld|current|strom|drive|stimul|excit|command|\bgate\b|generator|\bgen\b|shunt|magnet|reference|\bref\b"
    r"|input|eingang|\bv_?in\b|\bi(?:_\w+)?\b|\bpwm\b|\bdac\b|source\b|\bstep\b"
)
_OUTPUT = re.compile(
    r"out(?:put|put\w*)?\b|_out|ausgang|sensor|response|antwort|\bhall\b|wiper|\bpot\b|\bdut\b|signal|stick|axis|\bv_?o\b|\badc\b"
)
_DIGITAL = re.compile(r"^d\d+$")
_ASIDE = ("derived", "surroundings", "label")


def roles_by_name(channels: Sequence[tuple[str, str]]) -> list[Role]:
    """Return the role of each channel, given as (name, unit); empty where names and units do not tell.

    Notes
    -----
    A unit of current or field means the drive; what was asked for is the drive only where nothing else is. Where one of
    two channels is known, the other has the other role; a single channel is the output.
    """
    roles = [role_by_name(name, unit) for name, unit in channels]
    asked = [k for k, (name, _) in enumerate(channels) if _is_asked(name, roles[k])]
    for k in asked:
        roles[k] = "other"
    if len(asked) == 1 and "drive" not in roles and roles.count("other") < len(channels):
        roles[asked[0]] = "drive"
    for role in ("drive", "output"):
        if roles.count(role) > 1:
            roles = ["" if r == role else r for r in roles]
    open_places = [k for k, role in enumerate(roles) if role == ""]
    if len(open_places) == 1:
        if "output" not in roles:
            roles[open_places[0]] = "output"
        elif "drive" not in roles and len(channels) == 2:
            roles[open_places[0]] = "drive"
    return roles


def _is_asked(name: str, role: Role) -> bool:
    """Whether a column is a set-point: by a word for it, or "set" beside one that tells a drive."""
    words = set(name_words(name))
    return bool(words & words_of("setpoint")) or (role == "drive" and "set" in words)


def settled_roles(channels: Sequence[Channel], roles: Sequence[Role]) -> tuple[list[Role], str]:
    """Return the roles with the open ones told from what the columns have in common, and a remark.

    Notes
    -----
    Behind a known drive every column that names and units leave open is an output. Without one, open columns that move
    alike are outputs too (nothing tells a drive from an answer then); unlike ones stay open, and the bench takes the
    one that moves first and fastest for the drive.
    """
    roles = list(roles)
    places = [k for k, role in enumerate(roles) if role == "" and np.ptp(_finite(channels[k].values)) > 0]
    if not places:
        return roles, ""
    names = ", ".join(channels[k].name for k in places)
    if "drive" in roles:
        for k in places:
            roles[k] = "output"
        outputs = [channel.name for channel, role in zip(channels, roles, strict=True) if role == "output"]
        said = f"columns {', '.join(outputs)} answer the drive: the first is on top (another with --output)"
        return roles, said if len(outputs) > 1 else ""
    if "output" in roles or len(places) < 2:
        return roles, ""
    if all(are_alike(channels[places[0]].values, channels[k].values) for k in places[1:]):
        for k in places:
            roles[k] = "output"
        said = f"columns {names} move alike and no name tells a drive: each is an output"
        return roles, f"{said}, the first is on top (name a drive with --drive)"
    said = f"no name or unit of {names} tells drive from output: the one that moves first and fastest is taken for"
    return roles, f"{said} the drive (say otherwise with --drive and --output)"


def are_alike(first: FloatArray, second: FloatArray) -> bool:
    """Return whether two columns, shape (n,), go through the same transitions, either way up.

    Examples
    --------
    >>> edge = np.clip(np.arange(100) / 10 - 4, 0, 1)
    >>> are_alike(edge, 5 - 2 * edge), are_alike(edge, np.roll(edge, 7))
    (True, False)
    """
    stride = max(1, first.size // ALIKE_SAMPLES)
    one, other = _normalised(first[::stride]), _normalised(second[::stride])
    if one is None or other is None:
        return False
    if np.nanmean((one - 0.5) * (other - 0.5)) < 0:
        other = 1 - other
    moving = ((one > 0.1) & (one < 0.9)) | ((other > 0.1) & (other < 0.9))
    judged = moving if np.count_nonzero(moving) > 4 else np.ones(one.size, dtype=bool)
    apart = np.abs(one - other)[judged]
    return bool(np.nanquantile(apart, 0.8) < ALIKE)


def _finite(values: FloatArray) -> FloatArray:
    return values[np.isfinite(values)]


def role_by_name(name: str, unit: str) -> Role:
    """Return the role that a channel's own name and unit tell; empty where they tell none, or both."""
    bare = name.lower()
    words = set(name_words(name))
    counts = len(bare) > 1 and words <= words_of("counter")
    if words & words_of(*_ASIDE) or counts or _DIGITAL.match(bare):
        return "other"
    if unit in ("A", "mT"):
        return "drive"
    drive = bool(_DRIVE.search(bare) or words & words_of("driving"))
    output = bool(_OUTPUT.search(bare) or words & words_of("answering"))
    if drive == output:
        return ""
    return "drive" if drive else "output"


def _normalised(values: FloatArray) -> FloatArray | None:
    finite = values[np.isfinite(values)]
    if finite.size < 10:
        return None
    low, high = np.percentile(finite, [2, 98])
    if not high > low:
        return None
    return np.asarray((values - low) / (high - low), dtype=np.float64)
