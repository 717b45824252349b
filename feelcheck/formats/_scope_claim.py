"""How much a table looks like a scope capture rather than a log of stick axes."""

from __future__ import annotations

import re

from feelcheck.formats._names import find_unit, is_time_name
from feelcheck.formats._scope_settings import stated_interval
from feelcheck.formats._table import Table

__all__ = ["claim_share"]

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


def claim_share(table: Table) -> float:
    """Return from 0 (a log of axes) to 1 (a capture) by column names, units and settings."""
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
