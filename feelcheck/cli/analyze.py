"""`feelcheck analyze`: the response in the hand from a recording."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._documents import As, check_document, show_document
from feelcheck.cli._options import Card, Json
from feelcheck.cli._outcome import EXIT_BAD_INPUT, remark, reports_errors
from feelcheck.cli._outputs import Writes
from feelcheck.cli._pictures import draw_asked
from feelcheck.errors import FeelcheckError
from feelcheck.outputs import HAND_FIGURE

__all__ = ["analyze"]


@reports_errors
def analyze(
    context: typer.Context,
    paths: Annotated[list[Path], typer.Argument(help="Session folders or delimited axis logs.")],
    json: Json = False,
    plot: Annotated[
        Path | None,
        Writes(HAND_FIGURE, one_each="paths"),
        typer.Option(help="Draw the evidence into this file (.png or .svg)."),
    ] = None,
    card: Card = None,
    time: Annotated[str | None, typer.Option(help="Name of the time column.")] = None,
    time_unit: Annotated[str | None, typer.Option(help="Unit of its times: s, ms, us, ns, min or samples.")] = None,
    rate_hz: Annotated[
        float | None, typer.Option(help="Report rate, where rows are counted or there is no time.")
    ] = None,
    axes: Annotated[str | None, typer.Option(help="Names of the axis columns, joined by commas.")] = None,
    full_scale: Annotated[float | None, typer.Option(help="Codes from centre to full throw.")] = None,
    every: Annotated[bool, typer.Option("--all", help="Measure all sessions in a folder of sessions.")] = False,
    full: Annotated[bool, typer.Option("--full", help="Print tables without an answer too.")] = False,
    against: Annotated[
        Path | None, typer.Option(help="A table of feelcheck survey: say where this lies among those sticks.")
    ] = None,
    as_: As = None,
) -> None:
    """Measure a stick's smoothing, steps, noise and timing.

    Example: feelcheck analyze demo_logs/birch_as_found --plot birch.png

    Example: feelcheck analyze sessions/alder_as_found --against sticks.csv

    Next: feelcheck profile add, to keep the result; feelcheck compare, to hold it against another.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.hand_json import hand_json
    from feelcheck.renderers.hand_text import hand_text
    from feelcheck.renderers.survey_words import placed_text

    check_document(as_, "hand")
    if against is not None:
        pipeline.check_population(against)
    for skipped in pipeline.plugin_remarks():
        remark(skipped)
    options = {"time": time, "time_unit": time_unit, "rate_hz": rate_hz, "axes": axes, "full_scale": full_scale}
    stated = {name: value for name, value in options.items() if value is not None}
    left_out: list[Path] = []

    def told(path: Path, problem: FeelcheckError) -> None:
        left_out.append(path)
        remark(f"Left out: {path}\n{problem}")

    named = pipeline.named_recordings(paths, every=every)
    results = pipeline.analyze_many(named, left_out=told, **stated)
    swapped = pipeline.swapped_lag(results)
    placed = None if against is None else pipeline.placed_in(against, results)
    if as_ is not None:
        show_document(as_, "hand", results)
    else:
        typer.echo(hand_json(results, swapped, placed) if json else hand_text(results, swapped, full=full))
    if placed is not None and not json and as_ is None:
        typer.echo(placed_text(against, placed))
    draw_asked(context, results, plot=plot, card=card)
    if left_out:
        raise typer.Exit(EXIT_BAD_INPUT)
