"""Rows of several devices in one table: those of one of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.formats._delimited_events import find_long
from feelcheck.formats._names import read_name
from feelcheck.formats._words import words_of
from feelcheck.formats.numbers import DEVICE_TURNS, MOST_DEVICES

__all__ = ["one_device"]

Columns = Mapping[str, NDArray[Any]]


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
