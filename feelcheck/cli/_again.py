"""The command that runs, as a line that makes the same again."""

from __future__ import annotations

import shlex

import typer

__all__ = ["command_again"]

_BESIDE = frozenset(("json", "full", "plot", "as_", "against"))
"""Options that show or write the result in another form."""


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
