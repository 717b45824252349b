"""Times written as text (clock times, dates) turned into seconds."""

from __future__ import annotations

import re
import warnings
from collections.abc import Sequence

import numpy as np
import pandas as pd

from feelcheck.model.stream import FloatArray

__all__ = ["seconds_of"]

_DAY_S = 86400.0
_CLOCK = re.compile(r"^\s*(?:(\d{1,2}):)?(\d{1,3}):(\d{1,2})(?:[.,:](\d+))?\s*([AP]M)?\s*$", re.I)
_FRACTION = re.compile(r"(?::\d{1,2}[.,]|:\d{1,2}:\d{1,2}:)(\d+)")


def seconds_of(cells: Sequence[str]) -> tuple[FloatArray | None, float]:
    """Return seconds from the first cell's day and the step to which the text rounds them; (None, 1.0) if unreadable.

    Parameters
    ----------
    cells : sequence of str, length n
        ``12:30:01.250``, ``01:07.5`` (minutes and seconds), ``2026-03-01T12:30:01,25``, ...

    Returns
    -------
    seconds : ndarray, shape (n,), s, or None
        NaN where a cell cannot be read.
    resolution_s : float
        One unit of the last decimal.

    Examples
    --------
    >>> seconds_of(["00:00:59.50", "00:01:00.00"])[0].tolist()
    [59.5, 60.0]
    """
    match = next((m for cell in cells if (m := _FRACTION.search(cell))), None)
    resolution_s = 10.0 ** -len(match[1]) if match else 1.0
    series = pd.Series(list(cells), dtype=str)
    parts = series.str.extract(_CLOCK)
    is_clock = bool(parts[2].notna().mean() > 0.9)
    seconds = _clock_seconds(parts) if is_clock else _date_seconds(series)
    if seconds is None:
        return None, resolution_s
    finite = np.isfinite(seconds)
    steps = np.diff(seconds[finite])
    wraps = np.concatenate(([0.0], np.cumsum(steps < -0.5 * _DAY_S))) * _DAY_S
    seconds[finite] += wraps
    return seconds, resolution_s


def _clock_seconds(parts: pd.DataFrame) -> FloatArray:
    hours, minutes, whole = (pd.to_numeric(parts[k].fillna("0")).to_numpy(np.float64) for k in range(3))
    fraction = pd.to_numeric("0." + parts[3].fillna("0")).to_numpy(np.float64)
    marks = parts[4].fillna("").str.upper()
    hours = np.where(marks != "", hours % 12, hours) + np.where(marks == "PM", 12, 0)
    seconds = np.asarray(hours * 3600.0 + minutes * 60.0 + whole + fraction, dtype=np.float64)
    seconds[parts[2].isna().to_numpy()] = np.nan
    return seconds


def _date_seconds(series: pd.Series[str]) -> FloatArray | None:
    text = series.str.strip().str.replace(r"(?<=:\d\d),(?=\d)", ".", regex=True)
    text = text.str.replace(r"(?<=:\d\d:\d\d):(?=\d)", ".", regex=True)
    for options in ({"format": "ISO8601"}, {"format": "mixed", "dayfirst": True}, {"format": "mixed"}):
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", UserWarning)
                stamps = pd.to_datetime(text, errors="coerce", utc=True, **options)
        except (ValueError, TypeError, OverflowError):
            continue
        if stamps.notna().mean() > 0.9:
            delta = stamps - stamps[stamps.first_valid_index()].normalize()
            return np.array(delta.dt.total_seconds(), dtype=np.float64)
    return None
