"""Did the stick go once round along the rim?"""

from __future__ import annotations

from feelcheck.capturing.sticks import Sample
from feelcheck.model import Action
from feelcheck.recorder.guide.judges import HOME, MotionJudge
from feelcheck.recorder.guide.verdicts import Reason, Verdict

__all__ = ["TurnJudge"]

ROUND_DEG = 370.0
OUTER = 0.55
ROLL_OUTER = 0.85
SLOW_TURN_S = 1.5
LONGEST_S = 20.0


class TurnJudge(MotionJudge):
    """Judges a circle, from which the rim is learned, or a slow roll along the known rim."""

    def _prepare(self) -> None:
        self._learns = self.step.action is Action.CIRCLE
        self._outer = OUTER if self._learns or not self.stick.rim.known else ROLL_OUTER
        self._watch.armed = True
        self._turned_deg = self._best_deg = 0.0
        self._last_deg: float | None = None
        self._round: list[tuple[float, float, bool]] = []

    @property
    def progress(self) -> float:
        """Part of the turn that is done."""
        return min(1.0, abs(self._turned_deg) / ROUND_DEG)

    def look(self, now_s: float) -> Verdict | None:
        """Return the verdict once the stick was round, came back too early, or the time is up."""
        self._others.look()
        for sample in self._watch.new():
            verdict = self._take(sample)
            if verdict is not None:
                return verdict
        if self._begin_s is None and self._others.instead(now_s):
            return Verdict(reason=Reason.STICK)
        waited_s = now_s - (self._start_s if self._begin_s is None else self._begin_s)
        if waited_s > (self.patience_s if self._begin_s is None else LONGEST_S):
            return Verdict(reason=Reason.NOT_MOVED if self._begin_s is None else Reason.LEFT_RIM)
        return None

    def _distance(self, sample: Sample) -> tuple[float, float]:
        """Return how far out, as a fraction of the nominal throw while the rim is being learned, and the direction."""
        out, angle_deg = self.stick.polar(sample)
        return (out * self.stick.rim.at(angle_deg) if self._learns else out), angle_deg

    def _take(self, sample: Sample) -> Verdict | None:
        out, angle_deg = self._distance(sample)
        if out < self._outer:
            return self._left(out)
        if self._last_deg is None:
            self._begin_s, self._turned_deg, self._round = sample.t_s, 0.0, []
        else:
            self._turned_deg += (angle_deg - self._last_deg + 180.0) % 360.0 - 180.0
        self._last_deg = angle_deg
        self._best_deg = max(self._best_deg, abs(self._turned_deg))
        self._round.append((out, angle_deg, sample.clipped))
        return self._rounded(sample.t_s) if abs(self._turned_deg) >= ROUND_DEG else None

    def _left(self, out: float) -> Verdict | None:
        self._last_deg = None
        gone = self._best_deg > 90.0 and out < HOME
        self._turned_deg = 0.0
        return Verdict(reason=Reason.LEFT_RIM) if gone else None

    def _rounded(self, t_s: float) -> Verdict:
        took_s = t_s - (self._begin_s or t_s)
        if self._others.moved:
            return Verdict(reason=Reason.TWO)
        if not self._learns and self.step.pace == "slow" and took_s < SLOW_TURN_S:
            return Verdict(reason=Reason.FAST, detail=f"{took_s:.1f} s for the turn")
        if self._learns and not self.stick.rim.learn(self._round):
            return Verdict(reason=Reason.LEFT_RIM)
        return Verdict(reason=Reason.DONE)
