"""A recording or a capture as one wide table for other tools."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from feelcheck.errors import FormatError
from feelcheck.model import Capture, Channel, Provenance, Recording
from feelcheck.outputs import WIDE_TABLE, output
from feelcheck.plain_text import table_cell

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["capture_table", "to_wide", "write_wide"]

MOST_SHEET_ROWS = 1_048_576
"""Of a workbook's sheet (ISO/IEC 29500, from memory)."""


def to_wide(recording: Recording) -> pd.DataFrame:
    """Return one row for each instant at which any axis has a value: ``t_s``, then one column of codes an axis.

    An axis keeps its last code where only another one changed; before its first code its cell is empty.

    Parameters
    ----------
    recording : Recording
        What to write, one column an axis.
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


def capture_table(captures: Sequence[Capture]) -> pd.DataFrame:
    """Return one row a sample: ``t_s``, then one column a channel with its unit; ``block`` where a file has several.

    Parameters
    ----------
    captures : sequence of Capture
        The blocks of one file.
    """
    import pandas as pd

    frames = [
        pd.DataFrame({"t_s": capture.t_s, **{_titled(channel): channel.values for channel in capture.channels}})
        for capture in captures
    ]
    if len(frames) > 1:
        frames = [frame.assign(block=k) for k, frame in enumerate(frames, start=1)]
    return pd.concat(frames, ignore_index=True)


def _titled(channel: Channel) -> str:
    return f"{channel.name} ({channel.unit})" if channel.unit else channel.name


def write_wide(
    exported: Recording | Sequence[Capture], path: Path, *, inputs: Iterable[Path] = (), overwrite: bool = False
) -> None:
    """Write a recording or a capture as a wide table: CSV, Parquet or a workbook, by the name's ending.

    Parameters
    ----------
    exported : Recording or sequence of Capture
        What to write.
    path : Path
        Where to; an older Parquet table or workbook of this kind is replaced.
    inputs : iterable of Path, optional
        What it was read from: never replaced.
    overwrite : bool
        Whether an existing CSV file, which cannot say who made it, may be replaced.

    Raises
    ------
    OutputError
        If the table may not go there or cannot be written.
    FormatError
        If the Parquet library is missing, or a workbook has too few rows.
    """
    path = Path(path)
    kind = path.suffix.lower()
    with output(path, WIDE_TABLE, inputs=inputs, overwrite=overwrite) as stream:
        table = to_wide(exported) if isinstance(exported, Recording) else capture_table(exported)
        if kind == ".csv":
            table.rename(columns=table_cell).to_csv(stream, index=False, float_format="%.15g", lineterminator="\n")
        elif kind == ".xlsx":
            origin = exported.provenance if isinstance(exported, Recording) else exported[0].provenance
            _write_workbook(table, origin, path, stream)
        else:
            _write_parquet(table, path, stream)


def _write_workbook(table: pd.DataFrame, origin: Provenance, path: Path, stream: BinaryIO) -> None:
    """The table on one sheet, where it comes from on another; cells never begin a formula."""
    from openpyxl import Workbook

    if len(table) >= MOST_SHEET_ROWS:
        raise FormatError(
            "A workbook's sheet has too few rows for this recording.",
            {"file": path, "rows": len(table), "allowed": MOST_SHEET_ROWS - 1},
            "Write CSV or Parquet.",
        )
    book = Workbook(write_only=True)
    book.properties.description = WIDE_TABLE.mark
    sheet = book.create_sheet("samples")
    sheet.freeze_panes = "B2"
    sheet.append([table_cell(str(name)) for name in table.columns])
    cells = table.astype(object).where(table.notna(), None)
    for row in cells.itertuples(index=False, name=None):
        sheet.append(row)
    about = book.create_sheet("about")
    facts = {"file": Path(origin.path).name, "specimen": origin.specimen, "state": origin.state, "time": "t_s, seconds",
             "simulated": "yes" if origin.simulated else ""}  # fmt: skip
    for name, value in facts.items():
        if value:
            about.append([name, table_cell(value)])
    book.save(stream)


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
