"""Progress of a recording in the terminal, on stderr."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

__all__ = ["terminal_progress"]


@contextmanager
def terminal_progress() -> Iterator[Callable[[Any], None]]:
    """Yield a callback that shows what is asked now, how far the script is, and how many rows were written."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    console = Console(stderr=True)
    columns = (
        TextColumn("{task.description}"),
        BarColumn(bar_width=24),
        TimeRemainingColumn(),
        TextColumn("{task.fields[rows]} rows"),
    )
    with Progress(*columns, console=console, transient=not console.is_terminal) as bar:
        task = bar.add_task("waiting for the first report", total=None, rows=0)

        def show(now: Any) -> None:
            words = now.step.say if now.step is not None and now.step.say else "recording"
            bar.update(task, description=words, completed=now.elapsed_s, total=now.total_s, rows=now.n_rows)

        yield show
