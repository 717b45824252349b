"""Was it a flick that the analysis can use: quick, in the asked direction, stopped by the rim, unclipped, held?"""

from __future__ import annotations

import math
from dataclasses import replace

from feelcheck.capturing.sticks import Sample
from feelcheck.model import Action
from feelcheck.recorder.guide.judges import AWAY, HOME, MotionJudge
from feelcheck.recorder.guide.verdicts import Reason, Verdict, direction_words

__all__ = ["AT_RIM", "HOLD_S", "LEAST_HOLD_S", "OFF_DEG", "QUICK_S", "FlickJudge"]

AT_RIM = 0.92
"""A flick that ends nearer to the centre was not stopped by the rim; pressing gives and play take a few percent."""
NEAR_RIM = 0.75
"""The same where no circle showed the rim, in nominal throws."""
QUICK_S = 0.12
"""Longest time from 20 to 60 % of the way: a pole of 100 ms adds 70 ms to it, more would be the thumb."""
SLOW_S = 0.08
"""Least time from 20 to 60 % of the way where a slow movement was asked."""
OFF_DEG = 25.0
HOLD_S = 0.5
"""How long the person is let hold before 'Let go' is shown."""
LEAST_HOLD_S = 0.3
"""What the analysis needs."""
STAYS = 0.08
LONGEST_S = 3.0
LONGEST_SILENCE_S = 0.02


class FlickJudge(MotionJudge):
    """Judges one flick, or one hold, of one stick."""

    def _prepare(self) -> None:
        step, stick = self.step, self.stick
        self._hold_s = step.duration_s if step.action is Action.HOLD else HOLD_S
        self._way: list[tuple[float, float]] = [(self._start_s, 0.0)]
        self._clipped = False
        self._anchor: Sample | None = None
        self._longest_s = 0.0
        self._farthest = 0.0
        self._held_s = 0.0
        if step.action is Action.HOLD and stick.out > AWAY:
            self._watch.armed, self._begin_s, self._anchor = True, self._start_s, replace(stick.now, t_s=self._start_s)
            self._farthest = stick.out

    @property
    def progress(self) -> float:
        """Part of the hold that is done."""
        return min(1.0, self._held_s / self._hold_s)

    def look(self, now_s: float) -> Verdict | None:
        """Return the verdict once the flick is over: held long enough, or back at the centre."""
        self._others.look()
        for sample in self._watch.new():
            if self._take(sample):
                return self._verdict(returned=True)
        if self._begin_s is None:
            return self._unmoved(now_s)
        self._held_s = self._hold(now_s)
        if self._held_s >= self._hold_s:
            return self._verdict(returned=False)
        if now_s - self._begin_s > LONGEST_S + self._hold_s:
            return Verdict(reason=Reason.BRIEF, detail="it kept moving")
        return None

    def _unmoved(self, now_s: float) -> Verdict | None:
        if self._others.instead(now_s):
            return Verdict(reason=Reason.STICK)
        if now_s - self._start_s > self.patience_s:
            return Verdict(reason=Reason.NOT_MOVED if self._watch.armed else Reason.NOT_LET_GO)
        return None

    def _hold(self, now_s: float) -> float:
        return 0.0 if self._anchor is None else max(0.0, now_s - self._anchor.t_s)

    def _take(self, sample: Sample) -> bool:
        """Take in one sample; return True where it ends the flick at the centre."""
        out, _ = self.stick.polar(sample)
        if self._begin_s is None and out > AWAY:
            self._begin_s = sample.t_s
        # The way begins at the last sample near the centre, however long the stick rested there.
        if out <= 0.2 and self._begin_s is None:
            self._way.clear()
        self._way.append((sample.t_s, out))
        if self._begin_s is None:
            return False
        self._clipped |= sample.clipped
        held, self._longest_s = self._anchor, max(self._longest_s, self._hold(sample.t_s))
        elsewhere = held is None or math.hypot(sample.x - held.x, sample.y - held.y) > STAYS
        if elsewhere and out > self._farthest - STAYS:
            self._anchor, self._longest_s = sample, 0.0
        self._farthest = max(self._farthest, out)
        return out < HOME

    def _verdict(self, *, returned: bool) -> Verdict:
        out, angle_deg = self.stick.polar(self._place(returned))
        out = self._farthest if returned else out
        if self._others.moved:
            return Verdict(reason=Reason.TWO)
        off_deg = self._off(angle_deg)
        asked_deg = self.step.direction_deg
        always = self._clipped and self.stick.rim.clipped_at(angle_deg if asked_deg is None else asked_deg)
        if self._clipped and not always and off_deg <= 45.0:
            return Verdict(reason=Reason.CLIPPED)
        if off_deg > OFF_DEG:
            return Verdict(reason=Reason.DIRECTION, detail=direction_words(angle_deg))
        if out < (AT_RIM if self.stick.rim.known else NEAR_RIM):
            return Verdict(reason=Reason.SHORT, detail=f"at {out:.0%} of the way".replace("%", " %"))
        return self._paced() or self._kept(returned) or _done(always)

    def _place(self, returned: bool) -> Sample:
        """Return where the flick ended: the present place, or the one where it turned back."""
        return self._anchor if returned and self._anchor is not None else self.stick.now

    def _off(self, angle_deg: float) -> float:
        """Return how far the direction is from the asked one; where nobody knows which way an axis rises, mirrored."""
        asked = self.step.direction_deg
        if asked is None:
            return 0.0
        if not self.stick.sure:
            angle_deg, asked = _folded(angle_deg), _folded(asked)
        return abs((angle_deg - asked + 180.0) % 360.0 - 180.0)

    def _paced(self) -> Verdict | None:
        if self.step.action is Action.HOLD:
            return None
        took_s = travel_s(self._way)
        if self.step.pace != "slow" and took_s > QUICK_S:
            return Verdict(reason=Reason.SLOW, detail=f"{took_s:.2f} s for the middle part of the way")
        if self.step.pace == "slow" and took_s < SLOW_S:
            return Verdict(reason=Reason.FAST, detail=f"{took_s:.2f} s for the middle part of the way")
        return None

    def _kept(self, returned: bool) -> Verdict | None:
        least_s = min(LEAST_HOLD_S, self._hold_s) if self.step.action is not Action.HOLD else 0.8 * self._hold_s
        if returned and self._longest_s < least_s:
            return Verdict(reason=Reason.BRIEF, detail=f"{self._longest_s:.1f} s")
        return None


