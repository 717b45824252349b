"""`feelcheck bench --watch`: a line a capture while the folder fills, and the table of the sitting at the end."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import typer

from feelcheck.cli._outcome import remark
from feelcheck.errors import FormatError, OutputError

__all__ = ["Asked", "watched"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Which captures are asked for: files, or those that will land in a folder."""

    paths: Sequence[Path]
    watch: Path | None
    against: Path | None
    count: int | None
    readings: bool = False

    def check(self) -> None:
        """Refuse nothing, several kinds at once, and options of a watched folder without one.

        Raises
        ------
        FormatError
            Naming what goes together.
        """
        if self.watch is None and self.count is not None:
            raise FormatError("--count belongs to --watch.", {}, "Name the folder with --watch FOLDER.")
        if self.watch is not None and self.paths:
            facts = {"got": ", ".join(map(str, self.paths))}
            raise FormatError("Either files are measured or a folder is watched.", facts, "Leave out one of them.")
        if self.readings and (self.watch is not None or self.paths):
            raise FormatError("Either readings are typed or files are measured.", {}, "Leave out one of them.")
        if self.watch is None and not self.paths and not self.readings:
            raise FormatError(
                "There is nothing to measure.", {},
                "Name a capture, watch a folder with --watch FOLDER, or type cursor readings with --reading or --ask.",
            )  # fmt: skip
        if self.against is not None and not self.against.exists():
            raise FormatError("There is no such file.", {"file": self.against}, "Check the name behind --against.")


def watched(asked: Asked, options: Mapping[str, Any], *, plot: Path | None, as_json: bool) -> None:
    """Watch until the count is reached or Ctrl-C; then print the sitting. Lines go to stderr with JSON on stdout."""
    from feelcheck import pipeline
    from feelcheck.renderers.sitting_text import landed_line, sitting_json, sitting_text

    watch = pipeline.Watch(folder=asked.watch or Path(), against=asked.against, options=options)
    say = remark if as_json else typer.echo
    picture = _Picture(plot, watch.folder)
    try:
        n_there = watch.begin()
        alone = f" What is there already ({n_there}) is left alone." if n_there else ""
        remark(f"Watching {watch.folder}: each new capture is measured as it lands.{alone} Ctrl-C ends.")
        with _measuring(watch):
            for landed in watch.run(asked.count):
                say(landed_line(landed, watch.sitting.reference))
                if landed.result is not None:
                    picture.draw(watch, landed.result)
    except KeyboardInterrupt:
        remark("")
    typer.echo(sitting_json(watch.sitting) if as_json else "\n" + sitting_text(watch.sitting))


class _Picture:
    """The picture that is drawn anew with every capture; where it can't be written that is said once."""

    def __init__(self, plot: Path | None, folder: Path) -> None:
        from feelcheck.pipeline import LAST_EDGE

        self._path: Path | None = plot or folder / LAST_EDGE
        self._told = False

    def draw(self, watch: Any, result: Any) -> None:
        if self._path is None:
            return
        try:
            watch.draw(result, self._path)
        except (OutputError, OSError) as problem:
            remark(f"No picture: {problem.sentence if isinstance(problem, OutputError) else problem}")
            self._path = None
            return
        if not self._told:
            remark(f"The last edges are drawn in {self._path}, anew with every capture.")
            self._told = True


@contextmanager
def _measuring(watch: Any) -> Iterator[None]:
    """Show which file is being measured, on a terminal only."""
    from rich.console import Console

    console = Console(stderr=True)
    if not console.is_terminal:
        yield
        return
    with console.status("waiting for a capture") as status:
        watch.measuring = lambda path: status.update(f"measuring {path.name}")
        yield
