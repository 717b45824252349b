"""How a command begins, goes on and ends: inputs within limits, slow phases named, one clear message, an exit code."""

from __future__ import annotations

import contextlib
import functools
import os
import stat
import sys
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, ParamSpec, TypeVar, cast

import typer

from feelcheck.cli._outputs import bound, check_outputs, paths_read
from feelcheck.errors import FeelcheckError, FormatError, Interrupted
from feelcheck.outputs import disk_of
from feelcheck.phases import told_to
from feelcheck.plain_text import HarmlessStream, harmless

__all__ = ["SlowPhases", "remark", "reports_errors", "slow_phases_named"]

P = ParamSpec("P")
R = TypeVar("R")

EXIT_BAD_INPUT = 2
PATIENCE_S = 1.0
GETTING_READY = "getting ready"
"""What runs from a command's beginning to its first phase: libraries are loaded."""


class SlowPhases:
    """Says the name of a phase once it has lasted for a while; a quick one passes without a word.

    Parameters
    ----------
    say : callable
        Takes one line, from another thread.
    patience_s : float, s
        How long a phase may last unnamed.
    """

    def __init__(self, say: Callable[[str], None], patience_s: float = PATIENCE_S) -> None:
        self._say, self._patience_s = say, patience_s
        self._timer: threading.Timer | None = None

    def __call__(self, words: str) -> None:
        """Take the next phase; the one before is over."""
        self.over()
        if not words:
            return
        self._timer = threading.Timer(self._patience_s, self._say, [f"{words} ..."])
        self._timer.daemon = True
        self._timer.start()

    def over(self) -> None:
        """Nothing runs any more that needs a name."""
        if self._timer is not None:
            self._timer.cancel()


@contextmanager
def slow_phases_named(say: Callable[[str], None]) -> Iterator[None]:
    """Name slow phases inside the block where somebody watches: where stderr is a terminal.

    Parameters
    ----------
    say : callable
        Takes one line.
    """
    if not sys.stderr.isatty():
        yield
        return
    phases = SlowPhases(say)
    try:
        with told_to(phases):
            phases(GETTING_READY)
            yield
    finally:
        phases.over()


LARGEST, LONGEST = 1e12, 4096


def check_inputs(arguments: Mapping[str, Any], paths: Iterable[Path]) -> None:
    """Refuse numbers beyond all measure, endless texts, and pipes and devices in place of files.

    Parameters
    ----------
    arguments : Mapping[str, Any]
        What the command was called with, by name.
    paths : iterable of Path
        The files and folders that it leads to.

    Raises
    ------
    FormatError
        With the name of the option, what it got and what it takes.
    """
    for name, value in arguments.items():
        for one in value if isinstance(value, list | tuple) else (value,):
            _check(f"--{name.replace('_', '-')}", one)
    for path in paths:
        mode = path.stat().st_mode
        if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
            raise FormatError("A pipe or a device is no file.", {"got": path}, "Save what comes out of it as a file.")


def _check(option: str, value: object) -> None:
    if isinstance(value, bool):
        return
    if isinstance(value, int | float) and not abs(value) <= LARGEST:
        shown = f"{value:g}" if isinstance(value, float) else f"a number of {len(hex(value)) - 2} hexadecimal digits"
        allowed = f"{-LARGEST:g} to {LARGEST:g}"
        raise FormatError(f"{option} needs a finite number.", {"got": shown, "allowed": allowed}, "Give another one.")
    if isinstance(value, str | Path) and (len(str(value)) > LONGEST or "\0" in str(value)):
        facts = {"got": f"{len(str(value))} characters", "allowed": f"{LONGEST}, none of them null"}
        raise FormatError(f"{option} needs a shorter text.", facts, "Give another one.")


def reports_errors(command: Callable[P, R]) -> Callable[P, R]:
    """Wrap a command: its outputs are checked first, and an error raised on purpose is printed without a traceback."""

    @functools.wraps(command)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            arguments = bound(command, args, kwargs)
            check_inputs(arguments, paths_read(command, arguments))
            check_outputs(command, arguments)
            with contextlib.redirect_stdout(cast(IO[str], HarmlessStream(sys.stdout))), slow_phases_named(remark):
                return command(*args, **kwargs)
        except FeelcheckError as error:
            remark(str(error))
            raise typer.Exit(EXIT_BAD_INPUT) from None
        except KeyboardInterrupt as stop:
            ended = stop if isinstance(stop, Interrupted) else Interrupted()
            remark(f"{ended.who}.")
            raise typer.Exit(ended.exit_code) from None
        except BrokenPipeError:
            # Who read the output is gone (a pager, head); without stderr Python keeps silent about it at its end, too.
            sys.stderr.close()
            raise typer.Exit(0) from None
        except OSError as error:
            remark(f"The system refused: {error.strerror or error}.{file_and_disk(error.filename)}")
            raise typer.Exit(EXIT_BAD_INPUT) from None

    return wrapped


def remark(text: str) -> None:
    """Say something beside the result, on stderr; a terminal that is gone hears nothing."""
    with contextlib.suppress(OSError, ValueError):
        typer.echo(harmless(text), err=True)


def file_and_disk(name: object) -> str:
    """Return the file and the disk that a system's refusal is about as facts, empty where it names none."""
    if not isinstance(name, str | bytes) or not name:
        return ""
    path = os.fsdecode(name)
    return f"\n  file: {path}\n  disk: {disk_of(Path(path))}"
