"""`feelcheck why`: what a number is made of, and what decided it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._options import Json
from feelcheck.cli._outcome import reports_errors

__all__ = ["why"]


@reports_errors
def why(
    path: Annotated[Path, typer.Argument(help="Session folder, axis log or scope capture.")],
    quantity: Annotated[str, typer.Argument(help="Its name in JSON, such as time_constant or rest_noise.")],
    axis: Annotated[str, typer.Option(help="Only this axis (of a capture: this output).")] = "",
    direction: Annotated[str, typer.Option(help="Only rising or only falling.")] = "",
    against: Annotated[
        str | None, typer.Option(help="A baseline: tell the difference to it and its verdict, as compare gives them.")
    ] = None,
    margin_ms: Annotated[
        float, typer.Option(help="With --against: largest difference of delay that does not matter, ms.", min=0.0)
    ] = 1.0,
    json: Json = False,
) -> None:
    """Tell what a number's uncertainty is made of, and which limits decided.

    Example: feelcheck why demo_logs/birch_as_found smoothing_delay --axis left_x

    Next: feelcheck guide hand or guide bench, for what makes the largest term smaller.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.why_text import why_json, why_text

    found = pipeline.why(path, quantity, axis=axis, direction=direction, against=against, margin_ms=margin_ms)
    typer.echo(why_json(found) if json else why_text(found))
