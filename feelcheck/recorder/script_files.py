"""Flick scripts as data: the shipped ones, and anybody's own."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from importlib import resources
from pathlib import Path
from typing import Any

from feelcheck.errors import FormatError
from feelcheck.model import Action, Script, Step

__all__ = ["load_script", "parse_script", "script_names"]

_STEP_KEYS = {"action", "duration_s", "stick", "direction_deg", "pace", "say", "waits"}
_BLOCK_KEYS = {"name", "stick", "steps", "flicks_deg", "flick_s", "release_s", "pace"}
_STICKS = ("left", "right", "both", "")
_LONGEST_STEP_S = 60.0
_WORDS = ("right", "up and right", "up", "up and left", "left", "down and left", "down", "down and right")


def script_names() -> tuple[str, ...]:
    """Return the names of the shipped scripts.

    Examples
    --------
    >>> script_names()
    ('coupled', 'default', 'marker', 'quick')
    """
    folder = resources.files("feelcheck.recorder") / "scripts"
    return tuple(sorted(item.name.removesuffix(".toml") for item in folder.iterdir() if item.name.endswith(".toml")))


def load_script(name: str) -> Script:
    """Return a shipped script by name, or the one in a TOML file.

    Raises
    ------
    FormatError
        If there is none of that name, or the file is not a script.

    Examples
    --------
    >>> load_script("default").duration_s < 120
    True
    """
    path = Path(name)
    if name in script_names():
        text = (resources.files("feelcheck.recorder") / "scripts" / f"{name}.toml").read_text(encoding="utf-8")
    elif path.suffix == ".toml" and path.is_file():
        text = path.read_text(encoding="utf-8", errors="replace")
    else:
        raise FormatError(
            "There is no flick script of that name.",
            {"got": name, "known": ", ".join(script_names())},
            "Choose a known one, or name a .toml file.",
        )
    return parse_script(text, path.stem)


def parse_script(text: str, name: str) -> Script:
    """Return the script that a TOML text describes.

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
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise FormatError("A flick script must be valid TOML.", {"script": name, "got": problem}, "Mend it.") from None
    blocks = document.get("block")
    if not isinstance(blocks, list) or not blocks:
        raise FormatError("A flick script needs at least one block.", {"script": name}, "Add a [[block]].")
    steps = tuple(step for block in blocks for step in _steps(name, block))
    if not steps:
        raise FormatError("A flick script needs at least one step.", {"script": name}, "Add steps or flicks_deg.")
    tied = document.get("tied", False) is True
    return Script(name=name, title=str(document.get("title", name)), steps=steps, tied=tied)


def _steps(script: str, block: Mapping[str, Any]) -> Iterator[Step]:
    name = str(block.get("name", ""))
    _known(script, block, _BLOCK_KEYS)
    for direction in block.get("flicks_deg", []):
        stick, pace = block.get("stick", "left"), block.get("pace", "quick")
        word = _WORDS[round(float(direction) / 45.0) % 8]
        flick = {"action": "flick", "direction_deg": direction, "duration_s": block.get("flick_s", 1.0), "pace": pace}
        say = f"{stick.capitalize()} stick: flick {word} to the rim and hold."
        yield _step(script, name, {**flick, "stick": stick, "say": say})
        let_go = {"action": "release", "stick": stick, "duration_s": block.get("release_s", 0.8), "say": "Let go."}
        yield _step(script, name, let_go)
    for step in block.get("steps", []):
        yield _step(script, name, step)


def _known(script: str, table: Mapping[str, Any], keys: set[str]) -> None:
    unknown = sorted(set(table) - keys)
    if unknown:
        facts = {"script": script, "got": ", ".join(unknown), "allowed": ", ".join(sorted(keys))}
        raise FormatError("A flick script has an unknown key.", facts, "Correct its spelling.")


def _step(script: str, block: str, step: Mapping[str, Any]) -> Step:
    _known(script, step, _STEP_KEYS)
    facts = {"script": script, "block": block, "got": dict(step)}
    try:
        action = Action(step.get("action", ""))
        duration_s = float(step.get("duration_s", 0.0))
        direction = None if step.get("direction_deg") is None else float(step["direction_deg"])
    except (TypeError, ValueError):
        known = ", ".join(Action)
        raise FormatError("A step needs a known action and numbers.", {**facts, "actions": known}, "Mend it.") from None
    stick, pace = step.get("stick", "left"), step.get("pace", "quick")
    if not 0.0 < duration_s <= _LONGEST_STEP_S or stick not in _STICKS or pace not in ("quick", "slow"):
        raise FormatError(
            f"A step lasts up to {_LONGEST_STEP_S:g} s, concerns a known stick and is quick or slow.", facts, "Mend it."
        )
    return Step(
        action=action,
        duration_s=duration_s,
        stick=stick,
        direction_deg=direction,
        pace=pace,
        block=block,
        say=str(step.get("say", "")),
        waits=step.get("waits", False) is True,
    )
