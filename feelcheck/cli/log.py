"""`feelcheck log`: a guided recording into a new session folder."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from feelcheck.cli._outcome import remark, reports_errors
from feelcheck.cli._outputs import WritesInto
from feelcheck.cli._progress import recording_shown
from feelcheck.errors import FeelcheckError, Interrupted, RecordingStopped

__all__ = ["log"]

_NOBODY_ASKED = ("virtual", "synthetic", "replay")
_WORDS = {"connection": ("cable", "radio"), "recalibrated": ("yes", "no")}


@reports_errors
def log(
    specimen: Annotated[str, typer.Argument(help="Label of the specimen, such as alder.")] = "",
    state: Annotated[str, typer.Option(help="State of the specimen, such as c3_lifted.")] = "as_found",
    script: Annotated[
        str,
        typer.Option(
            help="default (2 min), quick (20 s), marker (button at the rim), coupled (tied sticks) or a .toml file."
        ),
    ] = "default",
    source: Annotated[str, typer.Option(help="auto, gamepad, evdev, virtual, synthetic or replay.")] = "auto",
    simulate: Annotated[str, typer.Option(help="Simulated specimen for virtual and synthetic: alder, birch, ...")] = "",
    seconds: Annotated[float | None, typer.Option(help="Stop after so many seconds.")] = None,
    headless: Annotated[bool, typer.Option("--headless", help="Prompts in the terminal instead of a window.")] = False,
    device: Annotated[
        str, typer.Option(help="Which pad, by part of its name, path or number from 0; the session for replay.")
    ] = "",
    low_power: Annotated[
        bool, typer.Option("--low-power", help="Rest between polls while reports are far apart (laptops on battery).")
    ] = False,
    seed: Annotated[int, typer.Option(help="Seed of a simulated recording.")] = 0,
    operator: Annotated[str, typer.Option(help="Who records.")] = "",
    connection: Annotated[str, typer.Option(help="cable or radio.")] = "",
    firmware: Annotated[str, typer.Option(help="Firmware version of the pad.")] = "",
    cap: Annotated[str, typer.Option(help="Cap on the stick.")] = "",
    spring: Annotated[str, typer.Option(help="Spring in the stick.")] = "",
    recalibrated: Annotated[str, typer.Option(help="yes or no: recalibrated since the last change.")] = "",
    out: Annotated[Path, WritesInto({}), typer.Option(help="Folder for the new session folder.")] = Path("sessions"),
    resume: Annotated[Path | None, typer.Option(help="Go on with this unfinished session.")] = None,
) -> None:
    """Record a session, one action asked at a time.

    Every report is kept, as it came.

    Example: feelcheck log alder

    Example: feelcheck log alder --state c3_lifted --script quick

    Example: feelcheck log --resume sessions/alder_as_found

    Example: feelcheck log alder --source virtual --seconds 30 --out sessions

    Next: feelcheck analyze SESSION.
    """
    from feelcheck import pipeline

    if resume is None and not specimen:
        raise typer.BadParameter("Name the specimen, such as: feelcheck log alder", param_hint="SPECIMEN")
    if resume is not None and specimen:
        raise typer.BadParameter(
            "A session that is resumed has its specimen: leave one of the two out.", param_hint="--resume"
        )
    if script in ("marker", "coupled") and source not in _NOBODY_ASKED:
        remark("The set-up is drawn by: feelcheck guide lag")
    own_script = "" if script == "default" else script
    given = {"connection": connection, "firmware": firmware, "cap": cap, "spring": spring, "recalibrated": recalibrated}
    given = {key: _in_words(key, text) for key, text in given.items() if text}
    with _kept_on_stop(resume, specimen), recording_shown(headless=headless) as shown:
        if resume is not None:
            folder = pipeline.resume(
                resume,
                script=own_script,
                device=device,
                low_power=low_power,
                progress=shown.progress,
                face=shown.face,
                tell=remark,
            )
        else:
            asked = pipeline.RecordingAsked(
                specimen=specimen,
                state=state,
                script=script,
                source=source,
                simulate=simulate,
                seconds=seconds,
                out=out,
                seed=seed,
                low_power=low_power,
                device=device,
                operator=operator,
                facts=given if source in _NOBODY_ASKED else lambda: _facts(given, out, specimen, state),
                progress=shown.progress,
                face=shown.face_for(source),
                tell=remark,
            )
            folder = pipeline.log(asked).folder
    _afterwards(folder)


def _facts(given: Mapping[str, str], out: Path, specimen: str, state: str) -> dict[str, str]:
    """Return what is known of the stick: as given, else as remembered, else as answered now."""
    from feelcheck import pipeline

    remembered = pipeline.remembered_facts(out, specimen=specimen, state=state)
    facts = {**remembered, **given}
    used = {key: text for key, text in remembered.items() if key not in given}
    if used:
        remark("Remembered: " + ", ".join(f"{key} {text}" for key, text in used.items()) + ".")
    if sys.stdin.isatty():
        for key, question in pipeline.questions_left(out, specimen=specimen, state=state).items():
            if key not in facts:
                facts[key] = _answer(key, question)
    return {key: text for key, text in facts.items() if text}


def _answer(key: str, question: str) -> str:
    try:
        text = str(typer.prompt(f"{question} (Enter if unknown)", default="", show_default=False, err=True))
        return _in_words(key, text) if text else ""
    except typer.BadParameter as problem:
        remark(problem.message)
        return _answer(key, question)
    except typer.Abort:
        raise KeyboardInterrupt from None


def _in_words(key: str, text: str) -> str:
    """Return a fact in the one way it is written, so that like sessions are found alike."""
    words = _WORDS.get(key, ())
    if words and text.strip().lower() not in words:
        raise typer.BadParameter(f"Say {' or '.join(words)}.", param_hint=f"--{key}")
    return text.strip().lower() if words else text.strip()


@contextmanager
def _kept_on_stop(resume: Path | None, specimen: str) -> Iterator[None]:
    """Say where a recording is that was ended early, and how good it is, or that there is none; exit as Ctrl-C does."""
    try:
        yield
    except RecordingStopped as stop:
        remark(str(stop))
        remark(_quality(stop.folder))
        remark(_next_after_stop(stop.folder))
        raise typer.Exit(stop.exit_code) from None
    except KeyboardInterrupt as stop:
        ended = stop if isinstance(stop, Interrupted) else Interrupted()
        left = "no session was left behind" if resume is None else "the session is as it was"
        remark(f"{ended.who} before anything was recorded: {left}.")
        remark(f"Next: feelcheck log {specimen if resume is None else f'--resume {resume}'}")
        raise typer.Exit(ended.exit_code) from None


def _next_after_stop(folder: Path) -> str:
    from feelcheck import pipeline

    (session,) = pipeline.sessions(folder)
    return f"Next: feelcheck log --resume {folder}" if session.resumable else f"Next: feelcheck analyze {folder}"


def _quality(folder: Path) -> str:
    """Write into the session how good it is; return that, or why it cannot be told, as words."""
    from feelcheck import pipeline

    try:
        return str(pipeline.note_capture(folder))
    except FeelcheckError as problem:
        return str(problem)


def _afterwards(folder: Path) -> None:
    """Say where the session is, how good it is, what it says beside the last one, and what comes next."""
    from feelcheck import pipeline
    from feelcheck.renderers.sessions_text import answer_text

    typer.echo(str(folder))
    remark(_quality(folder))
    answer = pipeline.quick_answer(folder, tell=remark)
    if answer:
        remark(answer_text(answer))
    remark(f"Next: feelcheck analyze {folder}")
