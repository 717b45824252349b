"""Options that several commands take, each worded once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._outputs import Writes
from feelcheck.outputs import CARD

__all__ = ["Card", "FieldOfViewDeg", "Json", "MarginMs", "TurnRateDegS"]

Json = Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else.")]
Card = Annotated[
    Path | None, Writes(CARD), typer.Option(help="Draw one picture to share into this file (.png or .svg).")
]
MarginMs = Annotated[float, typer.Option(help="Largest difference of delay that does not matter, ms.", min=0.0)]
TurnRateDegS = Annotated[float, typer.Option(help="Turn rate of the view at full throw, deg/s.", min=0.0, max=1e5)]
FieldOfViewDeg = Annotated[float, typer.Option(help="How much the picture shows across, degrees.", min=1.0, max=170.0)]
