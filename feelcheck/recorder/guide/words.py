"""The sentences of a guided recording."""

from __future__ import annotations

from dataclasses import dataclass

from feelcheck.model import Action, Script, Step
from feelcheck.recorder.guide.verdicts import direction_words
from feelcheck.recorder.guide.view import Stage

__all__ = ["PAIN", "Blocks", "asked_words", "blocks_of", "sentence"]

PAIN = "Stop at once if anything hurts or tingles; rest before you try again."
_ACTIONS = {
    Action.CIRCLE: "full circle",
    Action.FLICK: "flick",
    Action.HOLD: "hold",
    Action.RELEASE: "let go",
    Action.REST: "rest",
    Action.ROLL: "slow roll",
    Action.PRESS: "press",
    Action.PAUSE: "break",
}
_FIXED = {
    Stage.READY: "Take the pad in both hands and leave the sticks alone for now.",
    Stage.PAUSED: "Paused.",
    Stage.UNPLUGGED: "The pad is gone. Plug it in again; what was recorded is kept.",
    Stage.FINISHED: "Finished. Thank you.",
}


def asked_words(step: Step) -> str:
    """Return an action in a few words.

    Parameters
    ----------
    step : Step
        The step of the script that is asked for.

    Examples
    --------
    >>> asked_words(Step(action=Action.FLICK, duration_s=1.0, stick="left", direction_deg=45.0))
    'Left stick, flick up and right'
    """
    who = {"both": "Both sticks", "": ""}.get(step.stick, f"{step.stick.capitalize()} stick")
    what = _ACTIONS.get(step.action, str(step.action))
    if step.direction_deg is not None:
        what = f"{what} {direction_words(step.direction_deg)}"
    return f"{who}, {what}" if who else what.capitalize()


def sentence(stage: Stage, step: Step | None) -> str:
    """Return the one sentence that says what to do now.

    Parameters
    ----------
    stage : Stage
        How far the guide is.
    step : Step or None
        One step of a script; none before the first.
    """
    if stage in _FIXED:
        return _FIXED[stage]
    if step is None:
        return ""
    return step.say or f"{asked_words(step)}."


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocks:
    """The blocks of a script; pauses between them count to the one before, those at the start to none."""

    starts: tuple[int, ...]
    names: tuple[str, ...]
    first: str = ""

    @property
    def count(self) -> int:
        """How many blocks there are."""
        return max(1, len(self.starts))

    def at(self, number: int) -> tuple[int, str]:
        """Return number (from 1; 0 for pauses at the start) and name of the block that a step belongs to.

        Parameters
        ----------
        number : int
            The step's place in the script, from 0.
        """
        k = sum(start <= number for start in self.starts)
        if k == 0 and self.first:
            return 0, self.first
        return max(1, k), self.names[max(0, k - 1)] if self.names else ""


def blocks_of(script: Script) -> Blocks:
    """Return the blocks of a script.

    Parameters
    ----------
    script : Script
        The flick script.
    """
    starts, names, before = [], [], None
    for k, step in enumerate(script.steps):
        if step.action in (Action.PAUSE, Action.END):
            continue
        if step.block != before:
            starts.append(k)
            names.append(step.block)
        before = step.block
    first = script.steps[0].block if starts and starts[0] > 0 else ""
    return Blocks(starts=tuple(starts), names=tuple(names), first=first)
