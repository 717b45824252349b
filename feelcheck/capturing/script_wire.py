"""A script as plain JSON, for the capture process."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from feelcheck.model import Action, Script, Step

__all__ = ["script_from_wire", "script_to_wire", "step_from_wire", "step_to_wire"]


def script_to_wire(script: Script) -> dict[str, Any]:
    """Return a script as lists, texts and numbers.

    Parameters
    ----------
    script : Script
        The script.

    Examples
    --------
    >>> step = Step(action=Action.REST, duration_s=1.0)
    >>> script = Script(name="still", title="Rest", steps=(step,))
    >>> script_from_wire(script_to_wire(script)) == script
    True
    """
    return asdict(script)


def script_from_wire(wire: dict[str, Any]) -> Script:
    """Return the script that `script_to_wire` was given.

    Parameters
    ----------
    wire : mapping
        What crossed the pipe between the processes.
    """
    steps = tuple(step_from_wire(step) for step in wire["steps"])
    return Script(name=wire["name"], title=wire["title"], steps=steps, tied=wire["tied"])


def step_to_wire(step: Step) -> dict[str, Any]:
    """Return one step as texts and numbers.

    Parameters
    ----------
    step : Step
        The step.
    """
    return asdict(step)


def step_from_wire(wire: dict[str, Any]) -> Step:
    """Return the step that `step_to_wire` was given.

    Parameters
    ----------
    wire : mapping
        What crossed the pipe between the processes.
    """
    return Step(**{**wire, "action": Action(wire["action"])})
