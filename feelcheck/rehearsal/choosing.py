"""The course of blind trials: first, second, which one was slower?"""

from __future__ import annotations

from feelcheck.rehearsal.choices import ChoiceBlock
from feelcheck.rehearsal.controls import Controls
from feelcheck.rehearsal.course import Course, seconds_left
from feelcheck.rehearsal.live import LiveInput
from feelcheck.rehearsal.view import Command, RehearsalView, Stage

__all__ = ["ChoiceCourse"]

BETWEEN_S = 0.7
REST_EVERY, REST_S = 10, 20.0
LEAST_SHARE = 0.4
"""An interval can be cut short after this share of it."""
ANSWERS = {Command.FIRST: "first", Command.SECOND: "second"}


class ChoiceCourse(Course):
    """Leads through a block of trials.

    Parameters
    ----------
    block : ChoiceBlock
        The trials.
    question : str
        What is asked.
    interval_s : float, s
        How long each of the two is felt.
    opening : str
        The fingerprint of the sealed order and the plan, in words.
    """

    def __init__(
        self,
        live: LiveInput,
        controls: Controls,
        block: ChoiceBlock,
        *,
        question: str,
        interval_s: float,
        opening: str,
        right_handed: bool = False,
    ) -> None:
        title = "Blind trials" if block.placement is None else "Your own threshold"
        super().__init__(live, controls, title=title, right_handed=right_handed)
        self.block, self.question, self.interval_s, self.opening = block, question, interval_s, opening
        self._choice: tuple[str, float] | None = None

    @property
    def n_done(self) -> int:
        """Trials that were made, those that do not count too."""
        return len(self.block.trials)

    def begin(self, t_s: float) -> None:
        """Begin the present trial with its first interval."""
        self._choice = None
        self.live.play(self.block.pair(), t_s)
        self._enter(Stage.FIRST, t_s)

    def act(self, command: Command, t_s: float) -> None:
        """Cut an interval or a rest short, or take an answer."""
        if self.stage is Stage.ANSWER and command in ANSWERS:
            self._answered(command, t_s)
        elif command is Command.GO and self.stage is Stage.REST:
            self.begin(t_s)
        elif command is Command.GO and self._felt_enough(t_s):
            self._next(t_s)

    def _felt_enough(self, t_s: float) -> bool:
        return self.stage in (Stage.FIRST, Stage.SECOND) and t_s - self._since_s >= LEAST_SHARE * self.interval_s

    def _answered(self, command: Command, t_s: float) -> None:
        trial = self.block.take("first" if command is Command.FIRST else "second")
        self.notes.append(f"trial {trial.number}: answered {trial.answer}")
        if self.block.finished:
            self.notes.append(f"order {self.block.order.digits} salt {self.block.order.salt}")
            self._enter(Stage.FINISHED, t_s)
        elif len(self.block.counted) % REST_EVERY == 0:
            self._enter(Stage.REST, t_s)
        else:
            self.begin(t_s)

    def _next(self, t_s: float) -> None:
        following = {
            Stage.FIRST: Stage.BETWEEN,
            Stage.BETWEEN: Stage.SECOND,
            Stage.SECOND: Stage.ANSWER,
        }
        if self.stage in following:
            self._enter(following[self.stage], t_s)
            if self.stage is Stage.ANSWER:
                self.controls.asked()

    def look(self, now_s: float) -> None:
        """Go on where an interval or a rest is over; take an answer given with the stick."""
        for_s = {
            Stage.FIRST: self.interval_s,
            Stage.SECOND: self.interval_s,
            Stage.BETWEEN: BETWEEN_S,
        }.get(self.stage)
        if for_s is not None and now_s - self._since_s >= for_s:
            self._next(now_s)
        elif self.stage is Stage.REST and now_s - self._since_s >= REST_S:
            self.begin(now_s)
        elif self.stage is Stage.ANSWER:
            self._choice, answer = self.controls.held(self.live.raw, now_s)
            if answer is not None:
                self._answered(answer, now_s)

    def broken_off(self, why: str) -> None:
        """Keep the present trial without counting it, if one was begun."""
        if self.stage in (Stage.FIRST, Stage.BETWEEN, Stage.SECOND, Stage.ANSWER):
            self.block.break_off(why)
            self.notes.append(f"trial {len(self.block.trials)}: broken off, {why}")

    def view(self, now_s: float) -> RehearsalView:
        """Return what is to be shown; nothing in it tells which response is played."""
        done = len(self.block.counted)
        shared = {"done": done, "n": self.block.n_planned}
        if self.stage is Stage.READY:
            words = (
                "Each trial plays two responses, one after the other. Flick the stick to the rim and let go, a few "
                "times in each; then say which one it was. A guess is an answer too.",
                self.opening,
            )
            return self._shown(now_s, self.question, more=words, **shared)
        if self.stage in (Stage.FIRST, Stage.SECOND):
            which = 0 if self.stage is Stage.FIRST else 1
            label = ("First", "Second")[which]
            left_s = seconds_left(self._since_s + self.interval_s, now_s)
            bead = self.live.output(which, now_s)
            more = ("Flick to the rim, let go, again.",)
            return self._shown(now_s, f"{label}.", label=label, bead=bead, left_s=left_s, more=more, **shared)
        if self.stage is Stage.ANSWER:
            more = ("Left arrow or the stick held to the left: the first. Right: the second.",)
            return self._shown(now_s, self.question, more=more, choice=self._choice, **shared)
        if self.stage is Stage.REST:
            left_s = seconds_left(self._since_s + REST_S, now_s)
            more = ("Shake out your hand. It goes on by itself; go on goes on at once.",)
            return self._shown(now_s, "A rest.", left_s=left_s, more=more, **shared)
        return self._shown(now_s, "And now the second.", **shared)
