"""The course of a rehearsal: what stands on the screen now, and what a row, a key or the time changes."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections import deque
from collections.abc import Sequence

from feelcheck.capturing.rows import Row
from feelcheck.model import PlayedStage
from feelcheck.rehearsal.controls import Controls
from feelcheck.rehearsal.live import LiveInput
from feelcheck.rehearsal.view import Command, RehearsalView, Stage

__all__ = ["LETTERS", "PAIN", "Course", "FreeCourse", "seconds_left"]

PAIN = "Stop at once if anything hurts, tingles or goes numb."
STRIP_S, STRIP_EVERY_S, STRIP_POINTS = 2.0, 4e-3, 500
LETTERS = ("A", "B")


class Course(ABC):
    """What all tasks share: the beginning, pauses, a pad that is gone, the end.

    Parameters
    ----------
    live : LiveInput
        The stick.
    controls : Controls
        Keys and buttons.
    title : str
        The task in words.
    right_handed : bool
        Whether the right stick is used: the words stand on the left then.
    """

    def __init__(self, live: LiveInput, controls: Controls, *, title: str, right_handed: bool = False) -> None:
        self.live, self.controls, self.title, self.right_handed = live, controls, title, right_handed
        self.stage = Stage.READY
        self.notes: list[str] = []
        self.ended = False
        self._since_s = 0.0
        self._back_to = Stage.READY

    @property
    def finished(self) -> bool:
        """Whether it is over, by itself or because that was asked for."""
        return self.stage is Stage.FINISHED

    @property
    def n_done(self) -> int:
        """How many pieces of the task were begun; it changes when the next one stands on the screen."""
        return 0

    def take_notes(self) -> list[str]:
        """Return what is to be noted in the session since the last call."""
        taken, self.notes = self.notes, []
        return taken

    def row(self, row: Row) -> None:
        """Take one row of the events file.

        Parameters
        ----------
        row : (float, str, str, int)
            Instant (s), kind, name and value.
        """
        t_s, kind, name, value = row
        if kind == "axis":
            self.live.take(row)
        elif kind == "button":
            command = self.controls.button(name, value)
            if command is not None:
                self.command(command, t_s)
        elif kind == "unplug" and not self.finished:
            self.broken_off("the pad was unplugged")
            self._enter(Stage.UNPLUGGED, t_s)
        elif kind == "plug" and self.stage is Stage.UNPLUGGED:
            self._enter(Stage.PAUSED, t_s)

    def command(self, command: Command, t_s: float) -> None:
        """Take what was asked for at an instant.

        Parameters
        ----------
        command : Command
            By key or button.
        t_s : float, s
            When.
        """
        if self.finished:
            return
        if command is Command.END:
            if self.stage is not Stage.PAUSED and self.stage is not Stage.READY:
                self.broken_off("ended by the person")
            self.ended = True
            self._enter(Stage.FINISHED, t_s)
        elif command is Command.PAUSE and self.stage not in (Stage.PAUSED, Stage.READY, Stage.UNPLUGGED):
            self.broken_off("paused")
            self._enter(Stage.PAUSED, t_s)
        elif self.stage in (Stage.READY, Stage.PAUSED) and command is Command.GO:
            self.begin(t_s)
        elif self.stage not in (Stage.READY, Stage.PAUSED, Stage.UNPLUGGED):
            self.act(command, t_s)

    def _enter(self, stage: Stage, t_s: float) -> None:
        self.stage, self._since_s = stage, t_s

    @abstractmethod
    def begin(self, t_s: float) -> None:
        """Begin or go on after a pause.

        Parameters
        ----------
        t_s : float, s
            When; what is played begins at rest then.
        """

    @abstractmethod
    def act(self, command: Command, t_s: float) -> None:
        """Take a command of the task itself.

        Parameters
        ----------
        command : Command
            By key or button.
        t_s : float, s
            When.
        """

    @abstractmethod
    def look(self, now_s: float) -> None:
        """Let the time pass.

        Parameters
        ----------
        now_s : float, s
            The present instant, on the clock of the reports.
        """

    @abstractmethod
    def broken_off(self, why: str) -> None:
        """Keep what was begun without counting it.

        Parameters
        ----------
        why : str
            The reason in words, for the session's notes.
        """

    @abstractmethod
    def view(self, now_s: float) -> RehearsalView:
        """Return what is to be shown.

        Parameters
        ----------
        now_s : float, s
            The instant that is shown.
        """

    def _shown(self, now_s: float, sentence: str, **more: object) -> RehearsalView:
        fixed = {
            Stage.PAUSED: "Paused. What was begun does not count; it will come again.",
            Stage.UNPLUGGED: "The pad is gone. Plug it in again; what was answered is kept.",
            Stage.FINISHED: "Finished. Thank you."
            if not self.ended
            else "Ended, as you asked. What was answered is kept.",
        }
        return RehearsalView(
            stage=self.stage,
            title=self.title,
            sentence=fixed.get(self.stage, sentence),
            stick=self.live.raw,
            state_s=now_s,
            right_handed=self.right_handed,
            keys=self.controls.legend(),
            **more,  # type: ignore[arg-type]
        )


class FreeCourse(Course):
    """Free feel: one or two responses, changed by a button, for as long as is wished.

    Parameters
    ----------
    stages : sequence of PlayedStage
        One or two.
    hide_names : bool
        Whether they are only called A and B, and no trace is drawn.
    """

    def __init__(
        self,
        live: LiveInput,
        controls: Controls,
        stages: Sequence[PlayedStage],
        *,
        hide_names: bool = False,
        right_handed: bool = False,
    ) -> None:
        super().__init__(live, controls, title="Free feel", right_handed=right_handed)
        self.stages, self.hide_names, self.now = list(stages), hide_names, 0
        self._strip: deque[tuple[float, float, float]] = deque(maxlen=STRIP_POINTS)

    def begin(self, t_s: float) -> None:
        """Begin to play all responses at once, so that changing them changes nothing else."""
        self.live.play(self.stages, t_s)
        self._enter(Stage.FREE, t_s)

    def act(self, command: Command, t_s: float) -> None:  # noqa: ARG002 - the others need the instant
        """Change to the other response."""
        if command in (Command.FIRST, Command.SECOND) and len(self.stages) > 1:
            self.now = 0 if command is Command.FIRST else 1
        elif command is Command.GO:
            self.now = (self.now + 1) % len(self.stages)

    def look(self, now_s: float) -> None:
        """Nothing happens by itself."""

    def broken_off(self, why: str) -> None:
        """Nothing was begun that could count."""

    def view(self, now_s: float) -> RehearsalView:
        """Return what is to be shown."""
        if self.stage is Stage.READY:
            words = (
                "The bead follows your stick through a response that software adds.",
                "Flick it to the rim and let go; feel how it follows and how it stops.",
            )
            return self._shown(now_s, "Take the pad and lay a thumb on the stick.", more=words)
        if self.stage is not Stage.FREE:
            return self._shown(now_s, "")
        letter = LETTERS[self.now]
        name = letter if self.hide_names else f"{letter}: {self.stages[self.now].label}"
        change = "Go on changes to the other one." if len(self.stages) > 1 else ""
        bead = self.live.output(self.now, now_s)
        return self._shown(
            now_s, "Flick, let go, steer as you like.", more=(change,) if change else (),
            label=name, bead=bead, trace=self._trace(now_s, bead),
        )  # fmt: skip

    def row(self, row: Row) -> None:
        """Take one row, and keep what was played for the strip."""
        super().row(row)
        t_s, kind, *_ = row
        drawn = kind == "axis" and self.stage is Stage.FREE and not self.hide_names
        if drawn and (not self._strip or t_s - self._strip[-1][0] >= STRIP_EVERY_S):
            self._strip.append((t_s, self.live.raw[0], self.live.output(self.now, t_s)[0]))

    def _trace(self, now_s: float, bead: tuple[float, float]) -> tuple[tuple[float, float, float], ...]:
        """Two seconds of stick and output; a stick that is held sends nothing, so the last point stands until now."""
        kept = [point for point in self._strip if point[0] > now_s - STRIP_S]
        return (*kept, (now_s, self.live.raw[0], bead[0])) if kept else ()


def seconds_left(until_s: float, now_s: float) -> float:
    """Return what is left until an instant, never below nothing.

    Parameters
    ----------
    until_s : float, s
        The instant that is waited for.
    now_s : float, s
        The present instant.
    """
    return max(0.0, until_s - now_s) if math.isfinite(until_s) else 0.0
