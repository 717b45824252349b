"""`feelcheck compare`: are these different, and does the hand agree with the bench?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._documents import As, check_document, show_document
from feelcheck.cli._options import Card, Json, MarginMs
from feelcheck.cli._outcome import reports_errors
from feelcheck.cli._outputs import Writes
from feelcheck.cli._pictures import draw_asked
from feelcheck.outputs import COMPARISON_FIGURE

__all__ = ["compare"]


@reports_errors
def compare(
    context: typer.Context,
    baseline: Annotated[
        str,
        typer.Argument(help="Before: record, record@state, session, log, capture, or a folder of such repeats."),
    ],
    candidates: Annotated[list[str], typer.Argument(help="What is held against it, named the same way.")],
    margin_ms: MarginMs = 1.0,
    fixed_beforehand: Annotated[
        bool, typer.Option("--fixed-beforehand", help="The number of recordings was fixed before the first one.")
    ] = False,
    paired: Annotated[
        tuple[str, str] | None,
        typer.Option(help="States before and after: every specimen is held against itself.", metavar="STATE STATE"),
    ] = None,
    polarity: Annotated[
        int | None, typer.Option(help="1 if the code rises as the volts rise, else -1; for a capture against a hand.")
    ] = None,
    resistor: Annotated[
        str, typer.Option(help="Known series resistor of the filter, so that a changed part is named.")
    ] = "",
    capacitor: Annotated[str, typer.Option(help="Known capacitor of the filter.")] = "",
    json: Json = False,
    full: Annotated[bool, typer.Option("--full", help="Show how far such verdicts can be trusted, too.")] = False,
    plot: Annotated[
        Path | None,
        Writes(COMPARISON_FIGURE),
        typer.Option(help="Draw edges before and after, differences, chain, predicted tails (.png or .svg)."),
    ] = None,
    card: Card = None,
    as_: As = None,
) -> None:
    """Compare specimens, two states, or captures before and after, against a margin.

    Example: feelcheck compare profiles/alder.toml profiles/birch.toml --margin-ms 1

    Example: feelcheck compare before.csv after.csv --resistor 4.7k --plot change.png

    Example: feelcheck compare alder.toml birch.toml cedar.toml --paired as_found c3_lifted

    Next: feelcheck feel, for what a difference means in use; feelcheck report, for one page to show.
    """
    from feelcheck import pipeline

    check_document(as_, "comparison")
    pipeline.check_references((baseline, *candidates))
    from feelcheck.renderers.compare_json import compare_json
    from feelcheck.renderers.compare_text import compare_text

    result = pipeline.compare(
        baseline,
        candidates,
        margin_ms=margin_ms,
        fixed_beforehand=fixed_beforehand,
        paired=paired,
        tails=plot is not None,
        polarity=polarity,
        resistor=resistor,
        capacitor=capacitor,
    )
    if as_ is not None:
        show_document(as_, "comparison", result)
    else:
        typer.echo(compare_json(result) if json else compare_text(result, full=full))
    draw_asked(context, [result], plot=plot, card=card)
