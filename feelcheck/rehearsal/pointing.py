"""The course of the aiming task: steer the cursor onto the marked target, select, the next one."""

from __future__ import annotations

from feelcheck.counted import counted
from feelcheck.rehearsal.aiming import AimingTask, Place
from feelcheck.rehearsal.controls import Controls
from feelcheck.rehearsal.course import LETTERS, Course, seconds_left
from feelcheck.rehearsal.live import LiveInput
from feelcheck.rehearsal.view import Command, RehearsalView, Stage

__all__ = ["AimingCourse"]

TICK_S = 1e-3
DEAD = 0.06
"""What the stick may be off its centre without moving the cursor, as a fraction of throw."""
REST_S = 12.0
SELECTS = (Command.GO, Command.FIRST, Command.SECOND)


class AimingCourse(Course):
    """Leads through the sequences of an aiming task.

    Parameters
    ----------
    task : AimingTask
        The task.
    """

    def __init__(self, live: LiveInput, controls: Controls, task: AimingTask, *, right_handed: bool = False) -> None:
        super().__init__(live, controls, title="Aiming", right_handed=right_handed)
        self.task = task
        self._moved_to_s = 0.0

    @property
    def n_done(self) -> int:
        """Sequences that are done."""
        return len(self.task.sequences)

    def begin(self, t_s: float) -> None:
        """Begin the present sequence."""
        self.live.play([self.task.stage], t_s)
        self._moved_to_s = t_s
        self._enter(Stage.AIM, t_s)

    def act(self, command: Command, t_s: float) -> None:
        """Select where the cursor is at that instant."""
        if self.stage is Stage.REST and command is Command.GO:
            self.begin(t_s)
        elif self.stage is Stage.AIM and command in SELECTS:
            self._move_to(t_s)
            done = len(self.task.sequences)
            self.task.select(t_s)
            if self.task.finished:
                self._enter(Stage.FINISHED, t_s)
            elif len(self.task.sequences) > done:
                self._enter(Stage.REST, t_s)

    def look(self, now_s: float) -> None:
        """Move the cursor up to what is known; go on where a rest is over."""
        if self.stage is Stage.AIM:
            self._move_to(min(now_s, max(self.live.t_s, now_s - 0.05)))
        elif self.stage is Stage.REST and now_s - self._since_s >= REST_S:
            self.begin(now_s)

    def _move_to(self, t_s: float) -> None:
        """Integrate the played output in steps of 1 ms: the place depends on the reports, not on when it is drawn."""
        while self._moved_to_s + TICK_S <= t_s:
            self._moved_to_s += TICK_S
            x, y = self.live.output(0, self._moved_to_s)
            self.task.move(_live(x), _live(y), TICK_S)

    def broken_off(self, why: str) -> None:
        """Begin the sequence again; what was made of it does not count."""
        if self.stage is Stage.AIM:
            done = counted(len(self.task.begin_again()), "movement")
            self.notes.append(f"sequence {len(self.task.sequences) + 1}: broken off after {done}, {why}")

    def view(self, now_s: float) -> RehearsalView:
        """Return what is to be shown."""
        task = self.task
        total = len(task.order) * task.n_targets
        done = len(task.sequences) * task.n_targets + task.n_done
        shared = {"done": done, "n": total}
        if self.stage is Stage.READY:
            words = (
                "Steer the cursor onto the marked target and select it, as quickly as you can while still hitting.",
                "The stick sets the cursor's speed; go on (Space, any pad button) selects.",
            )
            return self._shown(now_s, "Aim from target to target.", more=words, **shared)
        if self.stage is Stage.AIM:
            targets: tuple[Place, ...] = tuple(task.place_of(k) for k in range(task.n_targets))
            label = LETTERS[task.order[len(task.sequences)]] if len(task.stages) > 1 else ""
            number = f"Sequence {len(task.sequences) + 1} of {len(task.order)}."
            return self._shown(
                now_s, "Select the marked target.", more=(number,), label=label, cursor=task.cursor,
                target=task.target, targets=targets, **shared,
            )  # fmt: skip
        if self.stage is Stage.REST:
            left_s = seconds_left(self._since_s + REST_S, now_s)
            more = ("Shake out your hand. It goes on by itself; go on goes on at once.",)
            return self._shown(now_s, "A rest.", left_s=left_s, more=more, **shared)
        return self._shown(now_s, "", **shared)


def _live(deflection: float) -> float:
    """Deflection past the dead zone, from 0 to 1 again."""
    beyond = abs(deflection) - DEAD
    return 0.0 if beyond <= 0 else (beyond / (1 - DEAD) if deflection > 0 else -beyond / (1 - DEAD))
