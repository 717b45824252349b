"""`feelcheck rehearse`: feel a response before it is soldered, and find out what you can tell apart."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, cast

import typer

from feelcheck.cli._options import Json
from feelcheck.cli._outcome import remark, reports_errors
from feelcheck.cli._outputs import WritesInto
from feelcheck.cli._progress import recording_shown

__all__ = ["rehearse"]


@reports_errors
def rehearse(
    references: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[RECORD|CAPTURE]...",
            help="What is played: alder.toml, alder.toml@c3_lifted, birch.toml@c3=100n, a capture, a session.",
        ),
    ] = None,
    task: Annotated[str, typer.Option(help="free, trials (two responses), staircase (own threshold) or aiming.")] = "",
    own: Annotated[
        str, typer.Option(help="Record or session of the stick in hand, or ideal; without it that is measured first.")
    ] = "",
    trials: Annotated[int | None, typer.Option(help="Trials that are to count; 23, or 60 for a threshold.")] = None,
    ask: Annotated[str, typer.Option(help="stop (which was slower to stop?) or follow.")] = "stop",
    slow: Annotated[str, typer.Option(help="What a staircase slows: both ways, or falling alone.")] = "both",
    placement: Annotated[str, typer.Option(help="adaptive, two_down or three_down.")] = "adaptive",
    targets: Annotated[int, typer.Option(help="Targets on the ring when aiming; odd.")] = 9,
    hand: Annotated[str, typer.Option(help="left or right: which stick, and where the words stand.")] = "left",
    observer_threshold_ms: Annotated[
        float | None, typer.Option(help="A simulated observer of that threshold answers, ms.")
    ] = None,
    seed: Annotated[int | None, typer.Option(help="Seed of the sealed order and of a simulated observer.")] = None,
    source: Annotated[str, typer.Option(help="auto, gamepad, evdev, or virtual (a simulated pad).")] = "auto",
    device: Annotated[str, typer.Option(help="Which pad, by part of its name, path or number from 0.")] = "",
    hide_names: Annotated[bool, typer.Option("--hide-names", help="Free feel: call the two A and B only.")] = False,
    interval_s: Annotated[float, typer.Option(help="How long each of the two of a trial is felt, s.")] = 3.5,
    control: Annotated[
        list[str] | None, typer.Option(help="Place a control elsewhere: first=button_3, go=key:g, ... (repeatable).")
    ] = None,
    theme: Annotated[str, typer.Option(help="light or dark.")] = "light",
    size: Annotated[str, typer.Option(help="normal or large.")] = "normal",
    out: Annotated[Path, WritesInto({}), typer.Option(help="Folder for the session folder.")] = Path("sessions"),
    headless: Annotated[bool, typer.Option("--headless", help="No window: a simulated observer plays.")] = False,
    note_in: Annotated[str, typer.Option(help="Record that the result is noted in, such as profiles/alder.toml.")] = "",
    person: Annotated[str, typer.Option(help="Who answered, as noted in the record.")] = "",
    json: Json = False,
) -> None:
    """Play a response on the stick in hand, before anyone heats an iron.

    Your own stick answers like a record, a capture or a change of parts; only what is slower than it can be played.
    Blind trials tell whether you can name the slower one, a staircase tells your own threshold.

    Example: feelcheck rehearse profiles/alder.toml profiles/birch.toml@c3=100n

    Example: feelcheck rehearse profiles/alder.toml profiles/birch.toml --task trials --note-in profiles/birch.toml

    Example: feelcheck rehearse --headless --observer-threshold-ms 12 --seed 1

    Next: feelcheck report, which sets your threshold beside the measured differences.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.rehearsal_json import rehearsal_json
    from feelcheck.renderers.rehearsal_text import rehearsal_text

    asked = pipeline.RehearsalAsked(
        task=task,
        own=own,
        n_trials=trials,
        placement=placement,
        slowness=cast(Literal["both", "falling"], slow),
        question=ask,
        observer_threshold_s=None if observer_threshold_ms is None else observer_threshold_ms / 1e3,
        seed=seed,
        side=hand,
        n_targets=targets,
        headless=headless,
        source=source,
        device=device,
        hide_names=hide_names,
        interval_s=interval_s,
        controls=tuple(control or ()),
        theme=theme,
        size=size,
        out=str(out),
    )
    if note_in:
        pipeline.read_profile(Path(note_in))
    ended = None
    with recording_shown(headless=False) as shown:
        try:
            result = pipeline.rehearse(references or (), asked, tell=remark, face=shown.face)
        except pipeline.RehearsalStopped as stop:
            result, ended = stop.result, stop
    typer.echo(rehearsal_json(result) if json else rehearsal_text(result))
    if result.folder:
        remark(f"Every report and answer: {result.folder}")
    if note_in:
        pipeline.note_rehearsal(Path(note_in), result, person=person)
        remark(f"Noted in {note_in}. Next: feelcheck report {note_in} --out report.html")
    if ended is not None:
        remark(f"{ended.who}; what was answered is kept.")
        raise typer.Exit(ended.exit_code)