def _done(always: bool) -> Verdict:
    return Verdict(reason=Reason.CLIPPED_ALWAYS if always else Reason.DONE)


def _folded(angle_deg: float) -> float:
    """Return an angle mirrored into the first quarter."""
    return math.degrees(math.atan2(abs(math.sin(math.radians(angle_deg))), abs(math.cos(math.radians(angle_deg)))))


def travel_s(way: list[tuple[float, float]]) -> float:
    """Return the time from 20 to 60 % of the way, s, from instants and distances.

    A device that only speaks on change is silent while nothing moves: the time before a report counts for no more
    than 20 ms.

    Parameters
    ----------
    way : sequence of (float, float)
        Instants, s, and distances from rest as fractions of the throw.

    Examples
    --------
    >>> round(travel_s([(0.0, 0.0), (5.0, 0.0), (5.01, 0.4), (5.02, 0.8)]), 3)
    0.01
    """
    reached = next((k for k, (_, out) in enumerate(way) if out >= 0.6), len(way) - 1)
    left = max((k for k in range(reached + 1) if way[k][1] <= 0.2), default=0)
    return max(0.0, _crossing(way, reached, 0.6) - _crossing(way, min(left + 1, reached), 0.2))


def _crossing(way: list[tuple[float, float]], k: int, level: float) -> float:
    if k == 0:
        return way[0][0]
    (t0, a), (t1, b) = way[k - 1], way[k]
    t0 = max(t0, t1 - LONGEST_SILENCE_S)
    return t1 if b <= a else t0 + (t1 - t0) * min(1.0, max(0.0, (level - a) / (b - a)))
