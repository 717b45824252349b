"""What names, units and motion tell of columns: whether they are channels, which one drives, which ones answer."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal

import numpy as np

from feelcheck.formats._names import find_unit, is_time_name, name_words
from feelcheck.formats._scope_settings import stated_interval
from feelcheck.formats._table import Table
from feelcheck.formats._words import words_of
from feelcheck.formats.numbers import ALIKE, ALIKE_SAMPLES
from feelcheck.model.bench import Channel
from feelcheck.model.stream import FloatArray

__all__ = ["Role", "are_alike", "claim_share", "role_by_name", "roles_by_name", "settled_roles"]

Role = Literal["drive", "output", "other", ""]

_DRIVE = re.compile(
    r"coil|field|feld|current|strom|drive|stimul|excit|command|\bgate\b|generator|\bgen\b|shunt|magnet|reference|\bref\b"
    r"|input|eingang|\bv_?in\b|\bi(?:_\w+)?\b|\bpwm\b|\bdac\b|source\b|\bstep\b"
)
_OUTPUT = re.compile(
    r"out(?:put|put\w*)?\b|_out|ausgang|sensor|response|antwort|\bhall\b|wiper|\bpot\b|\bdut\b|signal|stick|axis|\bv_?o\b|\badc\b"
)
_DIGITAL = re.compile(r"^d\d+$")
_AXIS = re.compile(
    r"(?:(?:left|right|l|r|stick\w*|joy\w*|pad\w*|thumb\w*|axis|axes|abs|gamepad\w*)[ _.-]?)*"
    r"(?:[xyz]|r[xyz]|l[xyz]|h|v|\d+)(?:[ _.-]?(?:axis|raw|value|pos|code))?"
    r"|(?:axis|stick|joy|thumb|abs|throttle|rudder|roll|pitch|yaw|lt|rt|button)\w*"
    r"|(?:left|right)(?:stick|trigger)?[ _.-]?[xy]?|t_lo_ns|t_hi_ns|kind",
    re.I,
)
_AXIS_WORD = re.compile(r"(?:axes|axis|stick|joy|thumb|abs)(?:[\W_\d]|$)", re.I)
_SCOPE_WORD = re.compile(
    r"ch(?:annel)? ?_?[\dA-D]\b|volt|probe|coil|current|sensor|^c[1-8]$|^a\d$|trace|trigger|coupling|out\b|drive|field",
    re.I,
)
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


def claim_share(table: Table) -> float:
    """Return from 0 (a log of axes) to 1 (a capture) how sure names, units and settings make it."""
    names = [column.name for column in table.columns]
    kinds = {unit.kind for column in table.columns if (unit := find_unit(column.unit))}
    if kinds & {"voltage", "current", "field"}:
        return 0.95
    bare = [c.name.strip() for c in table.columns if find_unit(c.unit) is None and not c.name.isdigit()]
    axes = [name for name in bare if name and (not is_time_name(name) or name.lower() == "x")]
    # Exports of nested messages name a value by its whole way: message.axes.0.
    axes += [name.rpartition(".")[2] for name in axes if any(_AXIS_WORD.match(part) for part in name.split("."))]
    if any(_AXIS.fullmatch(name) for name in axes) or {"t_lo", "t_hi"} <= set(names):
        return 0.05
    words = " ".join([*names, *(setting.key for setting in table.settings)])
    if any(_SCOPE_WORD.search(name) for name in names):
        return 0.9
    if stated_interval(table.settings, table.n_rows) is not None or _SCOPE_WORD.search(words):
        return 0.85
    return 0.4 if len(table.columns) <= 5 else 0.2
