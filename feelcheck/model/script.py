"""A flick script: what a person is asked to do, step by step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from feelcheck.model.recording import Action, Cue

__all__ = ["Script", "Step", "script_cues"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One request and how long it is shown.

    Parameters
    ----------
    action : Action
        What is asked.
    duration_s : float
        How long the request stands.
    stick : str
        Which stick.
    direction_deg : float or None
        Counter-clockwise from right, for flicks.
    pace : {"quick", "easy", "slow"}
        A quick flick is as fast as the thumb goes; an easy one is a flick still, but no effort; a slow one takes about
        a second.
    block : str
        Name of the block the step belongs to (for progress and pauses).
    say : str
        The request in words, for the window or the terminal.
    waits : bool
        Whether a pause stands until the person goes on, where a person is led; `duration_s` is for everybody else.
    """

    action: Action
    duration_s: float
    stick: str = "left"
    direction_deg: float | None = None
    pace: Literal["quick", "easy", "slow"] = "quick"
    block: str = ""
    say: str = ""
    waits: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Script:
    """A named sequence of steps.

    Parameters
    ----------
    name, title : str
        Short name for ``--script`` and what the script is for.
    steps : tuple of Step
        In order.
    tied : bool
        Whether the sticks are tied together, so that one cannot move alone.
    """

    name: str
    title: str
    steps: tuple[Step, ...]
    tied: bool = False

    @property
    def duration_s(self) -> float:
        """Time the whole script takes, s."""
        return sum(step.duration_s for step in self.steps)


def script_cues(script: Script) -> tuple[Cue, ...]:
    """Return the requests of a script at the instants they are shown.

    Parameters
    ----------
    script : Script
        The script.
    """
    cues, shown_s = [], 0.0
    for step in script.steps:
        cues.append(Cue(t_s=shown_s, action=step.action, stick=step.stick, direction_deg=step.direction_deg))
        shown_s += step.duration_s
    return tuple(cues)
