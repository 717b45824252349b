"""`feelcheck bench`: the response on the bench from a scope capture."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._outcome import remark, reports_errors

__all__ = ["bench"]


@reports_errors
def bench(
    paths: Annotated[list[Path], typer.Argument(help="Scope captures: channels of one capture, or repeats of it.")],
    drive: Annotated[str | None, typer.Option(help="Column of the drive (coil current, field, command).")] = None,
    output: Annotated[str | None, typer.Option(help="Column of the sensor's output.")] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")] = False,
    plot: Annotated[Path | None, typer.Option(help="Draw edges and fit into this file (.png or .svg).")] = None,
) -> None:
    """Measure a sensor's response to a stepped field, edge by edge, with the drive taken out.

    Example: feelcheck bench demo_logs/birch_field_step.csv --plot birch.svg

    Next: feelcheck profile add, to keep it; feelcheck parts --from-bench, to ask which parts it fits.
    """
    from feelcheck import pipeline
    from feelcheck.renderers import bench_json, bench_text

    results = pipeline.bench(paths, drive=drive, output=output)
    typer.echo(bench_json(results) if json else bench_text(results))
    if plot is not None:
        pipeline.draw_bench(results, plot)
        remark(f"Drawn: {plot}")
