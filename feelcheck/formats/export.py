"""A recording as one wide table for other tools."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.model import Recording

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["to_wide", "write_wide"]


def to_wide(recording: Recording) -> pd.DataFrame:
    """Return one row for each instant at which any axis has a value: ``t_s``, then one column of codes an axis.

    An axis keeps its last code where only another one changed; before its first code its cell is empty.
    """
    import pandas as pd

    t_s = np.unique(np.concatenate([stream.time.t_s for stream in recording.streams]))
    columns: dict[str, object] = {"t_s": t_s}
    for stream in recording.streams:
        last = np.searchsorted(stream.time.t_s, t_s, side="right") - 1
        whole = np.issubdtype(stream.codes.dtype, np.integer)
        cells = pd.array(stream.codes[np.maximum(last, 0)], dtype="Int64" if whole else "Float64")
        cells[last < 0] = pd.NA
        columns[stream.name] = cells.astype(stream.codes.dtype) if (last >= 0).all() else cells
    return pd.DataFrame(columns)


def write_wide(recording: Recording, path: Path) -> None:
    """Write a recording as a wide table: CSV, or Parquet where the name ends in ``.parquet``.

    Raises
    ------
    FormatError
        If the ending is unknown, the Parquet library is missing, or the file cannot be written.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in (".csv", ".parquet"):
        raise FormatError(
            "A wide table is written as CSV or Parquet.", {"got": path.name}, "End the name in .csv or .parquet."
        )
    table = to_wide(recording)
    try:
        if suffix == ".csv":
            table.to_csv(path, index=False, float_format="%.9f", lineterminator="\n")
        else:
            table.to_parquet(path, index=False)
    except ImportError:
        raise FormatError(
            "Parquet needs a library that is not installed.",
            {"file": path},
            "Install it with: pip install 'feelcheck[parquet]', or write CSV.",
        ) from None
    except OSError as problem:
        raise FormatError(
            "The table cannot be written.", {"file": path, "reason": problem.strerror or problem}, "Check the path."
        ) from None
