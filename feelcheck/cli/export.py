"""`feelcheck export`: a wide table for other tools."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._outcome import reports_errors
from feelcheck.cli._outputs import Writes
from feelcheck.outputs import WIDE_TABLE

__all__ = ["export"]


@reports_errors
def export(
    session: Annotated[Path, typer.Argument(help="Session folder, log, or scope capture.")],
    out: Annotated[Path, Writes(WIDE_TABLE), typer.Option(help="File to write: .csv, .parquet or .xlsx.")],
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace a .csv file of that name.")] = False,
) -> None:
    """Write a recording or a capture as a table for other tools.

    The table is wide: t_s and one column an axis or channel.

    Example: feelcheck export sessions/alder_as_found --out alder.csv

    Example: feelcheck export demo_logs/birch_field_step.csv --out birch.xlsx

    Next: open the table with any tool; feelcheck analyze reads it back.
    """
    from feelcheck import pipeline

    typer.echo(str(pipeline.export(session, out, overwrite=overwrite)))
