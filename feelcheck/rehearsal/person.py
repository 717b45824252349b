"""A simulated person at the simulated pad: moves, presses and answers what stands on the screen."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from feelcheck.rehearsal.choosing import ChoiceCourse
from feelcheck.rehearsal.controls import KEYS, Controls
from feelcheck.rehearsal.course import Course
from feelcheck.rehearsal.observer import SimulatedObserver
from feelcheck.rehearsal.player import SimulatedPlayer
from feelcheck.rehearsal.pointing import AimingCourse
from feelcheck.rehearsal.view import Command, Stage

__all__ = ["BUTTONS", "SimulatedPerson", "simulated_controls"]

Order = Mapping[str, Any]
BUTTONS = {
    "button_0": Command.GO,
    "button_1": Command.FIRST,
    "button_2": Command.SECOND,
    "button_3": Command.END,
}
AFTER_S = 0.35
FLICK_EVERY_S, BACK_AFTER_S = 0.44, 0.22
STEER_EVERY_S = 0.01
FREE_S, CHANGE_EVERY_S = 5.0, 1.3


def simulated_controls() -> Controls:
    """Return the controls that the simulated person knows."""
    return Controls(KEYS, BUTTONS)


class SimulatedPerson:
    """Tells the pad what to do, a moment after something came up on the screen.

    Parameters
    ----------
    observer : SimulatedObserver or None
        Answers and goes on; without it only the stick is moved, and a real person answers by key.
    seed : int
        Seed of its aiming.
    """

    def __init__(self, observer: SimulatedObserver | None, seed: int) -> None:
        self._observer, self._player = observer, SimulatedPlayer(seed)
        self._stage: tuple[Stage, int] | None = None
        self._since_s = self._next_s = self._began_s = 0.0
        self._out = self._pressed = False

    def look(self, course: Course, now_s: float) -> Iterator[Order]:
        """Yield orders for the pad at an instant.

        Parameters
        ----------
        course : Course
            What is on the screen.
        now_s : float, s
            The present instant.
        """
        here = (course.stage, course.n_done)
        if here != self._stage:
            self._stage, self._since_s, self._next_s, self._pressed = here, now_s, now_s, False
            self._began_s = self._began_s or now_s
            if self._out or course.stage is Stage.ANSWER:
                self._out = False
                yield {"stick": [0.0, 0.0]}
        if course.stage in (Stage.FIRST, Stage.SECOND, Stage.FREE):
            yield from self._flick(now_s)
        if self._observer is None:
            return
        if course.stage is Stage.AIM and isinstance(course, AimingCourse):
            yield from self._steer(course, now_s)
        elif now_s - self._since_s >= AFTER_S and not self._pressed:
            yield from self._press(course, now_s)

    def _flick(self, now_s: float) -> Iterator[Order]:
        if now_s >= self._next_s:
            self._out = not self._out
            self._next_s = now_s + (BACK_AFTER_S if self._out else FLICK_EVERY_S - BACK_AFTER_S)
            yield {"stick": [0.97 if self._out else 0.0, 0.0]}

    def _press(self, course: Course, now_s: float) -> Iterator[Order]:
        if course.stage is Stage.ANSWER and isinstance(course, ChoiceCourse) and self._observer is not None:
            self._pressed = True
            yield {"press": 1 if self._observer.answer(course.block.pair()) == "first" else 2}
        elif course.stage in (Stage.READY, Stage.PAUSED, Stage.REST):
            self._pressed = True
            yield {"press": 0}
        elif course.stage is Stage.FREE:
            self._since_s = now_s + CHANGE_EVERY_S
            yield {"press": 0 if now_s - self._began_s < FREE_S else 3}

    def _steer(self, course: AimingCourse, now_s: float) -> Iterator[Order]:
        if now_s < self._next_s:
            return
        self._next_s = now_s + STEER_EVERY_S
        thumb, selects = self._player.steer(course.task, now_s, STEER_EVERY_S)
        yield {"stick": list(thumb), "took_s": STEER_EVERY_S}
        if selects and now_s - self._since_s > AFTER_S:
            self._since_s = now_s
            yield {"press": 0}
