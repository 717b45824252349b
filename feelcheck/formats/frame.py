"""A data frame in hand as a table like any other: the log and capture readers take it as text."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from feelcheck.errors import FormatError
from feelcheck.formats._delimited_options import parse_options
from feelcheck.formats._text import DecodedText
from feelcheck.formats.delimited import DelimitedReader
from feelcheck.formats.scope import read_decoded_capture
from feelcheck.model import Capture, Recording

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["capture_of_frame", "recording_of_frame"]

FORMAT = "data frame"


def recording_of_frame(frame: pd.DataFrame, **options: Any) -> Recording:
    """Return the in-hand recording that a data frame holds.

    Parameters
    ----------
    frame : DataFrame
        One row a report: a time (column or index) and the axes; names and units are understood as in a file.
    **options
        ``time``, ``time_unit``, ``rate_hz``, ``axes``, ``full_scale``: what the frame does not say by itself.

    Raises
    ------
    FormatError
        Where time, unit or axes cannot be told; the text says what to state.

    Examples
    --------
    >>> import pandas as pd
    >>> frame = pd.DataFrame({"time_ms": range(0, 2000, 4), "x": [k % 200 for k in range(500)]})
    >>> recording_of_frame(frame).streams[0].time.duration_s
    1.996
    """
    recording = DelimitedReader().read_decoded(_text(frame), parse_options(options))
    return replace(recording, provenance=replace(recording.provenance, format=FORMAT))


def capture_of_frame(frame: pd.DataFrame, **options: Any) -> Capture:
    """Return the scope capture that a data frame holds.

    Parameters
    ----------
    frame : DataFrame
        One row a sample: a time (column or index), the drive, the output.
    **options
        ``drive``, ``output``, ``time``, ``time_unit``, ``interval_s`` as for `feelcheck.formats.scope.read_capture`.

    Raises
    ------
    FormatError
        Where the frame holds no capture, or time, unit or a named column cannot be told.

    Examples
    --------
    >>> import pandas as pd
    >>> frame = pd.DataFrame({"t (ms)": [k / 10 for k in range(200)], "output (V)": [0.0] * 100 + [1.0] * 100})
    >>> capture_of_frame(frame).channels[0].role
    'output'
    """
    capture = read_decoded_capture(_text(frame), **options)
    return replace(capture, provenance=replace(capture.provenance, format=FORMAT))


def _text(frame: pd.DataFrame) -> DecodedText:
    """Return the frame as delimited text: numbers in full, instants as ISO stamps, durations in seconds."""
    import pandas as pd

    if not isinstance(frame, pd.DataFrame):
        raise FormatError(
            "A path or a pandas DataFrame is needed.", {"got": f"a {type(frame).__name__}"}, "Name a file or a folder."
        )
    if not frame.columns.is_unique or frame.columns.nlevels > 1 or frame.index.nlevels > 1:
        names = ", ".join(map(str, frame.columns[:20]))
        raise FormatError("A frame needs one row of names, each once.", {"columns": names}, "Rename its columns.")
    table = frame if isinstance(frame.index, pd.RangeIndex) else frame.reset_index()
    table = table.rename(columns=str)
    for name in table.columns:
        if pd.api.types.is_timedelta64_dtype(table[name].dtype):
            table[name] = table[name].dt.total_seconds()
            table = table.rename(columns={name: f"{name}_s"})
    text = table.to_csv(index=False, lineterminator="\n", date_format="%Y-%m-%dT%H:%M:%S.%f")
    data = text.encode()
    return DecodedText(text=text, encoding="utf-8", sha256=hashlib.sha256(data).hexdigest(), n_bytes=len(data))
