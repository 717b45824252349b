"""Did the thumbs leave the sticks: rest, let go, and the waiting kinds of step."""

from __future__ import annotations

import math
from collections.abc import Sequence

from feelcheck.capturing.sticks import Sample, Stick
from feelcheck.recorder.guide.judges import AWAY, HOME, Judge, Watch
from feelcheck.recorder.guide.verdicts import Reason, Verdict

__all__ = ["AllJudge", "PressJudge", "RestJudge", "WaitJudge"]

STILL = 0.06
LET_GO_S = 0.25
PATIENCE_S = 6.0


class _Quiet:
    """How long one stick has been still at its centre."""

    def __init__(self, stick: Stick) -> None:
        self.watch = Watch(stick)
        self.watch.armed = True
        self.place: Sample | None = stick.now if stick.out < HOME else None
        self.home = self.place is not None
        self.left = False

    def take(self) -> None:
        stick = self.watch.stick
        for sample in self.watch.new():
            out, _ = stick.polar(sample)
            if out > HOME:
                self.left |= self.home and out > AWAY
                self.place = None
            elif self.place is None or math.hypot(sample.x - self.place.x, sample.y - self.place.y) > STILL:
                self.place, self.home = sample, True


class RestJudge:
    """Judges a rest, or a release, of one or more sticks.

    Parameters
    ----------
    sticks : sequence of Stick
        Those that must be still.
    start_s : float, s
        When it was asked.
    still_s : float, s
        How long they must stay so.
    rest : bool
        A rest (touching a stick meanwhile spoils it, and its centre is learned) or a release.
    """

    def __init__(self, sticks: Sequence[Stick], *, start_s: float, still_s: float, rest: bool) -> None:
        self._quiet = [_Quiet(stick) for stick in sticks]
        self._start_s, self._still_s, self._rest = start_s, still_s, rest
        self._done_s = 0.0

    @property
    def progress(self) -> float:
        """Part of the time that they have been still."""
        return min(1.0, self._done_s / self._still_s)

    def look(self, now_s: float) -> Verdict | None:
        """Return the verdict once they were still for long enough, one was moved, or the time is up."""
        for quiet in self._quiet:
            quiet.take()
        since = [max(self._start_s, q.place.t_s) if q.place is not None else math.inf for q in self._quiet]
        self._done_s = max(0.0, now_s - max(since, default=self._start_s))
        if self._rest and any(quiet.left for quiet in self._quiet):
            return Verdict(reason=Reason.NOT_STILL)
        if self._done_s >= self._still_s:
            for quiet in self._quiet if self._rest else ():
                quiet.watch.stick.rests_here()
            return Verdict(reason=Reason.DONE)
        if now_s - self._start_s > PATIENCE_S + 2 * self._still_s:
            away = any(quiet.place is None for quiet in self._quiet)
            return Verdict(reason=Reason.NOT_LET_GO if away else Reason.NOT_STILL)
        return None


class WaitJudge:
    """Waits: a pause between blocks, the end."""

    def __init__(self, *, start_s: float, wait_s: float) -> None:
        self._start_s, self._wait_s = start_s, wait_s
        self.left_s = wait_s

    @property
    def progress(self) -> float:
        """Part of the time that is over."""
        return 1.0 - self.left_s / self._wait_s if 0 < self._wait_s < math.inf else 0.0

    def look(self, now_s: float) -> Verdict | None:
        """Return the verdict when the time is over."""
        self.left_s = max(0.0, self._start_s + self._wait_s - now_s)
        return Verdict(reason=Reason.DONE) if self.left_s <= 0 else None


class PressJudge:
    """Waits for any button."""

    def __init__(self, *, start_s: float, patience_s: float) -> None:
        self._until_s = start_s + patience_s
        self.pressed = False

    @property
    def progress(self) -> float:
        """Whether it was pressed."""
        return float(self.pressed)

    def look(self, now_s: float) -> Verdict | None:
        """Return the verdict once a button was pressed or the time is up."""
        if self.pressed:
            return Verdict(reason=Reason.DONE)
        return Verdict(reason=Reason.NOT_PRESSED) if now_s > self._until_s else None


class AllJudge:
    """Several sticks asked at once: done when each is; the first one rejected decides."""

    def __init__(self, judges: Sequence[Judge]) -> None:
        self._judges = list(judges)
        self._good: dict[int, Verdict] = {}

    @property
    def progress(self) -> float:
        """Progress of the slowest."""
        return min((judge.progress for judge in self._judges), default=1.0)

    def look(self, now_s: float) -> Verdict | None:
        """Return the first rejection, or the last acceptance."""
        for k, judge in enumerate(self._judges):
            if k in self._good:
                continue
            verdict = judge.look(now_s)
            if verdict is not None and not verdict.good:
                return verdict
            if verdict is not None:
                self._good[k] = verdict
        return self._good[max(self._good)] if len(self._good) == len(self._judges) else None
