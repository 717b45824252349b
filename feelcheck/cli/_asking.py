"""`feelcheck bench --ask`: cursor readings typed at prompts, one edge after another."""

from __future__ import annotations

import typer

from feelcheck.errors import FeelcheckError, FormatError

__all__ = ["asked_readings"]

QUESTIONS = (("t10", "10 % at"), ("t50", "50 % at"), ("t90", "90 % at"))


def asked_readings() -> list[str]:
    """Return what was typed, as lines in words; a line that is not understood is asked for again.

    Raises
    ------
    FormatError
        If the answers end before there is an edge.
    """
    typer.echo("Cursor readings, times with their unit (such as 3.7 ms). Enter leaves a question out.", err=True)
    lines: list[str] = []
    try:
        while True:
            lines.append(_edge(lines))
            if not typer.confirm("Another edge?", default=False, err=True):
                break
        drive = _time("The drive's own 10 to 90 %, if you know it")
    except typer.Abort:
        facts = {"edges typed": len(lines)}
        raise FormatError("The questions need answers.", facts, "Answer them, or give --reading instead.") from None
    return [*lines, *([f"drive rise = {drive}"] if drive else [])]


def _edge(before: list[str]) -> str:
    from feelcheck.formats.reading_lines import parse_readings

    while True:
        way = typer.prompt("Which edge, rising or falling", default="falling" if before else "rising", err=True)
        told = {name: _time(words) for name, words in QUESTIONS}
        span = "" if told["t10"] and told["t90"] else _time("10 to 90 % as one time")
        half = _time("The drive is half-way at")
        error = _time("How far a reading can be off, either way")
        said = {**told, "10-90": span, "drive": half, "error": error}
        line = ", ".join(f"{way if name != 'drive' else ''} {name} = {value}" for name, value in said.items() if value)
        try:
            parse_readings(line)
        except FeelcheckError as problem:
            typer.echo(f"{problem.sentence} Once more.", err=True)
            continue
        return line


def _time(words: str) -> str:
    """A time as typed, empty if it was left out; asked again until it is one."""
    from feelcheck.formats.reading_lines import time_in_words

    while True:
        typed = str(typer.prompt(words, default="", show_default=False, err=True)).strip()
        try:
            if typed:
                time_in_words(typed.lstrip("-"))
        except FeelcheckError as problem:
            typer.echo(f"{problem.sentence} {problem.next_step}", err=True)
            continue
        return typed
