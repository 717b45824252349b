"""`feelcheck repeatability`: how much of what is seen comes from the measuring itself."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._options import Json
from feelcheck.cli._outcome import reports_errors
from feelcheck.cli._outputs import Writes
from feelcheck.cli._pictures import draw_asked
from feelcheck.outputs import REPEATABILITY_FIGURE

__all__ = ["repeatability"]


@reports_errors
def repeatability(
    context: typer.Context,
    folder: Annotated[
        Path, typer.Argument(help="Folder of sessions, folder operator/specimen/recording, or a table of readings.")
    ],
    metric: Annotated[str, typer.Option(help="Quantity taken from each recording.")] = "smoothing_delay",
    axis: Annotated[str, typer.Option(help="Axis; the first that answers if none is named.")] = "",
    direction: Annotated[str, typer.Option(help="rising or falling.")] = "rising",
    json: Json = False,
    plot: Annotated[
        Path | None, Writes(REPEATABILITY_FIGURE), typer.Option(help="Draw how the variance splits (.png or .svg).")
    ] = None,
) -> None:
    """Split a study into specimens, repeats and hands.

    A gauge study: how much of the spread comes from the specimens, from repeats by one hand, from different hands.

    Example: feelcheck repeatability study/ --metric smoothing_delay --axis left_x --plot split.png

    Next: feelcheck compare, once the measuring is known to be fine enough.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.compare_json import repeatability_json
    from feelcheck.renderers.repeatability_text import repeatability_text

    result = pipeline.repeatability(folder, metric=metric, axis=axis, direction=direction)
    typer.echo(repeatability_json(result) if json else repeatability_text(result))
    draw_asked(context, [result], plot=plot)
