"""`feelcheck parts`: from parts to the response they cause, and back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._options import Json
from feelcheck.cli._outcome import reports_errors

__all__ = ["parts"]


@reports_errors
def parts(
    resistor: Annotated[str, typer.Option(help="Series resistor, such as 4.7k or 4k7.")] = "",
    capacitor: Annotated[str, typer.Option(help="Capacitor behind it, such as 1u or 560n.")] = "",
    pin_capacitor: Annotated[str, typer.Option(help="Capacitor straight on the output pin.")] = "",
    load: Annotated[str, typer.Option(help="Load from the output to ground.")] = "",
    source: Annotated[str, typer.Option(help="Resistance through which the output sources.")] = "",
    sink_resistor: Annotated[str, typer.Option(help="Resistor to ground by which it sinks.")] = "",
    sink_current: Annotated[str, typer.Option(help="Constant current by which it sinks, such as 20u.")] = "",
    resistor_tolerance: Annotated[float | None, typer.Option(help="Tolerance of resistors, %.", min=0.01)] = None,
    capacitor_tolerance: Annotated[float | None, typer.Option(help="Tolerance of capacitors, %.", min=0.01)] = None,
    dielectric: Annotated[str, typer.Option(help="Class of the capacitors: X7R, X5R, C0G, ...")] = "",
    board: Annotated[str, typer.Option(help="Kind of board whose parts stand where none is given; see plugins.")] = "",
    high_v: Annotated[float, typer.Option(help="Upper level of the output, V.")] = 1.6,
    low_v: Annotated[float, typer.Option(help="Lower level of the output, V.")] = 0.2,
    from_bench: Annotated[Path | None, typer.Option(help="Capture from which the unknown part is inferred.")] = None,
    direction: Annotated[str, typer.Option(help="Edge used by --from-bench: rising or falling.")] = "rising",
    what_if: Annotated[list[str] | None, typer.Option(help="A change, such as capacitor=lifted.")] = None,
    json: Json = False,
) -> None:
    """Predict a response from parts, or infer a part.

    A part is inferred from a capture; --what-if asks what a change would do.

    Example: feelcheck parts --resistor 4.7k --capacitor 1u --what-if capacitor=lifted

    Example: feelcheck parts --resistor 4.7k --from-bench demo_logs/birch_field_step.csv

    Next: feelcheck bench, to see whether the board does as its parts say.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.parts_text import parts_json, parts_text, what_if_text

    asked = pipeline.PartsAsked(
        resistor=resistor,
        capacitor=capacitor,
        pin_capacitor=pin_capacitor,
        load=load,
        source=source,
        sink_resistor=sink_resistor,
        sink_current=sink_current,
        resistor_tolerance=None if resistor_tolerance is None else resistor_tolerance / 100,
        capacitor_tolerance=None if capacitor_tolerance is None else capacitor_tolerance / 100,
        dielectric=dielectric,
        low_v=low_v,
        high_v=high_v,
    )
    asked = pipeline.on_board(board, asked) if board else asked
    result = pipeline.parts(asked, from_bench=from_bench, direction=direction)
    changes = pipeline.parts_what_if(asked, what_if or [])
    typer.echo(parts_json(result) if json else parts_text(result))
    for change in () if json else changes:
        typer.echo("\n" + what_if_text(change))
