"""What every judge of an asked action shares."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from feelcheck.capturing.sticks import Pad, Sample, Stick
from feelcheck.model import Step
from feelcheck.recorder.guide.verdicts import Verdict

__all__ = ["AWAY", "HOME", "Judge", "MotionJudge", "Others", "Watch", "asked_sticks"]

AWAY = 0.3
"""Farther out than this part of the way to the rim, a stick was moved on purpose."""
HOME = 0.22
"""Nearer than this it is at its centre (worn centring springs leave a few percent)."""

INSTEAD_S = 1.2


class Judge(Protocol):
    """Looks at the sticks until it knows whether an action was done."""

    def look(self, now_s: float) -> Verdict | None:
        """Return the verdict once there is one.

        Parameters
        ----------
        now_s : float, s
            The present instant on the recording's clock; everything before it was seen.
        """

    @property
    def progress(self) -> float:
        """How much of the action is done, 0 to 1."""


def asked_sticks(pad: Pad, step: Step) -> list[Stick]:
    """Return the sticks that a step asks for, as far as they are known.

    Parameters
    ----------
    pad : Pad
        What the pad's axes did so far.
    step : Step
        The step of the script that is asked for.
    """
    if step.stick in ("both", ""):
        return list(pad.sticks.values())
    return [pad.sticks[step.stick]] if step.stick in pad.sticks else []


class Watch:
    """New samples of one stick since the last look, and where it started."""

    def __init__(self, stick: Stick) -> None:
        self.stick = stick
        self._next = stick.count
        # A stick that is still out when the action is asked must come home before it counts.
        self.armed = stick.out < AWAY

    def new(self) -> list[Sample]:
        """Return the samples that came since the last call, none before the stick was at its centre."""
        found = self.stick.since(self._next)
        self._next = self.stick.count
        if not self.armed:
            for k, sample in enumerate(found):
                if self.stick.polar(sample)[0] < HOME:
                    self.armed = True
                    return found[k:]
            return []
        return found


@dataclass(slots=True)
class _Seen:
    watch: Watch
    farthest: float = 0.0
    since_s: float = math.inf
    back: bool = False


class Others:
    """The sticks that were not asked for: how far they went meanwhile."""

    def __init__(self, pad: Pad, asked: Sequence[Stick]) -> None:
        names = {stick.name for stick in asked}
        self._seen = [_Seen(Watch(stick)) for stick in pad.sticks.values() if stick.name not in names]

    def look(self) -> None:
        """Take in what came."""
        for seen in self._seen:
            for sample in seen.watch.new():
                out = seen.watch.stick.polar(sample)[0]
                seen.farthest = max(seen.farthest, out)
                if out > AWAY:
                    seen.since_s = min(seen.since_s, sample.t_s)
                seen.back = seen.farthest > 2 * AWAY and out < HOME

    @property
    def moved(self) -> bool:
        """Whether another stick was moved on purpose."""
        return any(seen.farthest > AWAY for seen in self._seen)

    def instead(self, now_s: float) -> bool:
        """Whether another stick went out and is back, or has been out for a while.

        Parameters
        ----------
        now_s : float, s
            The present instant.
        """
        return any(seen.back or now_s - seen.since_s > INSTEAD_S for seen in self._seen)


class MotionJudge:
    """What judges of one stick's motion share: the stick, those that must stay at rest, and how long it may take.

    Parameters
    ----------
    pad : Pad
        The sticks.
    step : Step
        What was asked.
    stick : Stick
        The stick that it was asked of.
    start_s, patience_s : float, s
        When it was asked, and how long to wait for the first motion.
    alone : bool
        Whether other sticks must stay at rest.
    """

    def __init__(
        self, pad: Pad, step: Step, stick: Stick, *, start_s: float, patience_s: float, alone: bool = True
    ) -> None:
        self.step, self.stick, self.patience_s = step, stick, patience_s
        self._watch, self._others = Watch(stick), Others(pad, [stick] if alone else list(pad.sticks.values()))
        self._start_s = start_s
        self._begin_s: float | None = None
        self._prepare()

    def _prepare(self) -> None:
        """Set up what the kind of motion needs."""
