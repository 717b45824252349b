"""A recording as one wide table for other tools."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.model import Recording
from feelcheck.outputs import WIDE_TABLE, output
from feelcheck.plain_text import table_cell

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


def write_wide(recording: Recording, path: Path, *, inputs: Iterable[Path] = (), overwrite: bool = False) -> None:
    """Write a recording as a wide table: CSV, or Parquet where the name ends in ``.parquet``.

    Parameters
    ----------
    recording : Recording
        What to write.
    path : Path
        Where to; an older Parquet table of this kind is replaced.
    inputs : iterable of Path, optional
        What the recording was read from: never replaced.
    overwrite : bool
        Whether an existing CSV file, which cannot say who made it, may be replaced.

    Raises
    ------
    OutputError
        If the table may not go there or cannot be written.
    FormatError
        If the Parquet library is missing.
    """
    path = Path(path)
    with output(path, WIDE_TABLE, inputs=inputs, overwrite=overwrite) as stream:
        if path.suffix.lower() == ".csv":
            table = to_wide(recording).rename(columns=table_cell)
            table.to_csv(stream, index=False, float_format="%.9f", lineterminator="\n")
        else:
            _write_parquet(to_wide(recording), path, stream)


def _write_parquet(table: pd.DataFrame, path: Path, stream: BinaryIO) -> None:
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        raise FormatError(
            "Parquet needs a library that is not installed.",
            {"file": path},
            "Install it with: pip install 'feelcheck[parquet]', or write CSV.",
        ) from None
    columns = pyarrow.Table.from_pandas(table, preserve_index=False)
    mark = {**(columns.schema.metadata or {}), b"made_by": WIDE_TABLE.mark.encode()}
    parquet.write_table(columns.replace_schema_metadata(mark), stream)
