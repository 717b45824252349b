"""`feelcheck log`: a guided recording into a new session folder."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from feelcheck.cli._outcome import remark, reports_errors
from feelcheck.cli._progress import recording_shown

__all__ = ["log"]


@reports_errors
def log(
    specimen: Annotated[str, typer.Argument(help="Label of the specimen, such as alder.")] = "",
    state: Annotated[str, typer.Option(help="State of the specimen, such as c3_lifted.")] = "as_found",
    script: Annotated[
        str, typer.Option(help="default (2 minutes), quick (20 s), marker (button at the rim), coupled (tied sticks).")
    ] = "default",
    source: Annotated[str, typer.Option(help="auto, gamepad, evdev, virtual, synthetic or replay.")] = "auto",
    simulate: Annotated[str, typer.Option(help="Simulated specimen for virtual and synthetic: alder, birch, ...")] = "",
    seconds: Annotated[float | None, typer.Option(help="Stop after this long.")] = None,
    headless: Annotated[bool, typer.Option("--headless", help="Prompts in the terminal instead of a window.")] = False,
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
    resume: Annotated[Path | None, typer.Option(help="Go on with this session, which was left unfinished.")] = None,
) -> None:
    """Record a session: one action asked at a time, every report kept.

    Example: feelcheck log alder

    Example: feelcheck log alder --source virtual --seconds 30 --out sessions

    Next: feelcheck analyze SESSION.
    """
    from feelcheck import pipeline

    if resume is not None:
        with recording_shown(headless=headless) as shown:
            folder = pipeline.resume(
                resume, device=device, low_power=low_power, progress=shown.progress, face=shown.face
            )
        _afterwards(folder, script)
        return
    if not specimen:
        raise typer.BadParameter("Name the specimen, such as: feelcheck log alder", param_hint="SPECIMEN")
    given = {"connection": connection, "firmware": firmware, "cap": cap, "spring": spring, "recalibrated": recalibrated}
    simulated = source in ("virtual", "synthetic", "replay")
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
        "facts": {key: text for key, text in given.items() if text}
        if simulated
        else _facts(given, pipeline.remembered_facts(out, specimen=specimen, state=state)),
        "tell": remark,
    }
    with recording_shown(headless=headless) as shown:
        folder = pipeline.log(specimen, **options, progress=shown.progress, face=shown.face)
    _afterwards(folder, script)


def _facts(given: Mapping[str, str], remembered: Mapping[str, str]) -> dict[str, str]:
    """Return what is known of the stick: as given, else as remembered, else as answered now."""
    from feelcheck.pipeline import QUESTIONS

    facts = {key: text for key, text in {**remembered, **{k: v for k, v in given.items() if v}}.items() if text}
    used = {key: text for key, text in remembered.items() if not given.get(key)}
    if used:
        remark("Remembered: " + ", ".join(f"{key} {text}" for key, text in used.items()) + ".")
    if sys.stdin.isatty():
        for key, question in QUESTIONS.items():
            if key not in facts:
                facts[key] = typer.prompt(f"{question} (Enter if unknown)", default="", show_default=False, err=True)
    return {key: text for key, text in facts.items() if text}


def _afterwards(folder: Path, script: str) -> None:
    """Say where the session is, how good it is, what it says beside the last one, and what comes next."""
    from feelcheck import pipeline
    from feelcheck.errors import FormatError
    from feelcheck.renderers import answer_text

    typer.echo(str(folder))
    try:
        remark(pipeline.note_capture(folder))
    except FormatError as problem:
        remark(str(problem))
        return
    if script == "quick":
        answer = pipeline.quick_answer(folder, tell=remark)
        if answer:
            remark(answer_text(answer))
    remark(f"Next: feelcheck analyze {folder}")
