"""Which recordings the paths of a command mean."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from feelcheck.errors import FormatError
from feelcheck.formats.session_header import HEADER_FILE
from feelcheck.formats.session_shelf import sessions_on_shelf

__all__ = ["named_recordings"]

MOST_NAMED = 8
"""How many sessions a message lists."""


def named_recordings(paths: Sequence[Path], *, every: bool = False) -> list[Path]:
    """Return the recordings that paths name, a folder of sessions by the sessions in it.

    Parameters
    ----------
    paths : sequence of Path
        Sessions, logs, folders of sessions.
    every : bool
        Whether a folder of sessions stands for all of them.

    Raises
    ------
    FormatError
        If a folder holds sessions and not every one is meant; it names them.
    """
    named: list[Path] = []
    for path in paths:
        holds = path.is_dir() and not (path / HEADER_FILE).exists()
        found = [session.folder for session in sessions_on_shelf(path)] if holds else []
        if found and not every:
            names = ", ".join(str(folder) for folder in found[:MOST_NAMED])
            more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
            raise FormatError(
                "This folder holds sessions; one of them is measured at a time.",
                {"folder": path, "sessions": names + more},
                f"Name one, such as {found[-1]}, or measure all with --all.",
            )
        named += found or [path]
    return named
