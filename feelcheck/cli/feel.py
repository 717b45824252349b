"""`feelcheck feel`: what a response means in use."""

from __future__ import annotations

from typing import Annotated

import typer

from feelcheck.cli._outcome import reports_errors

__all__ = ["feel"]


@reports_errors
def feel(
    profiles: Annotated[list[str], typer.Argument(help="Records, record@state, sessions; the first is the reference.")],
    turn_rate_deg_s: Annotated[
        float, typer.Option(help="Turn rate of the view at full throw, deg/s.", min=0.0)
    ] = 200.0,
    field_of_view_deg: Annotated[float, typer.Option(help="Horizontal field of view, degrees.", min=1.0)] = 90.0,
    screen_deg: Annotated[float, typer.Option(help="Width of the screen at the eye, degrees.", min=1.0)] = 35.0,
    held_ms: Annotated[float, typer.Option(help="How long an out-and-back flick is held, ms.", min=0.0)] = 200.0,
    dead_zone: Annotated[float, typer.Option(help="Dead zone in use, fraction of full throw.", min=0.0, max=0.9)] = 0.0,
    curve: Annotated[float, typer.Option(help="Exponent of the response curve; 1 is linear.", min=0.1)] = 1.0,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")] = False,
) -> None:
    """Say what the response means in use: angles, bands, speed steps, and what is published about them.

    Example: feelcheck feel profiles/alder.toml profiles/birch.toml --turn-rate-deg-s 200

    Next: feelcheck report, to show it to someone.
    """
    from feelcheck import pipeline
    from feelcheck.model import Play
    from feelcheck.renderers import feel_json, feel_text

    play = Play(
        turn_rate_deg_s=turn_rate_deg_s,
        field_of_view_deg=field_of_view_deg,
        screen_deg=screen_deg,
        held_s=held_ms / 1e3,
        dead_zone_fraction=dead_zone,
        curve_exponent=curve,
    )
    results = pipeline.feel(profiles, play)
    typer.echo(feel_json(results) if json else feel_text(results))
