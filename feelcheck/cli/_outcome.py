"""How a command ends: the result on stdout, one clear message and exit 2 on bad input, 130 on Ctrl-C."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from typing import ParamSpec, TypeVar

import typer

from feelcheck.cli._inputs import check_inputs
from feelcheck.cli._outputs import bound, check_outputs, paths_read
from feelcheck.errors import FeelcheckError

__all__ = ["remark", "reports_errors"]

P = ParamSpec("P")
R = TypeVar("R")

EXIT_BAD_INPUT = 2
EXIT_INTERRUPTED = 130


def reports_errors(command: Callable[P, R]) -> Callable[P, R]:
    """Wrap a command: its outputs are checked first, and an error raised on purpose is printed without a traceback."""

    @functools.wraps(command)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            arguments = bound(command, args, kwargs)
            check_inputs(arguments, paths_read(command, arguments))
            check_outputs(command, arguments)
            return command(*args, **kwargs)
        except FeelcheckError as error:
            typer.echo(str(error), err=True)
            raise typer.Exit(EXIT_BAD_INPUT) from None
        except KeyboardInterrupt:
            remark("Stopped by Ctrl-C.")
            raise typer.Exit(EXIT_INTERRUPTED) from None
        except BrokenPipeError:
            sys.stderr.close()
            raise typer.Exit(0) from None
        except OSError as error:
            typer.echo(f"The system refused: {error.strerror}.\n  file: {error.filename}", err=True)
            raise typer.Exit(EXIT_BAD_INPUT) from None

    return wrapped


def remark(text: str) -> None:
    """Say something beside the result, on stderr."""
    typer.echo(text, err=True)
