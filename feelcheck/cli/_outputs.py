"""What a command writes, declared beside its option, and checked before the command begins.

A parameter that names a file to be written carries `Writes(FORM)` in its annotation, one that names a folder for
several files `WritesInto`. Every other path, and every word that leads to a file, is an input.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_type_hints

from feelcheck.outputs import Form, check_apart, check_folder, check_output, numbered

__all__ = ["Writes", "WritesInto", "bound", "check_outputs", "declared_outputs", "paths_read"]


@dataclass(frozen=True, slots=True)
class Writes:
    """Marks a parameter as the name of a file that the command writes.

    Parameters
    ----------
    form : Form
        What is written there.
    one_each : str
        Name of the parameter of which each value gets a file of its own, numbered.
    """

    form: Form
    one_each: str = ""


@dataclass(frozen=True, slots=True)
class WritesInto:
    """Marks a parameter as a folder into which the command writes.

    Parameters
    ----------
    files : Mapping[str, Form]
        The files by name; empty where the command makes new names of its own and never replaces anything.
    """

    files: Mapping[str, Form]


def declared_outputs(command: Callable[..., Any]) -> dict[str, Writes | WritesInto]:
    """Return the outputs that a command declares, by parameter."""
    found = {}
    for name, hint in get_type_hints(command, include_extras=True).items():
        marks = [mark for mark in getattr(hint, "__metadata__", ()) if isinstance(mark, Writes | WritesInto)]
        if marks:
            found[name] = marks[0]
    return found


def check_outputs(command: Callable[..., Any], arguments: Mapping[str, Any]) -> None:
    """Hold what a command is asked to write against the rule, before it does any work.

    Parameters
    ----------
    command : callable
        The command's function.
    arguments : Mapping[str, Any]
        What it was called with, by name.

    Raises
    ------
    OutputError
        If an output may not go where it was asked for.
    """
    declared = declared_outputs(command)
    asked = {name: mark for name, mark in declared.items() if arguments.get(name) is not None}
    inputs = paths_read(command, arguments)
    targets = [target for name, mark in asked.items() for target in _targets(mark, arguments[name], arguments)]
    for path, form in targets:
        check_output(path, form, inputs=inputs, overwrite=bool(arguments.get("overwrite", False)))
    check_apart([path for path, _ in targets])


def paths_read(command: Callable[..., Any], arguments: Mapping[str, Any]) -> list[Path]:
    """Return the files and folders that a command's arguments lead to, but for those that it writes."""
    declared = declared_outputs(command)
    return [path for name, value in arguments.items() if name not in declared for path in _paths(value)]


def _targets(mark: Writes | WritesInto, path: Path, arguments: Mapping[str, Any]) -> Iterator[tuple[Path, Form]]:
    if isinstance(mark, WritesInto):
        check_folder(path)
        yield from ((path / name, form) for name, form in mark.files.items() if (path / name).exists())
        return
    n = len(arguments[mark.one_each] or ()) if mark.one_each else 1
    yield from ((target, mark.form) for target in numbered(path, max(n, 1)))


def _paths(value: object) -> Iterator[Path]:
    """Every file or folder that an argument leads to: a path, a word such as alder.toml@c3_lifted, or several."""
    from feelcheck.model.labels import STATE_MARK

    if isinstance(value, list | tuple):
        for one in value:
            yield from _paths(one)
    elif isinstance(value, str | Path) and str(value):
        # A file may have the mark in its own name, so the whole word is looked up as well.
        for name in (str(value), str(value).rpartition(STATE_MARK)[0]):
            if name and "\0" not in name and _there(Path(name)):
                yield Path(name)


def _there(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:
        return False


def bound(command: Callable[..., Any], args: Sequence[Any], kwargs: Mapping[str, Any]) -> dict[str, Any]:
    """Return a call's arguments by name, defaults included."""
    call = inspect.signature(command).bind(*args, **kwargs)
    call.apply_defaults()
    return dict(call.arguments)
