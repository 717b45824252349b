"""`feelcheck devices`: the pads seen now, and what would limit a recording."""

from __future__ import annotations

from typing import Annotated

import typer

from feelcheck.cli._options import Json
from feelcheck.cli._outcome import remark, reports_errors

__all__ = ["devices"]


@reports_errors
def devices(
    watch: Annotated[float, typer.Option(help="Seconds to watch; move the sticks meanwhile.", min=0.0)] = 3.0,
    json: Json = False,
) -> None:
    """List the pads seen now, with axes, step and interval.

    The report interval is measured while the stick moves; what would limit a recording is said.

    Example: feelcheck devices --watch 5

    Next: feelcheck log SPECIMEN.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.devices_text import devices_json, devices_text

    if watch > 0:
        remark("If a pad is plugged in, move its sticks in circles now.")
    found = pipeline.devices(watch_s=watch)
    typer.echo(devices_json(found) if json else devices_text(found))
