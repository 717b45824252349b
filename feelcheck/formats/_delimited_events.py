"""A long log (time, axis name, value: one event a row) told from a wide one, and sorted by axis."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from feelcheck.formats._delimited_axes import button_states
from feelcheck.formats._names import read_name
from feelcheck.formats.numbers import MOST_NAMES

__all__ = ["LongLog", "find_long", "sort_by_axis"]

_NAME_WORDS = frozenset(["axis", "axes", "name", "code", "channel", "control", "element", "input", "event", "ev", "id"])
_VALUE_WORDS = frozenset(["value", "val", "raw", "position", "pos", "reading", "state", "data"])
_KIND_WORDS = frozenset(["kind", "type", "class"])
_NO_AXIS_KINDS = ("but", "btn", "key", "syn", "cue", "gap", "note", "plug", "hat", "msc")
_HEAD = 5000
_KERNEL_KINDS = {0: "syn", 1: "key", 2: "rel", 3: "abs", 4: "msc", 5: "switch"}
"""Numbers of kinds of events, as the Linux kernel gives them (``linux/input-event-codes.h``)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LongLog:
    """Columns of a long log.

    Parameters
    ----------
    name, value : str
        Column that names the axis of a row, and the one that holds its value.
    kind : str
        Column that says axis or button; may be empty.
    """

    name: str
    value: str
    kind: str = ""


def find_long(columns: Mapping[str, NDArray[Any]], used: frozenset[str]) -> LongLog | None:
    """Return which columns make a log long, or None for a wide one.

    Notes
    -----
    A long log has one column of values (named so, or the only other number) and one that names the axis: text, or a
    small whole number in a column named ``axis``, ``code``, ``channel``, ..., with at most 64 distinct entries. Where
    the two names do not say so, the entries must keep changing from row to row.
    """
    rest = [name for name in columns if name not in used]
    values = [name for name in rest if set(read_name(name).words) & _VALUE_WORDS and columns[name].dtype.kind in "iuf"]
    labels = [name for name in rest if name not in values and _NAME_WORDS.issuperset(read_name(name).words or ("-",))]
    labels += [name for name in rest if name not in labels and columns[name].dtype.kind not in "iuf"]
    numbers = [name for name in rest if columns[name].dtype.kind in "iuf" and name not in labels]
    numbers = [name for name in numbers if read_name(name).role != "other"]
    if not values and len(numbers) == 1:
        values = numbers
    kinds = [name for name in rest if set(read_name(name).words) & _KIND_WORDS and _few_distinct(columns[name])]
    labels = [name for name in labels if name not in kinds and _few_distinct(columns[name]) and _filled(columns[name])]
    if len(values) != 1 or not labels:
        return None
    # of several texts the one with most different words names the axis; of equals the first
    name, value = max(reversed(labels), key=lambda label: len(set(columns[label][:_HEAD].tolist()))), values[0]
    kinds += [label for label in labels if label != name and columns[label].dtype.kind not in "iuf"]
    # without words for it, rows of several axes in turn show a long log
    said = bool(set(read_name(value).words) & _VALUE_WORDS) + bool(set(read_name(name).words) & _NAME_WORDS)
    if said < 2 and _changes(columns[name]) < (0.2, 0.02)[said] * min(columns[name].size, _HEAD):
        return None
    return LongLog(name=name, value=value, kind=kinds[0] if kinds else "")


def _filled(cells: NDArray[Any]) -> bool:
    """Tell names, which rows have, from remarks in some rows: of those the usual one is none."""
    ((usual, _),) = Counter(cells[:_HEAD].tolist()).most_common(1)
    return str(usual) != ""


def _few_distinct(cells: NDArray[Any]) -> bool:
    if cells.dtype.kind == "f" or (cells.dtype.kind in "iu" and (int(cells.min()) < 0 or int(cells.max()) > 1023)):
        return False
    return 1 <= len(set(cells[:_HEAD].tolist())) <= MOST_NAMES


def _changes(cells: NDArray[Any]) -> int:
    head = cells[:_HEAD]
    return int(np.count_nonzero(head[1:] != head[:-1]))


def sort_by_axis(
    columns: Mapping[str, NDArray[Any]], long: LongLog
) -> tuple[dict[str, NDArray[np.intp]], dict[str, NDArray[np.intp]]]:
    """Return the rows of each axis and of each button, in order of first appearance."""
    labels = columns[long.name]
    if not labels.size:
        return {}, {}
    prefix = f"{long.name}_" if labels.dtype.kind in "iu" else ""
    kinds = _kinds(columns[long.kind]) if long.kind else np.zeros(labels.size, dtype=np.int64)
    codes, _ = pd.factorize(2 * pd.factorize(labels)[0] + _tell_no_axis(kinds))
    rows = np.split(np.argsort(codes, kind="stable"), np.cumsum(np.bincount(codes))[:-1])
    axes: dict[str, NDArray[np.intp]] = {}
    buttons: dict[str, NDArray[np.intp]] = {}
    for own in rows:
        name = prefix + str(labels[own[0]]).strip()
        kind = str(kinds[own[0]]).lower() if long.kind else ""
        if _is_button(name, kind, columns[long.value][own]):
            buttons[name] = own
        elif not any(word in kind for word in _NO_AXIS_KINDS):
            axes[name] = own
    return axes, buttons


def _kinds(cells: NDArray[Any]) -> NDArray[Any]:
    """Return the kinds of rows in words; those of the kernel's numbers where these are such."""
    if cells.dtype.kind not in "iu" or not set(cells[:_HEAD].tolist()) <= set(_KERNEL_KINDS):
        return cells
    words = np.array([_KERNEL_KINDS.get(number, "") for number in range(int(cells.max()) + 1)], object)
    return np.asarray(words[cells])


def _tell_no_axis(kinds: NDArray[Any]) -> NDArray[np.int64]:
    """Return 1 for each row whose kind says that it is no axis: its name may be an axis' too."""
    codes, distinct = pd.factorize(kinds)
    none = [any(word in str(kind).lower() for word in _NO_AXIS_KINDS) for kind in distinct]
    return np.array([*none, False], dtype=np.int64)[codes]


def _is_button(name: str, kind: str, values: NDArray[Any]) -> bool:
    said = any(word in text for text in (kind, name.lower()) for word in ("but", "btn", "key"))
    return (said or not kind) and button_states(values) is not None and (said or bool(np.ptp(values)))
