"""The Typer app: commands are registered here, heavy libraries load only when a command runs."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Annotated

import typer

from feelcheck import __version__

__all__ = ["COMMANDS", "command_line", "run"]

COMMANDS = (
    "demo",
    "devices",
    "log",
    "sessions",
    "analyze",
    "export",
    "bench",
    "parts",
    "compare",
    "repeatability",
    "feel",
    "rehearse",
    "report",
    "verify",
    "survey",
    "why",
    "guide",
    "plugins",
    "profile",
)
"""In the order of the help; each is a module beside this one, with a function of its name or, for a group, an `app`."""

HELP = (
    "From the parts on a thumbstick's sensor board to its response on the bench, in the hand, and what the hand "
    "notices.\n\nExample: feelcheck demo\n\nNext: feelcheck guide hand for a recording of your own, feelcheck guide "
    "bench for a capture."
)


def run() -> None:
    """Run the command line; where its first word names a command, only that one's options are made."""
    asked = sys.argv[1:2]
    command_line(asked if asked and asked[0] in COMMANDS else COMMANDS)()


def command_line(names: Sequence[str] = COMMANDS) -> typer.Typer:
    """Return the command line with some of its commands.

    Parameters
    ----------
    names : sequence of str
        Some of `COMMANDS`.
    """
    app = typer.Typer(
        name="feelcheck",
        help=HELP,
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_options)
    for name in names:
        module = import_module(f"feelcheck.cli.{name}")
        if hasattr(module, "app"):
            app.add_typer(module.app, name=name)
        else:
            app.command()(getattr(module, name))
    return app


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"feelcheck {__version__}")
        raise typer.Exit


def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Take the options that stand before a command."""
