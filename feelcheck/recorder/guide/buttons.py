"""The pad's own buttons and sticks as controls of the recording."""

from __future__ import annotations

import math

from feelcheck.capturing.sticks import Pad
from feelcheck.recorder.guide.judges import AWAY
from feelcheck.recorder.guide.view import CHOICES, Command

__all__ = ["PadControls"]

CHOICE_S = 0.8
FAR = 0.6
_SIDES = ("right", "up", "left", "down")


class PadControls:
    """Any button is 'go on' or 'pause'; while paused a stick held to a side chooses.

    Notes
    -----
    Which number a face button has differs from pad to pad, so every button does the same. A press counts when it is
    let go and no stick was away from its centre meanwhile: the button in a stick that is pushed along with a flick, or
    a marker's contact, is no control.
    """

    def __init__(self, pad: Pad) -> None:
        self._pad = pad
        self._down: dict[str, bool] = {}
        self._side = self._chosen = ""
        self._since_s = 0.0
        self._used = False

    def _away(self) -> bool:
        return any(stick.out > AWAY for stick in self._pad.sticks.values())

    def button(self, name: str, value: int) -> bool:
        """Take one button row; return whether a press was completed that counts as a control.

        Parameters
        ----------
        name : str
            The button's, as in the events file.
        value : int
            1 pressed, 0 let go.
        """
        if value:
            self._down[name] = not self._away()
            return False
        return self._down.pop(name, False) and not self._away()

    def moved(self) -> None:
        """Take note that sticks may have moved: a press during which one was away is none."""
        if self._down and self._away():
            self._down = dict.fromkeys(self._down, False)

    def reset(self) -> None:
        """Forget a choice that was begun; a stick that is out must come home before it chooses."""
        self._side, self._chosen, self._used = "", "", self._away()

    def track(self, t_s: float) -> None:
        """Take note of the side to which a stick is held at an instant, however late that is looked at.

        Parameters
        ----------
        t_s : float, s
            The newest report's instant.
        """
        side = self._held_side()
        if self._used:
            self._used = self._away()
        elif side != self._side:
            if self._side and t_s - self._since_s >= CHOICE_S:
                self._chosen = self._side
            self._side, self._since_s = side, t_s

    def choose(self, now_s: float) -> tuple[tuple[str, float] | None, Command | None]:
        """Return the side to which a stick is held and how much of the time is over, and the choice once it is.

        Parameters
        ----------
        now_s : float, s
            The present instant, on the clock of the reports.
        """
        share = min(1.0, max(0.0, now_s - self._since_s) / CHOICE_S) if self._side else 0.0
        if share >= 1.0:
            self._chosen = self._side
        if self._chosen:
            command = CHOICES[self._chosen]
            self.reset()
            return None, command
        return ((self._side, share), None) if self._side else (None, None)

    def _held_side(self) -> str:
        for stick in self._pad.sticks.values():
            out, angle_deg = stick.polar(stick.now)
            if out > FAR and abs(math.remainder(angle_deg, 90.0)) < 30.0:
                return _SIDES[round(angle_deg / 90.0) % 4]
        return ""
