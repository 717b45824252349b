"""Flick scripts as data: the shipped ones, other packages', and anybody's own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, replace
from functools import partial
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal

from msgspec import Meta, Struct, convert, structs

from feelcheck import plugins
from feelcheck.errors import FormatError
from feelcheck.guarding import NonsenseError, required
from feelcheck.inputs import Label, Length, file_text, shaped, toml_document
from feelcheck.model import Action, Script, Step

__all__ = ["COUPLED", "DEFAULT", "MARKER", "QUICK", "load_script", "parse_script", "script_names"]

_WORDS = ("right", "up and right", "up", "up and left", "left", "down and left", "down", "down and right")

_FLICK = {"quick": "flick", "easy": "easy flick", "slow": "flick"}
"""Words for a flick of each pace; flicks of two speeds tell a soft rim and a slide from smoothing."""

_MOST_STEPS = 1000
_RULE = "A flick script has blocks of steps: a known action, stick and pace, for more than 0 and at most 60 s."
_Seconds = Annotated[float, Meta(gt=0, le=60)]
_Degrees = Annotated[float, Meta(ge=-3600, le=3600)]
_Stick = Literal["left", "right", "both", ""]
_Pace = Literal["quick", "easy", "slow"]


class _Step(Struct, forbid_unknown_fields=True, frozen=True):
    """One step as it stands in the file."""

    action: Action
    duration_s: _Seconds
    stick: _Stick = "left"
    direction_deg: _Degrees | None = None
    pace: _Pace = "quick"
    say: Length = ""
    waits: bool = False


class _Block(Struct, forbid_unknown_fields=True, frozen=True):
    """Steps that belong together; flicks are a flick and a release each."""

    name: Label = ""
    stick: _Stick = "left"
    steps: tuple[_Step, ...] = ()
    flicks_deg: tuple[_Degrees, ...] = ()
    flick_s: _Seconds = 1.0
    release_s: _Seconds = 0.8
    pace: _Pace = "quick"


class _ScriptFile(Struct, forbid_unknown_fields=True, frozen=True):
    """A whole file."""

    block: Annotated[tuple[_Block, ...], Meta(min_length=1)]
    title: Length = ""
    tied: bool = False


def _shipped(name: str) -> Script:
    return parse_script((resources.files("feelcheck.recorder") / "scripts" / f"{name}.toml").read_text("utf-8"), name)


COUPLED, DEFAULT, MARKER, QUICK = (partial(_shipped, name) for name in ("coupled", "default", "marker", "quick"))


def script_names() -> tuple[str, ...]:
    """Return the names of the installed scripts.

    Examples
    --------
    >>> {"coupled", "default", "marker", "quick"} <= set(script_names())
    True
    """
    return tuple(plugin.name for plugin in plugins.registered("feelcheck.scripts"))


def load_script(name: str) -> Script:
    """Return an installed script by name, or the one in a TOML file.

    Parameters
    ----------
    name : str
        Name of an installed script, or the path of a TOML file.

    Raises
    ------
    FormatError
        If there is none of that name, or the file is not a script.
    PluginError
        If another package's script is none.

    Examples
    --------
    >>> load_script("default").duration_s < 120
    True
    """
    path = Path(name)
    if name in script_names():
        return _installed(name)
    if path.suffix == ".toml" and path.is_file():
        return parse_script(file_text(path), path.stem)
    raise FormatError(
        "There is no flick script of that name.",
        {"got": name, "known": ", ".join(script_names())},
        "Choose a known one, or name a .toml file.",
    )


def _installed(name: str) -> Script:
    plugin, value = plugins.find("feelcheck.scripts", name)
    found: Script = required(plugin, lambda: value() if callable(value) else value, _check_script)
    return replace(found, name=name)


def _check_script(script: Script) -> None:
    """Refuse what is no script, and steps that no file could ask for."""
    if not isinstance(script, Script) or not 0 < len(script.steps) <= _MOST_STEPS:
        raise NonsenseError(f"it gives {type(script).__name__}, not a Script of 1 to {_MOST_STEPS} steps")
    for step in script.steps:
        convert({key: value for key, value in asdict(step).items() if key != "block"}, _Step)


def parse_script(text: str, name: str) -> Script:
    """Return the script that a TOML text describes.

    Parameters
    ----------
    text : str
        The TOML text.
    name : str
        What the text is called in errors.

    Notes
    -----
    A script has a `title`, `tied = true` where both sticks move together, and a list of `block`s. A block has a `name`
    and either `steps`, each with `action`, `duration_s`, `stick`, `direction_deg`, `pace`, `say` and `waits`, or
    `flicks_deg`: directions of flicks, each held at the rim and then released (`flick_s` and `release_s` say how long
    the two requests stand).

    Raises
    ------
    FormatError
        On broken TOML, an unknown key or action, a missing or impossible duration, or no step at all.
    """
    document = shaped(toml_document(text, name), _ScriptFile, f"script {name}", _RULE)
    steps = tuple(step for block in document.block for step in _steps(block))
    if not 0 < len(steps) <= _MOST_STEPS:
        facts = {"script": name, "got": f"{len(steps)} steps", "allowed": f"1 to {_MOST_STEPS}"}
        raise FormatError("A flick script needs at least one step, and not more than a hand can do.", facts, "Mend it.")
    return Script(name=name, title=document.title or name, steps=steps, tied=document.tied)


def _steps(block: _Block) -> Iterator[Step]:
    shared: dict[str, Any] = {"block": block.name, "stick": block.stick}
    for direction in block.flicks_deg:
        word = _WORDS[round(direction / 45.0) % 8]
        say = f"{block.stick.capitalize()} stick: {_FLICK[block.pace]} {word} to the rim and hold."
        yield Step(
            action=Action.FLICK,
            duration_s=block.flick_s,
            direction_deg=direction,
            pace=block.pace,
            say=say,
            **shared,
        )
        yield Step(action=Action.RELEASE, duration_s=block.release_s, say="Let go.", **shared)
    for step in block.steps:
        yield Step(block=block.name, **structs.asdict(step))
