"""Which columns of a log are axes, which are buttons, and why the others are neither."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feelcheck.errors import FormatError
from feelcheck.formats._columns import find_column
from feelcheck.formats._delimited_options import LogOptions
from feelcheck.formats._names import read_name
from feelcheck.formats.numbers import MOST_AXES, NEARLY_ALL
from feelcheck.model import ButtonEvent, FloatArray

__all__ = [
    "MOST_AXES",
    "Roles",
    "as_codes",
    "assign_roles",
    "button_events",
    "button_states",
    "is_measured",
    "is_trigger",
]


_PRESSED = frozenset(["1", "true", "yes", "on", "down", "pressed", "press", "x"])
_RELEASED = frozenset(["0", "false", "no", "off", "up", "released", "release", "-"]) | {""}


@dataclass(frozen=True, slots=True, kw_only=True)
class Roles:
    """What each column of a log is.

    Parameters
    ----------
    axes, buttons : tuple of str
        Columns in the order of the file.
    ignored : dict of str to str
        Every other column and why.
    """

    axes: tuple[str, ...]
    buttons: tuple[str, ...]
    ignored: dict[str, str]


def is_trigger(name: str) -> bool:
    """Return whether a name says that the axis rests at an end."""
    return read_name(name).role == "trigger"


def is_measured(name: str) -> bool:
    """Return whether a name holds a unit of volts, amperes or a field in brackets, as an instrument writes it."""
    read = read_name(name)
    return read.is_bracketed and read.unit is not None and read.unit.kind in ("voltage", "current", "field")


def as_codes(values: NDArray[Any]) -> NDArray[Any]:
    """Return finite numbers, shape (n,), as int64 where all are whole and float64 elsewhere.

    Fractions that happen to be only -1, 0 and 1 stay whole: nothing finer was logged.
    """
    if values.dtype.kind in "iu":
        return values.astype(np.int64, copy=False)
    if values.size and abs(float(values[values.size // 2]) % 1.0) > 0.0:
        return values
    whole = bool(np.all(values % 1.0 == 0.0)) and bool(np.abs(values).max(initial=0.0) < 2**53)
    return values.astype(np.int64) if whole else values


def button_states(cells: NDArray[Any]) -> NDArray[np.int64] | None:
    """Return 0 or 1 for each cell, shape (n,), or None where the column is no button.

    A button holds only 0 and 1, or words such as ``true``, ``down``, ``released``.
    """
    if cells.dtype.kind in "iuf":
        filled = cells if cells.dtype.kind in "iu" else np.nan_to_num(cells, nan=0.0)
        return filled.astype(np.int64) if np.all((filled == 0) | (filled == 1)) else None
    if cells.dtype.kind == "b":
        return cells.astype(np.int64)
    words = {str(cell).strip().lower() for cell in cells[:: max(1, cells.size // 500)]}
    if not words <= _PRESSED | _RELEASED or not words & _PRESSED:
        return None
    return np.fromiter((str(cell).strip().lower() in _PRESSED for cell in cells), np.int64, cells.size)


def assign_roles(columns: Mapping[str, NDArray[Any]], used: frozenset[str], options: LogOptions) -> Roles:
    """Return which columns are axes and buttons.

    Parameters
    ----------
    columns : mapping of str to ndarray, shape (n_rows,)
        The table.
    used : frozenset of str
        Columns that tell the time.
    options : LogOptions
        `axes` overrides the choice of axes.

    Raises
    ------
    FormatError
        Where no column varies as an axis would, or too many do.
    """
    ignored: dict[str, str] = {}
    axes: list[str] = []
    buttons: list[str] = []
    names = list(columns)
    stated = tuple(names[find_column(names, name, "--axes")] for name in options.axes)
    for name, cells in columns.items():
        if name in stated:
            reason = _why_never_an_axis(cells)
        else:
            reason = "it tells the time or counts rows" if name in used else _why_no_axis(name, cells)
        if not reason and (name in stated or not stated):
            axes.append(name)
        elif reason == "button":
            buttons.append(name)
        else:
            ignored[name] = reason or "other axes were named"
    if not any(not _constant(columns[name]) for name in axes):
        _refuse_no_axis(stated, ignored)
    if len(axes) > MOST_AXES:
        raise FormatError(
            f"A controller has at most {MOST_AXES} axes.",
            {"varying columns": len(axes), "first": ", ".join(axes[:6])},
            "Name the axes with --axes A,B.",
        )
    return Roles(axes=tuple(axes), buttons=tuple(buttons), ignored=ignored)


def _why_never_an_axis(cells: NDArray[Any]) -> str:
    if cells.dtype.kind not in "iuf":
        return "text"
    return "" if np.isfinite(cells).any() else "no numbers"


def _constant(cells: NDArray[Any]) -> bool:
    finite = cells if cells.dtype.kind in "iu" else cells[np.isfinite(cells)]
    return not finite.size or bool(finite.min() == finite.max())


def _why_no_axis(name: str, cells: NDArray[Any]) -> str:
    if read_name(name).role in ("other", "counter", "time"):
        return "its name says it is no axis"
    if is_measured(name) or "(dB)" in name:
        return "its unit is that of a meter"
    if cells.dtype.kind not in "iuf":
        return "text" if button_states(cells) is None else "button"
    finite = cells if cells.dtype.kind in "iu" else cells[np.isfinite(cells)]
    if not finite.size:
        return "empty, or no numbers that a stick could send"
    return "constant" if _constant(cells) else _why_no_motion(finite)


def _why_no_motion(finite: NDArray[Any]) -> str:
    """Return why finite numbers that vary, shape (n,), are no axis; empty if they may be one."""
    if set(finite[:64].tolist()) <= {-1, 0, 1}:
        if np.all((finite == 0) | (finite == 1)):
            return "button"
        if np.all((finite == 0) | (np.abs(finite) == 1)):
            return "only -1, 0 and 1, as of a four-way pad"
    if finite.size <= 20 or np.any(np.diff(finite[:1000]) < 0):
        return ""
    steps = np.diff(finite)
    if bool(np.all(steps >= 0)) and bool(np.count_nonzero(steps) > NEARLY_ALL * steps.size):
        return "it only counts up"
    return ""


def _refuse_no_axis(stated: tuple[str, ...], ignored: Mapping[str, str]) -> None:
    facts = {f"column '{name}'": why for name, why in list(ignored.items())[:12]}
    if stated:
        raise FormatError(
            "A named axis must hold numbers that vary.", {"axes": ", ".join(stated)} | facts, "Name others."
        )
    raise FormatError(
        "A stick log needs at least one axis: a column of numbers that vary.",
        facts,
        "Record while the stick moves, or name the axes with --axes A,B.",
    )


def button_events(name: str, states: NDArray[np.int64], t_s: FloatArray) -> list[ButtonEvent]:
    """Return the changes of a button's states, shape (n,), at their rows' times, shape (n,), s."""
    changes = np.flatnonzero(np.diff(states, prepend=0))
    return [ButtonEvent(t_lo_s=float(t_s[i]), t_hi_s=float(t_s[i]), name=name, value=int(states[i])) for i in changes]
