"""Which judge an action gets, and the list of actions that are still to be asked."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, replace

from feelcheck.capturing.sticks import Pad
from feelcheck.model import Action, Cue, Script, Step
from feelcheck.recorder.guide.flicks import FlickJudge
from feelcheck.recorder.guide.judges import Judge, asked_sticks
from feelcheck.recorder.guide.stills import LET_GO_S, AllJudge, PressJudge, RestJudge, WaitJudge
from feelcheck.recorder.guide.turns import TurnJudge

__all__ = ["MOVED", "Ask", "Plan", "judge_for"]

MOVED = (Action.CIRCLE, Action.FLICK, Action.HOLD, Action.ROLL)
"""Actions in which a stick leaves its centre, so that letting go must come before the next try."""
PATIENCE_S = 10.0
MOST_TRIES = 3
CHANGE_S = 2.0
"""A short break where the next block is for the other stick."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One action to be asked.

    Parameters
    ----------
    step : Step
        The action.
    number : int
        Its place among the script's steps.
    attempt : int
        The how many-th try it is, from 1.
    between : bool
        Whether it only lets go between two tries.
    """

    step: Step
    number: int
    attempt: int = 1
    between: bool = False

    @property
    def cue(self) -> str:
        """The action as it stands in the session's cue rows."""
        return Cue(t_s=0.0, action=self.step.action, stick=self.step.stick, direction_deg=self.step.direction_deg).text


class Plan:
    """The actions that are still to be asked, in order."""

    def __init__(self, script: Script) -> None:
        steps = [step for step in script.steps if step.action is not Action.END]
        self._left: deque[Ask] = deque()
        for k, step in enumerate(steps):
            if k and _changes_hands(steps[k - 1], step):
                turn = Step(action=Action.PAUSE, duration_s=CHANGE_S, stick="", block=step.block, say=_next(step))
                self._left.append(Ask(step=turn, number=k, between=True))
            self._left.append(Ask(step=step, number=k))
        self._done: list[Ask] = []
        self.n_steps = len(steps)

    def next(self) -> Ask | None:
        """Take the next action; None at the end."""
        return self._left.popleft() if self._left else None

    def let_go_first(self, ask: Ask) -> Ask:
        """Put an action off until the stick is at its centre; return what is asked instead.

        Parameters
        ----------
        ask : Ask
            The action that waits meanwhile.
        """
        self._left.appendleft(ask)
        return _let_go(ask)

    def again(self, ask: Ask, *, counts: bool = True) -> bool:
        """Ask an action again, after letting go; return False where it was tried often enough.

        Parameters
        ----------
        ask : Ask
            The action that failed or is wanted again.
        counts : bool
            Whether it is one of its tries, of which there are three.
        """
        if counts and ask.attempt >= MOST_TRIES:
            return False
        self._left.appendleft(replace(ask, attempt=ask.attempt + counts))
        if ask.step.action in MOVED:
            self._left.appendleft(_let_go(ask))
        return True

    def finished(self, ask: Ask) -> None:
        """Keep an action for `back`.

        Parameters
        ----------
        ask : Ask
            The action that was accepted.
        """
        if ask.step.action in MOVED or ask.step.action is Action.REST:
            self._done.append(ask)

    def back(self, now: Ask) -> bool:
        """Ask the last finished action again and then the present one; return False where there is none.

        Parameters
        ----------
        now : Ask
            What is asked at present; its tries begin anew.
        """
        self._left.appendleft(replace(now, attempt=1) if not now.between else now)
        if not self._done:
            return False
        self.again(replace(self._done.pop(), attempt=1), counts=False)
        return True

    def skip(self, ask: Ask) -> None:
        """Leave out what belongs to an action: its further tries.

        Parameters
        ----------
        ask : Ask
            The action that is left out.
        """
        while self._left and ask.between and self._left[0].number == ask.number:
            self._left.popleft()


def _let_go(ask: Ask) -> Ask:
    step = Step(action=Action.RELEASE, duration_s=1.0, stick=ask.step.stick, block=ask.step.block, say="Let go.")
    return Ask(step=step, number=ask.number, between=True)


def _changes_hands(before: Step, after: Step) -> bool:
    still = (Action.PAUSE, Action.REST)
    other = after.stick not in ("", "both", before.stick) and before.stick not in ("", "both")
    return before.block != after.block and other and before.action not in still and after.action not in still


def _next(step: Step) -> str:
    return f"Next: {step.block}."


def judge_for(pad: Pad, ask: Ask, now_s: float, *, tied: bool = False) -> Judge | None:
    """Return the judge of an action; None while its stick is not known.

    Parameters
    ----------
    pad : Pad
        What the pad's axes did so far.
    ask : Ask
        What is asked, from when on.
    now_s : float, s
        The present instant.
    tied : bool
        Whether two sticks are tied together.
    """
    step, action = ask.step, ask.step.action
    if action in (Action.PAUSE, Action.END):
        return WaitJudge(start_s=now_s, wait_s=math.inf if step.waits else step.duration_s)
    if action is Action.PRESS:
        return PressJudge(start_s=now_s, patience_s=2 * PATIENCE_S)
    sticks = asked_sticks(pad, step)
    if not sticks:
        return None
    if action in (Action.REST, Action.RELEASE):
        still_s = step.duration_s if action is Action.REST else LET_GO_S
        return RestJudge(sticks, start_s=now_s, still_s=still_s, rest=action is Action.REST)
    kind = TurnJudge if action in (Action.CIRCLE, Action.ROLL) else FlickJudge
    alone = len(sticks) == 1 and not tied
    judges = [kind(pad, step, stick, start_s=now_s, patience_s=PATIENCE_S, alone=alone) for stick in sticks]
    return judges[0] if len(judges) == 1 else AllJudge(judges)
