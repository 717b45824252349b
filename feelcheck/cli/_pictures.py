"""`--plot` and `--card`: a result as pictures, one of which carries the command that makes it again."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import typer

from feelcheck.cli._outcome import remark

__all__ = ["command_again", "draw_asked"]

_BESIDE = frozenset(("json", "full", "plot", "as_", "against"))
"""Options that show or write the result in another form."""


def draw_asked(
    context: typer.Context, results: Sequence[Any], *, plot: Path | None = None, card: Path | None = None
) -> None:
    """Draw what was asked for and say where it is.

    Parameters
    ----------
    context : typer.Context
        Of the command that runs.
    results : sequence of results
        One picture each; the card shows the first.
    plot, card : Path or None
        The options of these names.
    """
    from feelcheck import pipeline

    for drawn in pipeline.draw(results, plot) if plot is not None else ():
        remark(f"Drawn: {drawn}")
    if card is not None and results:
        pipeline.draw_card(results[0], card, command_again(context))
        remark(f"Drawn: {card}")


def command_again(context: typer.Context) -> str:
    """Return the command as it was asked for, other forms of its result left out.

    Parameters
    ----------
    context : typer.Context
        Of the command that runs.
    """
    words = ["feelcheck", context.info_name or ""]
    for param in context.command.params:
        value = context.params.get(param.name or "")
        if param.name in _BESIDE or value in (None, False, "", (), []) or value == param.get_default(context):
            continue
        each = list(value) if isinstance(value, tuple | list) else [value]
        name = [] if param.param_type_name == "argument" else [max(param.opts, key=len)]
        if value is True:
            each = []
        rows = [[one] for one in each] if getattr(param, "multiple", False) else [each]
        words += [str(word) for row in rows for word in (*name, *row)]
    return shlex.join(words)
