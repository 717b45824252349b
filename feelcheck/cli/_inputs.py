"""What a command is asked with, held against limits before it begins: numbers that are some, names, plain files."""

from __future__ import annotations

import stat
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from feelcheck.errors import FormatError

__all__ = ["check_inputs"]

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
