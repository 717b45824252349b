"""Rows of several devices or axes in one table: one device is taken, a long log (one event a row) sorted by axis."""

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
from feelcheck.formats._words import words_of
from feelcheck.formats.numbers import DEVICE_TURNS, FEW_TURNS, LARGEST_CODE, MOST_DEVICES, MOST_NAMES, NAME_ROWS, TURNS

__all__ = ["LongLog", "find_long", "one_device", "sort_by_axis"]

_NAME_WORDS = frozenset(["axis", "axes", "name", "code", "channel", "control", "element", "input", "event", "ev", "id"])
_VALUE_WORDS = frozenset(["value", "val", "raw", "position", "pos", "reading", "state", "data"])
_KIND_WORDS = frozenset(["kind", "type", "class"])
_NO_AXIS_KINDS = ("but", "btn", "key", "syn", "cue", "gap", "note", "plug", "hat", "msc")
_KERNEL_KINDS = {0: "syn", 1: "key", 2: "rel", 3: "abs", 4: "msc", 5: "switch"}
"""Numbers of kinds of events, as the Linux kernel gives them (``linux/input-event-codes.h``)."""

Columns = Mapping[str, NDArray[Any]]


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


def find_long(columns: Columns, used: frozenset[str]) -> LongLog | None:
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
    name, value = max(reversed(labels), key=lambda label: len(set(columns[label][:NAME_ROWS].tolist()))), values[0]
    kinds += [label for label in labels if label != name and columns[label].dtype.kind not in "iuf"]
    # without words for it, rows of several axes in turn show a long log
    said = bool(set(read_name(value).words) & _VALUE_WORDS) + bool(set(read_name(name).words) & _NAME_WORDS)
    if said < 2 and _changes(columns[name]) < (TURNS, FEW_TURNS)[said] * min(columns[name].size, NAME_ROWS):
        return None
    return LongLog(name=name, value=value, kind=kinds[0] if kinds else "")


def _filled(cells: NDArray[Any]) -> bool:
    """Tell names, which rows have, from remarks in some rows: of those the usual one is none."""
    ((usual, _),) = Counter(cells[:NAME_ROWS].tolist()).most_common(1)
    return str(usual) != ""


def _few_distinct(cells: NDArray[Any]) -> bool:
    if cells.dtype.kind == "f" or (
        cells.dtype.kind in "iu" and (int(cells.min()) < 0 or int(cells.max()) > LARGEST_CODE)
    ):
        return False
    return 1 <= len(set(cells[:NAME_ROWS].tolist())) <= MOST_NAMES


def _changes(cells: NDArray[Any]) -> int:
    head = cells[:NAME_ROWS]
    return int(np.count_nonzero(head[1:] != head[:-1]))


def sort_by_axis(columns: Columns, long: LongLog) -> tuple[dict[str, NDArray[np.intp]], dict[str, NDArray[np.intp]]]:
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
    if cells.dtype.kind not in "iu" or not set(cells[:NAME_ROWS].tolist()) <= set(_KERNEL_KINDS):
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


def one_device(columns: Columns, axes: tuple[str, ...]) -> tuple[dict[str, NDArray[Any]], tuple[str, ...]]:
    """Return the rows of one device under names that say which, and a remark; all rows where there is only one.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (n_rows,)
        The table.
    axes : tuple of str
        The axes that the user named: ``DEVICE.COLUMN`` chooses a device. Else it is the one with the most rows, the
        first of equals.

    Notes
    -----
    A column tells the device where its name says so, it holds few different entries and they keep taking turns. Clocks
    of different devices are never mixed, so only one is read.

    Examples
    --------
    >>> rows = {"t_s": np.arange(60) / 60, "device": np.arange(60) % 2, "x": np.arange(60) ** 2}
    >>> kept, remarks = one_device(rows, ("1.x",))
    >>> list(kept), kept["1.x"].size
    (['t_s', '1.x'], 30)
    """
    found = next((name for name, cells in columns.items() if _tells_device(name, cells)), None)
    if found is None:
        return dict(columns), ()
    counts = Counter(columns[found].tolist())
    stated = [label for label in counts if any(axis.startswith(f"{label}.") for axis in axes)]
    chosen = (stated or [max(counts, key=lambda label: counts[label])])[0]
    own = np.flatnonzero(columns[found] == chosen)
    kept = _under_its_name({name: cells[own] for name, cells in columns.items() if name != found}, str(chosen))
    others = [str(label) for label in counts if label != chosen]
    said = f"column '{found}' tells {len(counts)} devices apart: '{chosen}' was read, not {', '.join(others)}"
    return kept, (f"{said} (another one: --axes {others[0]}.NAME,{others[0]}.NAME)",)


def _tells_device(name: str, cells: NDArray[Any]) -> bool:
    if not set(read_name(name).words) & words_of("device") or cells.dtype.kind == "f":
        return False
    counts = Counter(cells.tolist())
    if not 2 <= len(counts) <= MOST_DEVICES:
        return False
    return int(np.count_nonzero(cells[1:] != cells[:-1])) >= DEVICE_TURNS * cells.size


def _under_its_name(columns: Columns, device: str) -> dict[str, NDArray[Any]]:
    """Return the columns with the device in the names of axes and buttons, or of a long log's events."""
    long = find_long(columns, frozenset(name for name in columns if read_name(name).role in ("time", "counter")))
    if long is not None:
        events = np.array([f"{device}.{label}" for label in columns[long.name].tolist()], object)
        return {**columns, long.name: events}
    roles = {name: read_name(name).role for name in columns}
    return {
        name if roles[name] in ("time", "counter", "other") else f"{device}.{name}": columns[name] for name in roles
    }
