"""`feelcheck demo`: the whole chain on the data that ships with the tool."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._outcome import remark, reports_errors
from feelcheck.cli._outputs import WritesInto
from feelcheck.outputs import DEMO_FILES

__all__ = ["demo"]


@reports_errors
def demo(
    out: Annotated[Path, WritesInto(DEMO_FILES), typer.Option(help="Folder for page, pictures and tables.")] = Path(
        "feelcheck_demo"
    ),
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace tables that were changed since.")] = False,
) -> None:
    """Run the whole chain on shipped data: no hardware.

    Four specimens from parts to use, in about half a minute.

    Example: feelcheck demo --out feelcheck_demo

    Next: feelcheck guide hand, then feelcheck log for a stick of your own.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.demo_text import demo_text

    run = pipeline.demo(out, overwrite=overwrite, say=remark)
    typer.echo(demo_text(run.page, run.lifted))
    typer.echo("\nWritten:\n" + "\n".join(f"  {path}" for path in run.written))
    remark(
        f"Next: open {run.written[-1]} in a browser; feelcheck guide hand and feelcheck log for a stick of your own."
    )
