"""`feelcheck guide`: how to record in the hand, time a stick, measure on the bench, rehearse."""

from __future__ import annotations

from typing import Annotated

import typer

from feelcheck.cli._outcome import reports_errors

__all__ = ["guide"]


@reports_errors
def guide(topic: Annotated[str, typer.Argument(help="hand, lag, bench or rehearse.")] = "hand") -> None:
    """Explain how to record a stick, or measure a sensor.

    hand: a recording and how to flick; bench: a capture and where to put probes; lag: a delay behind a button, two
    sticks tied together.

    Example: feelcheck guide bench

    Next: feelcheck log SPECIMEN after guide hand, feelcheck bench CAPTURE after guide bench.
    """
    from feelcheck.renderers.guide import guide_text

    typer.echo(guide_text(topic))
