"""Which channel drives and which one answers: from names and units, and a guess from shape that is only told."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal

import numpy as np

from feelcheck.model.bench import Channel
from feelcheck.model.stream import FloatArray

__all__ = ["Role", "guess_drive", "roles_by_name"]

_MOST_SAMPLES = 50_000
Role = Literal["drive", "output", "other", ""]

_DRIVE = re.compile(
    r"coil|field|feld|current|strom|drive|stimul|excit|command|\bgate\b|generator|\bgen\b|shunt|magnet|reference|\bref\b"
    r"|input|eingang|\bv_?in\b|\bi(?:_\w+)?\b|\bpwm\b|source\b|\bstep\b"
)
_OUTPUT = re.compile(
    r"out(?:put|put\w*)?\b|_out|ausgang|sensor|response|antwort|\bhall\b|wiper|\bpot\b|\bdut\b|signal|stick|axis|\bv_?o\b|\badc\b"
)
_OTHER = re.compile(r"temp|supply|\bvdd\b|\bvcc\b|trigger|\btrig\b|battery|humid|\bmath\b|digital|^d\d+$|event|marker")


def roles_by_name(channels: Sequence[tuple[str, str]]) -> list[Role]:
    """Return the role of each channel, given as (name, unit); empty where names and units do not tell.

    Notes
    -----
    A unit of current or field means the drive. Where one of two channels is known, the other has the other role; a
    single channel is the output.
    """
    roles = [_role(name, unit) for name, unit in channels]
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


def _role(name: str, unit: str) -> Role:
    bare = name.lower()
    if unit in ("A", "mT"):
        return "drive"
    if _OTHER.search(bare):
        return "other"
    drive, output = bool(_DRIVE.search(bare)), bool(_OUTPUT.search(bare))
    if drive == output:
        return ""
    return "drive" if drive else "output"


def guess_drive(t_s: FloatArray, channels: Sequence[Channel]) -> str:
    """Return a sentence on which of two channels looks like the drive by its shape; empty if it cannot be told.

    Notes
    -----
    The drive moves first: the instants at which both channels pass half their range are compared, edge by edge, and
    the share of samples between 10 and 90 % says which one is faster. A guess only; roles never come from here.
    """
    if len(channels) != 2:
        return ""
    stride = max(1, t_s.size // _MOST_SAMPLES)
    t_s = t_s[::stride]
    levels = [_normalised(channel.values[::stride]) for channel in channels]
    if any(level is None for level in levels):
        return ""
    busy = [float(np.mean((level > 0.1) & (level < 0.9))) for level in levels if level is not None]
    first = [_first_crossing(t_s, level) for level in levels if level is not None]
    if busy[0] == busy[1] or first[0] is None or first[1] is None:
        return ""
    faster, leading = int(np.argmin(busy)), int(np.argmin(np.array(first)))
    if faster != leading:
        return ""
    return f"{channels[faster].name} moves first and faster, so it looks like the drive (a guess, not used)"


def _normalised(values: FloatArray) -> FloatArray | None:
    finite = values[np.isfinite(values)]
    if finite.size < 10:
        return None
    low, high = np.percentile(finite, [2, 98])
    if not high > low:
        return None
    return np.asarray((values - low) / (high - low), dtype=np.float64)


def _first_crossing(t_s: FloatArray, level: FloatArray) -> float | None:
    above = level > 0.5
    places = np.flatnonzero(above[1:] != above[:-1])
    return float(t_s[places[0]]) if places.size else None
