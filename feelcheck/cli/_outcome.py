"""How a command ends: the result on stdout, one clear message and exit 2 on bad input, 130 on Ctrl-C."""

from __future__ import annotations

import contextlib
import functools
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import IO, ParamSpec, TypeVar, cast

import typer

from feelcheck.cli._inputs import check_inputs
from feelcheck.cli._outputs import bound, check_outputs, paths_read
from feelcheck.cli._phases import slow_phases_named
from feelcheck.errors import FeelcheckError, Interrupted
from feelcheck.outputs import disk_of
from feelcheck.plain_text import HarmlessStream, harmless

__all__ = ["remark", "reports_errors"]

P = ParamSpec("P")
R = TypeVar("R")

EXIT_BAD_INPUT = 2


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
