"""`feelcheck guide`: how to record in the hand, time a stick, measure on the bench."""

from __future__ import annotations

from typing import Annotated

import typer

from feelcheck.cli._outcome import reports_errors

__all__ = ["guide"]


@reports_errors
def guide(topic: Annotated[str, typer.Argument(help="hand, lag or bench.")] = "hand") -> None:
    """Explain how to record a stick in the hand, or how to measure a sensor on the bench.

    Example: feelcheck guide bench

    Next: feelcheck log SPECIMEN after guide hand, feelcheck bench CAPTURE after guide bench.
    """
    from feelcheck.renderers import guide_text

    typer.echo(guide_text(topic))
