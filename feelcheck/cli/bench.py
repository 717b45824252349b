"""`feelcheck bench`: the response on the bench from a scope capture."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from feelcheck.cli._documents import As, check_document, show_document
from feelcheck.cli._options import Card, Json
from feelcheck.cli._outcome import reports_errors
from feelcheck.cli._outputs import Writes
from feelcheck.cli._pictures import draw_asked
from feelcheck.cli._watching import Asked, watched
from feelcheck.errors import FeelcheckError, FormatError
from feelcheck.outputs import BENCH_FIGURE
from feelcheck.phases import phase

__all__ = ["bench"]


@reports_errors
def bench(
    context: typer.Context,
    paths: Annotated[
        list[Path] | None,
        typer.Argument(help="Captures: channels of one, or repeats of it; or cursor readings typed into a file."),
    ] = None,
    drive: Annotated[
        str | None, typer.Option(help="Column of the drive (coil current, field, command); none: no column drives.")
    ] = None,
    output: Annotated[str | None, typer.Option(help="Column of the sensor's output.")] = None,
    time: Annotated[str | None, typer.Option(help="Column of the time.")] = None,
    time_unit: Annotated[str | None, typer.Option(help="Unit of the time column: s, ms, us, ns or min.")] = None,
    interval: Annotated[str | None, typer.Option(help="Sample interval with its unit, such as 4us, or a rate.")] = None,
    scope: Annotated[
        list[str] | None, typer.Option(help="A scope setting that the file does not tell, such as supply=1.8V.")
    ] = None,
    drive_rise: Annotated[
        str | None, typer.Option(help="10 to 90 % of a drive that was not captured, with its unit, such as 2.5ms.")
    ] = None,
    reading: Annotated[
        list[str] | None,
        typer.Option(help='Cursor readings in place of a file, such as "rise 10-90 = 9.1 ms, error = 0.1 ms".'),
    ] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Ask for cursor readings, edge by edge.")] = False,
    watch: Annotated[
        Path | None,
        typer.Option(help="Measure every new capture in this folder as it lands; Ctrl-C ends.", metavar="FOLDER"),
    ] = None,
    against: Annotated[
        Path | None,
        typer.Option(
            help="A table of feelcheck survey: say where this lies among those; with --watch: the capture to hold the "
            "others against, else the first."
        ),
    ] = None,
    count: Annotated[int | None, typer.Option(help="With --watch: end after this many captures.", min=1)] = None,
    json: Json = False,
    plot: Annotated[
        Path | None,
        Writes(BENCH_FIGURE, one_each="paths"),
        typer.Option(help="Draw edges and fit into this file (.png or .svg)."),
    ] = None,
    card: Card = None,
    as_: As = None,
) -> None:
    """Measure a sensor's response to a stepped field.

    It goes edge by edge, and the drive's own slowness is taken out.

    Example: feelcheck bench demo_logs/birch_field_step.csv --plot birch.svg

    Example: feelcheck bench --reading "rise 10-90 = 9.1 ms, error = 0.1 ms, drive rise = 2 ms"

    A file of cursor readings is a table: direction,t10_ms,t50_ms,t90_ms,error_ms above rising,0.5,3.7,10.8,0.1

    Example: feelcheck bench --watch /media/scope --against before.csv

    Next: feelcheck profile add, to keep it; feelcheck parts --from-bench, to ask which parts it fits.
    """
    from feelcheck import pipeline

    pipeline.check_heads(paths or [])
    from feelcheck.renderers.bench_json import bench_json
    from feelcheck.renderers.bench_text import bench_text
    from feelcheck.renderers.survey_words import placed_text

    settings = {name: value for name, _, value in (word.partition("=") for word in scope or [])}
    options: dict[str, Any] = {
        "drive": drive, "output": output, "time": time, "time_unit": time_unit, "interval": interval,
        "drive_rise": drive_rise,
    }  # fmt: skip
    asked = Asked(paths=paths or [], watch=watch, against=against, count=count, readings=bool(reading) or ask)
    asked.check()
    check_document(as_, "bench")
    if watch is not None:
        watched(asked, {**options, "settings": settings}, plot=plot, as_json=json)
        return
    if against is not None:
        pipeline.check_population(against)
    readings = [*(reading or []), *(asked_readings() if ask else [])]
    results = pipeline.bench_many(asked.paths, **options, settings=settings, readings=readings)
    placed = None if against is None else pipeline.placed_in(against, results)
    if as_ is not None:
        show_document(as_, "bench", results)
    else:
        typer.echo(bench_json(results, placed) if json else bench_text(results))
    if placed is not None and not json and as_ is None:
        typer.echo(placed_text(against, placed))
    draw_asked(context, results, plot=plot, card=card)


QUESTIONS = (("t10", "10 % at"), ("t50", "50 % at"), ("t90", "90 % at"))
UNIT = "A time needs its unit. Write it like 2.5 ms, or leave it out with Enter."
POSITIVE = "This time is never negative. Write it like 2.5 ms, or leave it out with Enter."


def asked_readings() -> list[str]:
    """Return what was typed, as lines in words; an answer that is not understood is asked for again.

    Raises
    ------
    FormatError
        If the answers end before there is an edge.
    KeyboardInterrupt
        If the person stops.
    """
    phase("")  # the questions show what runs
    typer.echo("Cursor readings, times with their unit (such as 3.7 ms). Enter leaves a question out.", err=True)
    lines: list[str] = []
    try:
        while (line := _edge(lines)) is not None:
            lines.append(line)
            if not typer.confirm("Another edge?", default=False, err=True):
                break
        drive = _time("The drive's own 10 to 90 %, if you know it", positive=True)
    except typer.Abort as stop:
        if isinstance(stop.__context__, KeyboardInterrupt):
            raise KeyboardInterrupt from None
        facts = {"edges typed": len(lines)}
        raise FormatError("The questions need answers.", facts, "Answer them, or give --reading instead.") from None
    return [*lines, *([f"drive rise = {drive}"] if drive else [])]


def _edge(before: list[str]) -> str | None:
    """One edge in words; None where nothing was typed of one more."""
    from feelcheck.formats.reading_lines import parse_readings

    while True:
        way = _way("falling" if before else "rising")
        told = {name: _time(words) for name, words in QUESTIONS}
        span = "" if told["t10"] and told["t90"] else _time("10 to 90 % as one time", positive=True)
        half = _time("The drive is half-way at")
        error = _time("How far a reading can be off, either way", positive=True)
        said = {**told, "10-90": span, "drive": half, "error": error}
        if before and not any(said.values()):
            return None
        line = ", ".join(f"{way if name != 'drive' else ''} {name} = {value}" for name, value in said.items() if value)
        try:
            parse_readings(line)
        except FeelcheckError as problem:
            typer.echo(f"{problem.sentence} Once more.", err=True)
            continue
        return line


def _way(default: str) -> str:
    """The direction of an edge; asked again until it is one."""
    from feelcheck.model.quantities import DIRECTIONS

    while True:
        typed = str(typer.prompt("Which edge, rising or falling", default=default, err=True)).strip().lower()
        found = [way for way in DIRECTIONS if typed and way.startswith(typed)]
        if found:
            return found[0]
        typer.echo("An edge is rising or falling.", err=True)


def _time(words: str, *, positive: bool = False) -> str:
    """A time as typed, empty if it was left out; asked again until it is one."""
    from feelcheck.formats.reading_lines import time_in_words

    while True:
        typed = str(typer.prompt(words, default="", show_default=False, err=True)).strip()
        if not typed:
            return ""
        # Only an instant may be 0 or before the trigger: with a digit more in front it is a time of any other kind.
        try:
            time_in_words(typed if positive else f"1{typed.lstrip('+-')}")
        except FeelcheckError:
            typer.echo(POSITIVE if positive and typed.startswith("-") else UNIT, err=True)
            continue
        return typed
