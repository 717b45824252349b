"""Times written as text (ISO 8601, clock times, dates in any order) turned into seconds."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from feelcheck.formats.numbers import MOSTLY
from feelcheck.model import FloatArray

__all__ = ["Stamps", "looks_like_stamps", "read_stamps"]

_DAY_S = 86400.0
LONGEST_STAMP = 64
"""Characters of a stamp at most; what is longer is none, and is not searched (the patterns cost its square)."""
_ZONE = r"(?:\s?Z|\s?[+-]\d{2}:?\d{2})?"
_CLOCK = r"(?:(?:\d{1,2}:)?\d{1,3}:\d{1,2}(?:[.,]\d+|:\d{3,6})?)"
_ISO = re.compile(rf"^(?:\d{{4}}-\d{{2}}-\d{{2}}[T ]{_CLOCK}|\d{{8}}T\d{{6}}(?:[.,]\d+)?){_ZONE}$")
_ANY = re.compile(rf"^(?:[^:]*\d[^:]*?[T ,]\s*)?{_CLOCK}\s*(?:[AP]\.?M\.?)?{_ZONE}$", re.I)
_PARTS = re.compile(
    r"^(?:([^:]*\d[^:]*?)[T ,]\s*)?(?:(\d{1,2}):)?(\d{1,3}):(\d{1,2}(?:\.\d+)?)\s*(?:([AP])\.?M\.?)?" + _ZONE + "$",
    re.I,
)
_COLON_FRACTION = re.compile(r":(\d{3,6})$")
_FRACTION = re.compile(r"(?::\d{1,2}[.,]|:\d{1,2}:\d{1,2}:|T\d{6}[.,])(\d+)")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stamps:
    """Stamps in seconds from the first one's whole day.

    Parameters
    ----------
    seconds : ndarray, shape (n,), s
        NaN where a cell is no stamp.
    resolution_s : float
        One unit of the last decimal.
    style : str
        How they are written.
    """

    seconds: FloatArray
    resolution_s: float
    style: str


def _sample(cells: NDArray[Any]) -> list[str]:
    picked = cells[np.linspace(0, cells.size - 1, min(cells.size, 12)).astype(int)] if cells.size else cells
    return [text for text in (str(cell)[: LONGEST_STAMP + 1].strip() for cell in picked) if text]


def looks_like_stamps(cells: NDArray[Any]) -> bool:
    """Return whether most cells of a text column, shape (n,), are time stamps (twelve of them are looked at)."""
    sample = _sample(cells)
    return bool(sample) and sum(bool(_ANY.match(text) or _ISO.match(text)) for text in sample) > MOSTLY * len(sample)


def read_stamps(cells: NDArray[Any]) -> Stamps:
    """Return the stamps of a text column.

    Parameters
    ----------
    cells : ndarray of str, shape (n,)
        ``12:30:01.250``, ``01:07.5`` (minutes and seconds), ``2026-03-01T12:30:01,25``, ``1.3.2026 12:30:01 PM``, ...

    Notes
    -----
    ISO 8601 stamps keep nanoseconds. Of any other date the order of day and month is the one in which the dates do not
    step back, and of two the one with the shorter record (day first where both are as long). A clock without a date
    passes midnight where it steps back by more than half a day. ``hh:mm:ss:fff``, decimal commas and halves of the day
    (AM, PM) are understood.

    References
    ----------
    ISO 8601-1:2019, 5.3 and 5.4 (comma or full stop as the decimal sign).

    Examples
    --------
    >>> read_stamps(np.array(["23:59:59,5", "00:00:00,5"])).seconds
    array([86399.5, 86400.5])
    >>> read_stamps(np.array(["11:59:59 AM", "12:00:01 PM"])).seconds
    array([43199., 43201.])
    """
    text = pd.Series(cells, dtype="str").str.strip().str.replace(",", ".", regex=False)
    text = text.where(text.str.len() <= LONGEST_STAMP, "")
    sample = _sample(cells)
    match = next((m for cell in sample if (m := _FRACTION.search(cell))), None)
    resolution_s = 10.0 ** -len(match[1]) if match else 1.0
    if sample and sample[0].count(":") == 3 and _COLON_FRACTION.search(sample[0]):
        text = text.str.replace(_COLON_FRACTION, r".\1", regex=True)
    if sum(bool(_ISO.match(cell)) for cell in sample) > MOSTLY * len(sample):
        return Stamps(seconds=_iso(text), resolution_s=resolution_s, style="ISO 8601")
    parts = text.str.extract(_PARTS)
    seconds = _time_of_day(parts)
    days = _days(parts[0])
    if days is None:
        return Stamps(seconds=_past_midnight(seconds), resolution_s=resolution_s, style="time of day")
    return Stamps(seconds=seconds + _DAY_S * days, resolution_s=resolution_s, style="date and time of day")


def _iso(text: pd.Series[Any]) -> FloatArray:
    stamps = pd.to_datetime(text, format="ISO8601", utc=True, errors="coerce")
    ns = stamps.dt.as_unit("ns").astype("int64").to_numpy(np.int64)
    valid = stamps.notna().to_numpy(bool)
    day_ns = (int(ns[valid][0]) // 86_400_000_000_000) * 86_400_000_000_000 if valid.any() else 0
    return np.where(valid, (ns - day_ns) * 1e-9, np.nan)


def _time_of_day(parts: pd.DataFrame) -> FloatArray:
    hours, minutes, seconds = (pd.to_numeric(parts[k], errors="coerce").to_numpy(np.float64) for k in (1, 2, 3))
    half = parts[4].str.upper().to_numpy(object)
    hours = np.nan_to_num(hours)
    halved = (half == "A") | (half == "P")
    hours = np.where(halved, hours % 12, hours) + np.where(half == "P", 12.0, 0.0)
    return np.asarray(hours * 3600.0 + minutes * 60.0 + seconds, dtype=np.float64)


def _days(dates: pd.Series[Any]) -> FloatArray | None:
    """Return the day of each stamp, counted from the first one's; None where dates are missing or unreadable."""
    if not dates.notna().mean() > MOSTLY:
        return None
    codes, distinct = pd.factorize(dates)
    found: list[FloatArray] = []
    for day_first in (True, False):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)
            read = pd.to_datetime(pd.Series(distinct), format="mixed", dayfirst=day_first, errors="coerce", utc=True)
        days = (read - read.iloc[0]).dt.total_seconds().to_numpy(np.float64) / _DAY_S
        if np.all(np.diff(days) >= 0) and np.all(days == np.rint(days)):
            found.append(np.asarray(days, dtype=np.float64))
    shortest = min(found, key=lambda days: days[-1], default=None)
    return None if shortest is None else np.where(codes >= 0, shortest[codes], np.nan)


def _past_midnight(seconds: FloatArray) -> FloatArray:
    valid = np.flatnonzero(np.isfinite(seconds))
    midnights = np.zeros(seconds.size)
    midnights[valid[1:]] = np.diff(seconds[valid]) < -_DAY_S / 2
    return np.asarray(seconds + _DAY_S * np.cumsum(midnights), dtype=np.float64)
