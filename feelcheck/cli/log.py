"""`feelcheck log`: a guided recording into a new session folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from feelcheck.cli._outcome import remark, reports_errors
from feelcheck.cli._progress import terminal_progress

__all__ = ["log"]


@reports_errors
def log(
    specimen: Annotated[str, typer.Argument(help="Label of the specimen, such as alder.")],
    state: Annotated[str, typer.Option(help="State of the specimen, such as c3_lifted.")] = "as_found",
    script: Annotated[str, typer.Option(help="What to do: default (two minutes), quick (20 s).")] = "default",
    source: Annotated[str, typer.Option(help="auto, gamepad, evdev, virtual, synthetic or replay.")] = "auto",
    simulate: Annotated[str, typer.Option(help="Simulated specimen for virtual and synthetic: alder, birch, ...")] = "",
    seconds: Annotated[float | None, typer.Option(help="Stop after this long.")] = None,
    headless: Annotated[
        bool, typer.Option("--headless", help="Prompts in the terminal, which is what there is.")
    ] = False,
    device: Annotated[str, typer.Option(help="Which pad, by part of its name or path; the session for replay.")] = "",
    low_power: Annotated[bool, typer.Option("--low-power", help="Rest between polls (laptops on battery).")] = False,
    seed: Annotated[int, typer.Option(help="Seed of a simulated recording.")] = 0,
    operator: Annotated[str, typer.Option(help="Who records.")] = "",
    connection: Annotated[str, typer.Option(help="cable or radio.")] = "",
    firmware: Annotated[str, typer.Option(help="Firmware version of the pad.")] = "",
    cap: Annotated[str, typer.Option(help="Cap on the stick.")] = "",
    spring: Annotated[str, typer.Option(help="Spring in the stick.")] = "",
    recalibrated: Annotated[str, typer.Option(help="yes or no: recalibrated since the last change.")] = "",
    out: Annotated[Path, typer.Option(help="Folder for the new session folder.")] = Path("sessions"),
) -> None:
    """Record a session: one action asked at a time, every report kept.

    Example: feelcheck log alder

    Example: feelcheck log alder --source virtual --seconds 30 --out sessions

    Next: feelcheck analyze SESSION.
    """
    from feelcheck import pipeline

    given = {"connection": connection, "firmware": firmware, "cap": cap, "spring": spring, "recalibrated": recalibrated}
    options: dict[str, Any] = {
        "state": state,
        "script": script,
        "source": source,
        "simulate": simulate,
        "seconds": seconds,
        "out": out,
        "seed": seed,
        "device": device,
        "low_power": low_power,
        "operator": operator,
        "facts": {name: value for name, value in given.items() if value},
    }
    if not headless:
        remark("The prompts appear here, in the terminal.")
    with terminal_progress() as progress:
        folder = pipeline.log(specimen, **options, progress=progress)
    typer.echo(str(folder))
    remark(f"Next: feelcheck analyze {folder}")
