"""Time stamps written as text: ISO 8601 with or without a date, hours:minutes:seconds."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from feelcheck.model import FloatArray

__all__ = ["looks_like_stamps", "parse_stamps"]

_DAY_S = 86400.0
_CLOCK = r"(?:\d{1,2}:)?\d{1,2}:\d{2}(?:[.,]\d+|:\d{3})?"
_ISO = re.compile(
    rf"^(?:\d{{4}}-\d{{2}}-\d{{2}}[T ]{_CLOCK}|\d{{8}}T\d{{6}}(?:[.,]\d+)?)(?:\s?Z|\s?[+-]\d{{2}}:?\d{{2}})?$"
)
_ANY = re.compile(rf"^(?:\S*\d[-./]\d\S*[T ,]\s?)?(?P<clock>{_CLOCK})(?:\s?Z|\s?[+-]\d{{2}}:?\d{{2}})?$")
_COLON_MS = re.compile(r":(\d{3})$")


def _sample(cells: NDArray[Any]) -> list[str]:
    picked = cells[np.linspace(0, cells.size - 1, min(cells.size, 12)).astype(int)] if cells.size else cells
    return [text for text in (str(cell).strip() for cell in picked) if text]


def looks_like_stamps(cells: NDArray[Any]) -> bool:
    """Return whether most cells of a text column, shape (n,), are time stamps (twelve of them are looked at)."""
    sample = _sample(cells)
    return bool(sample) and sum(bool(_ANY.match(text) or _ISO.match(text)) for text in sample) > 0.7 * len(sample)


def parse_stamps(cells: NDArray[Any]) -> tuple[FloatArray, str]:
    """Return the stamps in seconds, shape (n,), NaN where a cell is none, and the style they are written in.

    Parameters
    ----------
    cells : ndarray of str, shape (n,)
        The column as text.

    Notes
    -----
    ISO 8601 stamps with a date give seconds since 1970, less the first stamp's whole day, so that a double keeps
    nanoseconds. Any other date is set aside and the time of day is used: a step back by more than half a day is
    midnight. ``minutes:seconds`` without hours and ``hh:mm:ss:fff`` are understood.

    References
    ----------
    ISO 8601-1:2019, 5.3 and 5.4 (comma or full stop as the decimal sign).

    Examples
    --------
    >>> parse_stamps(np.array(["23:59:59,5", "00:00:00,5"]))[0]
    array([86399.5, 86400.5])
    """
    text = pd.Series(cells, dtype="str").str.strip().str.replace(",", ".", regex=False)
    sample = _sample(cells)
    if sample and _COLON_MS.search(sample[0]):
        text = text.str.replace(_COLON_MS, r".\1", regex=True)
    if sum(bool(_ISO.match(cell)) for cell in sample) > 0.7 * len(sample):
        stamps = pd.to_datetime(text, format="ISO8601", utc=True, errors="coerce")
        ns = stamps.dt.as_unit("ns").astype("int64").to_numpy(np.int64)
        valid = stamps.notna().to_numpy(bool)
        day_ns = (int(ns[valid][0]) // 86_400_000_000_000) * 86_400_000_000_000 if valid.any() else 0
        return np.where(valid, (ns - day_ns) * 1e-9, np.nan), "ISO 8601"
    return _unwrapped(_time_of_day(text)), "time of day"


def _time_of_day(text: pd.Series[Any]) -> FloatArray:
    parts = text.str.extract(r"(?:(?:^|[T\s.])(\d{1,2}):)?(\d{1,2}):(\d{2}(?:\.\d+)?)(?:\s?Z|\s?[+-]\d{2}:?\d{2})?$")
    numbers = [pd.to_numeric(parts[i], errors="coerce").to_numpy(np.float64) for i in range(3)]
    return np.asarray(np.nan_to_num(numbers[0]) * 3600.0 + numbers[1] * 60.0 + numbers[2], dtype=np.float64)


def _unwrapped(seconds: FloatArray) -> FloatArray:
    valid = np.flatnonzero(np.isfinite(seconds))
    midnights = np.zeros(seconds.size)
    midnights[valid[1:]] = np.diff(seconds[valid]) < -_DAY_S / 2
    return np.asarray(seconds + _DAY_S * np.cumsum(midnights), dtype=np.float64)
