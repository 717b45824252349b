"""`feelcheck survey`: many sessions, logs and captures in one table."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Annotated, Any

import typer

from feelcheck.cli._options import Json
from feelcheck.cli._outcome import remark, reports_errors
from feelcheck.cli._outputs import Writes
from feelcheck.counted import counted
from feelcheck.errors import Interrupted
from feelcheck.outputs import SURVEY_TABLE
from feelcheck.phases import phase

__all__ = ["survey"]

SECONDS_A_LINE = 5.0


@reports_errors
def survey(
    paths: Annotated[list[Path], typer.Argument(help="Folders, sessions, logs and captures.")],
    out: Annotated[
        Path, Writes(SURVEY_TABLE), typer.Option(help="The table (.csv or .parquet); the page goes beside it (.html).")
    ],
    jobs: Annotated[
        int | None, typer.Option(help="Processes on this machine; all processors if not given.", min=1)
    ] = None,
    dask: Annotated[str, typer.Option(help="Address of a Dask scheduler, such as tcp://bench:8786.")] = "",
    again: Annotated[bool, typer.Option("--again", help="Measure unchanged files anew, too.")] = False,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="Replace a CSV file even if it cannot be told to be an older table.")
    ] = False,
    json: Json = False,
) -> None:
    """Measure all that was recorded into one table.

    A page of the population stands beside it: distributions, control charts, outliers, pairs, what is unfinished. What
    each file is, is recognised; a bad one becomes a row with its reason. Files that did not change are not measured
    again. Ctrl-C keeps what is done.

    Example: feelcheck survey sessions captures --out sticks.csv

    Example: feelcheck survey /shared/returns --dask tcp://bench:8786 --out returns.parquet

    Next: feelcheck analyze NEW --against sticks.csv, to see where a new one lies.
    """
    from feelcheck import pipeline
    from feelcheck.renderers.survey_text import survey_json, survey_text

    with _Shown() as shown:
        result = pipeline.survey(
            paths, out, jobs=jobs, dask=dask, again=again, overwrite=overwrite, progress=shown.show
        )
    typer.echo(survey_json(result) if json else survey_text(result))
    if result.interrupted:
        remark("What is done is kept, and the same command goes on.")
        raise Interrupted


class _Shown:
    """A bar in a terminal, else a line every few seconds."""

    def __init__(self) -> None:
        self._bar: Any = None
        self._task: Any = None
        self._said_s = time.monotonic()

    def __enter__(self) -> _Shown:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn

        phase("")
        console = Console(stderr=True)
        if console.is_terminal:
            columns = (TextColumn("measuring"), BarColumn(bar_width=24), TextColumn("{task.description}"))
            self._bar = Progress(*columns, console=console, transient=True)
            self._task = self._bar.add_task("reading the folders", total=None)
            self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar is not None:
            self._bar.stop()

    def show(self, now: Any) -> None:
        words = progress_words(now)
        if self._bar is not None:
            self._bar.update(self._task, description=words, completed=now.done, total=now.total)
        elif time.monotonic() - self._said_s > SECONDS_A_LINE:
            self._said_s = time.monotonic()
            remark(f"measuring: {words}")


def progress_words(now: Any) -> str:
    """Return how far a survey came, and about how long it still takes.

    Parameters
    ----------
    now : feelcheck.survey.Progress
        One instant.
    """
    words = [f"{now.done} of {counted(now.total, 'file')}"]
    words += [f"{now.unchanged} unchanged"] if now.unchanged else []
    words += [f"{now.failed} not measured"] if now.failed else []
    if now.left_s is not None and now.done < now.total:
        left_s = int(now.left_s)
        words.append(f"about {left_s // 60} min left" if left_s >= 90 else f"about {left_s} s left")
    return ", ".join(words)
