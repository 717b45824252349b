"""The table of a survey on the disk: one CSV or Parquet file, or a folder of Parquet parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from feelcheck.errors import FormatError
from feelcheck.outputs import SURVEY_TABLE, output, replaced
from feelcheck.plain_text import table_cell

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["frame_of_rows", "read_survey", "write_parts", "write_survey"]

TEXTS = (
    "path",
    "kind",
    "specimen",
    "state",
    "batch",
    "recorded",
    "axis",
    "direction",
    "reason",
    "sha256",
    "tool_version",
)
TRUTHS = ("simulated", "complete")
ROWS_A_PART = 20_000
ORDER = ["path", "axis", "direction"]
Row = Mapping[str, Any]


def frame_of_rows(rows: Iterable[Row], columns: Sequence[str]) -> pd.DataFrame:
    """Return the table by path, axis and direction: texts are text, quantities numbers, whatever the rows hold.

    Parameters
    ----------
    rows : iterable of mapping
        Of any order.
    columns : sequence of str
        In the table's order.
    """
    import pandas as pd

    frame = pd.DataFrame.from_records([tuple(row.get(name) for name in columns) for row in rows], columns=list(columns))
    made = {name: _typed(frame[name], name) for name in columns}
    return pd.DataFrame(made).sort_values(ORDER, kind="stable", ignore_index=True)


def _typed(cells: pd.Series[Any], name: str) -> pd.Series[Any]:
    if name in TEXTS or name.endswith("_status"):
        return cells.fillna("").astype(str)
    if name in TRUTHS:
        return cells.fillna(False).astype(bool)
    return cells.astype("float64")


def write_survey(
    rows: Iterable[Row],
    columns: Sequence[str],
    path: Path,
    *,
    inputs: Iterable[Path] = (),
    overwrite: bool = False,
) -> None:
    """Write the table as one CSV or Parquet file.

    Parameters
    ----------
    rows : iterable of Row
        Rows of the table, taken one by one.
    columns : sequence of str
        Names of the columns.
    path : Path
        The output; its ending tells the form.
    inputs : iterable of Path, optional
        Files that were read: the output is none of them.
    overwrite : bool, optional
        Whether a table of the tool's own may be replaced.

    Raises
    ------
    OutputError
        If it may not go there or cannot be written.
    FormatError
        If the Parquet library is missing.
    """
    frame = frame_of_rows(rows, columns)
    with output(path, SURVEY_TABLE, inputs=inputs, overwrite=overwrite) as stream:
        if path.suffix.lower() == ".csv":
            texts = frame.map(lambda cell: table_cell(cell) if isinstance(cell, str) else cell)
            texts.to_csv(stream, index=False, lineterminator="\n")
        else:
            write_parquet(frame, path, stream)


def write_parquet(frame: pd.DataFrame, path: Path, stream: BinaryIO) -> None:
    """Write a frame as Parquet with the form's mark.

    Parameters
    ----------
    frame : DataFrame
        The table.
    path : Path
        A file.
    stream : BinaryIO
        Where the bytes go.

    Raises
    ------
    FormatError
        If the Parquet library is missing.
    """
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        facts = {"file": path}
        raise FormatError(
            "Parquet needs a library that is not installed.", facts, "Install it: pip install 'feelcheck[parquet]'."
        ) from None
    table = pyarrow.Table.from_pandas(frame, preserve_index=False)
    mark = {**(table.schema.metadata or {}), b"made_by": SURVEY_TABLE.mark.encode()}
    parquet.write_table(table.replace_schema_metadata(mark), stream)


def read_survey(path: Path | str) -> tuple[tuple[str, ...], list[dict[str, Any]]]:
    """Return columns and rows of a survey's table; a missing number is None.

    Parameters
    ----------
    path : Path or str
        What `feelcheck survey` wrote: CSV, Parquet, or a folder of Parquet parts.

    Raises
    ------
    FormatError
        If it is no such table.
    """
    import pandas as pd

    path = Path(path)
    try:
        if path.suffix.lower() == ".csv":
            head = pd.read_csv(path, nrows=0).columns
            texts = {name: str for name in head if name in TEXTS or name.endswith("_status")}
            frame = pd.read_csv(
                path,
                dtype=texts,
                na_filter=True,
                keep_default_na=False,
                na_values={n: [""] for n in head if n not in texts},
            )
        else:
            frame = pd.read_parquet(path)
    except FileNotFoundError:
        raise FormatError("There is no such table.", {"path": path}, "Make it with: feelcheck survey") from None
    except (ValueError, OSError, ImportError) as problem:
        raise FormatError(
            "The table cannot be read.", {"path": path, "reason": str(problem)[:200]}, "Make it anew."
        ) from None
    if not {"path", "kind", "axis", "direction", "reason", "sha256"} <= set(frame.columns):
        facts = {"path": path, "columns": ", ".join(map(str, frame.columns[:8]))}
        raise FormatError("This is no table of a survey.", facts, "Make one with: feelcheck survey PATH --out TABLE")
    cells = frame.astype(object).where(frame.notna(), None)
    rows: list[dict[str, Any]] = cells.to_dict(orient="records")  # type: ignore[assignment]
    return tuple(map(str, frame.columns)), rows


def write_parts(rows: Sequence[Row], columns: Sequence[str], folder: Path) -> None:
    """Write the table as a folder of Parquet parts, by path; all have the same columns.

    Parameters
    ----------
    rows : sequence of mapping
        Of any order.
    columns : sequence of str
        In the table's order.
    folder : Path
        Made if it is not there; older parts that are not replaced are taken away.

    Raises
    ------
    FormatError
        If the Parquet library is missing.
    """
    frame = frame_of_rows(rows, columns)
    folder.mkdir(exist_ok=True)
    starts = range(0, max(len(frame), 1), ROWS_A_PART)
    parts = {folder / f"part-{k:05d}.parquet": start for k, start in enumerate(starts)}
    for part, start in parts.items():
        with replaced(part) as stream:
            write_parquet(frame.iloc[start : start + ROWS_A_PART], part, stream)
    for old in folder.glob("part-*.parquet"):
        if old not in parts:
            old.unlink()
