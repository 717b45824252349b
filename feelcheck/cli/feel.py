"""`feelcheck feel`: what a response means in use."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._options import FieldOfViewDeg, Json, TurnRateDegS
from feelcheck.cli._outcome import reports_errors
from feelcheck.cli._outputs import Writes
from feelcheck.cli._pictures import draw_asked
from feelcheck.outputs import FEEL_FIGURE

__all__ = ["feel"]


@reports_errors
def feel(
    context: typer.Context,
    specimens: Annotated[
        list[str],
        typer.Argument(help="Record, record@state, record@c3=lifted (what if), capture or session; first: reference."),
    ],
    turn_rate_deg_s: TurnRateDegS = 200.0,
    field_of_view_deg: FieldOfViewDeg = 90.0,
    screen_deg: Annotated[
        float, typer.Option(help="Width of the screen as seen by the eye, degrees.", min=1.0, max=170.0)
    ] = 35.0,
    flick_ms: Annotated[
        float, typer.Option(help="Duration of a flick, ms, where none of your own was recorded.", min=5.0, max=1e4)
    ] = 100.0,
    held_ms: Annotated[
        float, typer.Option(help="How long an out-and-back flick is held, ms.", min=0.0, max=1e4)
    ] = 200.0,
    dead_zone: Annotated[float, typer.Option(help="Dead zone in use, fraction of full throw.", min=0.0, max=0.9)] = 0.0,
    curve: Annotated[float, typer.Option(help="Exponent of the response curve; 1 is linear.", min=0.1, max=10.0)] = 1.0,
    rest_band: Annotated[
        float, typer.Option(help="Band around rest that counts as back, fraction of full throw.", min=0.001, max=0.5)
    ] = 0.02,
    json: Json = False,
    full: Annotated[bool, typer.Option("--full", help="Show everything that was worked out.")] = False,
    plot: Annotated[
        Path | None, Writes(FEEL_FIGURE), typer.Option(help="Draw trailing, angles and times (.png or .svg).")
    ] = None,
) -> None:
    """Say what a response means in use.

    Trailing, angles, noise and speed steps, and what is published about them.

    A capture, or a change of parts that nobody made yet, is looked at with the flicks of the recorded pad:
    what it would feel like in there.

    Example: feelcheck feel profiles/alder.toml profiles/birch.toml --turn-rate-deg-s 200

    Example: feelcheck feel profiles/birch.toml profiles/birch.toml@c3=100n capture.csv

    Next: feelcheck report, to show it to someone.
    """
    from feelcheck import pipeline

    pipeline.check_references(specimens)
    from feelcheck.model import Play
    from feelcheck.renderers.feel_json import feel_json
    from feelcheck.renderers.feel_text import feel_text

    play = Play(
        turn_rate_deg_s=turn_rate_deg_s,
        field_of_view_deg=field_of_view_deg,
        screen_deg=screen_deg,
        flick_s=flick_ms / 1e3,
        held_s=held_ms / 1e3,
        dead_zone_fraction=dead_zone,
        curve_exponent=curve,
        rest_band_fraction=rest_band,
    )
    results = pipeline.feel(specimens, play)
    typer.echo(feel_json(results) if json else feel_text(results, full=full))
    draw_asked(context, [results], plot=plot)
