"""`feelcheck demo`: the whole chain on the data that ships with the tool."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._outcome import remark, reports_errors

__all__ = ["demo"]


@reports_errors
def demo(
    out: Annotated[Path, typer.Option(help="Folder for page, pictures and tables.")] = Path("feelcheck_demo"),
) -> None:
    """Run the whole chain on shipped data: no hardware.

    Four specimens from parts to use, in about half a minute.

    Example: feelcheck demo --out feelcheck_demo

    Next: feelcheck guide hand, then feelcheck log for a stick of your own.
    """
    from feelcheck import pipeline
    from feelcheck.renderers import demo_text

    run = pipeline.demo(out, say=remark)
    typer.echo(demo_text(run.page, run.lifted))
    typer.echo("\nWritten:\n" + "\n".join(f"  {path}" for path in run.written))
