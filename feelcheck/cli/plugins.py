"""`feelcheck plugins`: what is installed, and from where."""

from __future__ import annotations

import typer

from feelcheck.cli._outcome import reports_errors

__all__ = ["plugins"]


@reports_errors
def plugins() -> None:
    """List sources, formats, metrics and renderers.

    With where each comes from.

    Example: feelcheck plugins

    Next: feelcheck analyze or feelcheck bench, which use what is listed here.
    """
    from feelcheck import pipeline
    from feelcheck.renderers import text_table

    typer.echo(text_table(("group", "name", "from", "version", "state"), pipeline.installed_plugins(), indent=""))
