"""A recording as the plain table that an ordinary logger would write."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from feelcheck.model import Recording

__all__ = ["TableStyle", "write_table"]

PER_SECOND = {"s": 1.0, "ms": 1e3, "us": 1e6}


@dataclass(frozen=True, slots=True, kw_only=True)
class TableStyle:
    """How the table looks.

    Parameters
    ----------
    time_unit : {"s", "ms", "us"}
        Unit of the time column, which is named ``t_<unit>``.
    time_digits : int
        Decimals of the time column.
    values : {"counts", "fraction"}
        The codes themselves, or fractions of full throw.
    value_digits : int
        Decimals of fractions.
    separator, decimal : str
        Field separator and decimal mark.
    encoding : str
        Text encoding.
    """

    time_unit: Literal["s", "ms", "us"] = "s"
    time_digits: int = 6
    values: Literal["counts", "fraction"] = "counts"
    value_digits: int = 6
    separator: str = ","
    decimal: str = "."
    encoding: str = "utf-8"


def write_table(recording: Recording, path: Path, *, style: TableStyle | None = None) -> None:
    """Write one row for each report: the time and every axis.

    Streams with their own time bases are joined: a row at each instant at which any axis speaks, each axis holding
    its last value.

    Parameters
    ----------
    recording : Recording
        The recording.
    path : Path
        The file.
    style : TableStyle or None
        How the file is written; plain if not given.
    """
    style = style or TableStyle()
    t_s = np.unique(np.concatenate([stream.time.t_s for stream in recording.streams]))
    shared = all(stream.time is recording.streams[0].time for stream in recording.streams)
    if shared:
        t_s = recording.streams[0].time.t_s
    columns = []
    for stream in recording.streams:
        values = stream.fractions if style.values == "fraction" else stream.codes
        held = np.maximum(np.searchsorted(stream.time.t_s, t_s, side="right") - 1, 0)
        digits = style.value_digits if style.values == "fraction" else 0
        columns.append([_number(value, digits, style) for value in (values if shared else values[held]).tolist()])
    times = [_number(t * PER_SECOND[style.time_unit], style.time_digits, style) for t in t_s.tolist()]
    with path.open("w", encoding=style.encoding, newline="") as file:
        writer = csv.writer(file, delimiter=style.separator, lineterminator="\n")
        writer.writerow([f"t_{style.time_unit}", *(stream.name for stream in recording.streams)])
        writer.writerows(zip(times, *columns, strict=True))


def _number(value: float, digits: int, style: TableStyle) -> str:
    return f"{value:.{digits}f}".replace(".", style.decimal)
