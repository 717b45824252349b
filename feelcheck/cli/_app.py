"""The Typer app: commands are registered here, heavy libraries load only when a command runs."""

from __future__ import annotations

from typing import Annotated

import typer

from feelcheck import __version__
from feelcheck.cli.analyze import analyze
from feelcheck.cli.bench import bench
from feelcheck.cli.compare import compare
from feelcheck.cli.demo import demo
from feelcheck.cli.devices import devices
from feelcheck.cli.export import export
from feelcheck.cli.feel import feel
from feelcheck.cli.guide import guide
from feelcheck.cli.log import log
from feelcheck.cli.parts import parts
from feelcheck.cli.plugins import plugins
from feelcheck.cli.profile import app as profile
from feelcheck.cli.rehearse import rehearse
from feelcheck.cli.repeatability import repeatability
from feelcheck.cli.report import report
from feelcheck.cli.sessions import sessions
from feelcheck.cli.survey import survey
from feelcheck.cli.verify import verify
from feelcheck.cli.why import why

__all__ = ["app"]

app = typer.Typer(
    name="feelcheck",
    help="From the parts on a thumbstick's sensor board to its response on the bench, in the hand, and what the hand "
    "notices.\n\nExample: feelcheck demo\n\nNext: feelcheck guide hand for a recording of your own, feelcheck guide "
    "bench for a capture.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"feelcheck {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_show_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Take the options that stand before a command."""


for command in (
    demo,
    devices,
    log,
    sessions,
    analyze,
    export,
    bench,
    parts,
    compare,
    repeatability,
    feel,
    rehearse,
    report,
    verify,
    survey,
    why,
    guide,
    plugins,
):
    app.command()(command)
app.add_typer(profile, name="profile")
