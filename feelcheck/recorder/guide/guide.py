"""The guided recording as a state machine: what is asked, what is made of it, what comes next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from feelcheck.capturing.rows import Row
from feelcheck.capturing.sticks import Pad
from feelcheck.counted import counted
from feelcheck.model import Action, Script, Step
from feelcheck.recorder.guide.asking import MOVED, PATIENCE_S, Ask, Plan, judge_for
from feelcheck.recorder.guide.buttons import PadControls
from feelcheck.recorder.guide.judges import HOME, Judge, asked_sticks
from feelcheck.recorder.guide.stills import PressJudge, WaitJudge
from feelcheck.recorder.guide.verdicts import Reason, Verdict
from feelcheck.recorder.guide.view import Command, GuideView, Mark, Stage
from feelcheck.recorder.guide.words import asked_words, blocks_of, sentence

__all__ = ["Guide", "Row", "Said"]

READY_S = 5.0
UNMOVED_PAUSES = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A row for the session: a cue that was shown, with the step it asks for, or a note on what was made of it."""

    kind: str
    text: str
    value: int = 0
    step: Step | None = None


class Guide:
    """Asks for one action at a time until the script is done.

    Parameters
    ----------
    script : Script
        What is asked.
    axes : iterable of Mapping
        The pad's axes as its source describes them.
    ready_s : float, s
        How long the first page stands where nobody begins earlier.

    Notes
    -----
    `take` is given the rows that came, `look` the instant up to which they are complete; it returns the rows that the
    session must hold about what was asked and judged. Nothing here draws or reads a clock.
    """

    def __init__(self, script: Script, axes: Iterable[Mapping[str, Any]], *, ready_s: float = READY_S) -> None:
        self.script, self.pad = script, Pad(list(axes))
        self.plan, self.controls = Plan(script), PadControls(self.pad)
        self.stage = Stage.READY
        self.stopped = False
        self.remarks: list[str] = []
        self.accepted = self.rejected = self.skipped = self.flicks = 0
        self._ready_s, self._began_s, self._now_s = ready_s, -1.0, 0.0
        self._ask: Ask | None = None
        self._judge: Judge | None = None
        self._asked_s = 0.0
        self._verdict: Verdict | None = None
        self._judged, self._next_try = "", False
        self._unmoved = 0
        self._choice: tuple[str, float] | None = None
        self._said: list[Said] = []
        self._blocks = blocks_of(script)
        self._ledger: dict[tuple[int, str], list[Mark]] = {}

    @property
    def finished(self) -> bool:
        """Whether the script is done."""
        return self.stage is Stage.FINISHED

    def take(self, rows: Iterable[Row]) -> None:
        """Take in rows of the events file, in the file's order.

        Parameters
        ----------
        rows : iterable of (float, str, str, int)
            Instant (s), kind, name and value.
        """
        for t_s, kind, name, value in rows:
            if kind == "axis":
                self.pad.take(t_s, name, value)
                self.controls.moved()
                if self.stage is Stage.PAUSED:
                    self.controls.track(t_s)
            elif kind == "button":
                self._button(name, value)
            elif kind == "unplug" and not self.finished:
                self.stage = Stage.UNPLUGGED
            elif kind == "plug" and self.stage is Stage.UNPLUGGED:
                self.stage = Stage.ASKING
                self._judge = None
                self._reask()

    def _button(self, name: str, value: int) -> None:
        judge = self._judge
        if self.stage is Stage.ASKING and isinstance(judge, PressJudge):
            judge.pressed |= bool(value)
        elif self.controls.button(name, value):
            self.command(Command.GO)

    def look(self, now_s: float) -> list[Said]:
        """Judge what was seen up to an instant and go on where that is due; return what the session must hold.

        Parameters
        ----------
        now_s : float, s
            The instant up to which all rows were taken in.
        """
        self._now_s = now_s
        if self._began_s < 0:
            self._began_s = now_s
        if self.stage is Stage.READY and self.left_s <= 0:
            self._begin()
        elif self.stage is Stage.PAUSED:
            self._choice, chosen = self.controls.choose(now_s)
            if chosen is not None:
                self.command(chosen)
        elif self.stage in (Stage.ASKING, Stage.BREAK):
            self._watch()
        said, self._said = self._said, []
        return said

    @property
    def left_s(self) -> float:
        """What is left before the start or of a break, s."""
        if self.stage is Stage.READY:
            return max(0.0, self._began_s + self._ready_s - self._now_s)
        return self._judge.left_s if isinstance(self._judge, WaitJudge) else 0.0

    def command(self, command: Command) -> None:
        """Do what a key or the pad asks for.

        Parameters
        ----------
        command : Command
            What was asked for.
        """
        if self.stage in (Stage.FINISHED, Stage.UNPLUGGED) and command is not Command.STOP:
            return
        if command is Command.STOP:
            self._say("note", "stopped by the person")
            self.stopped = True
        elif self.stage is Stage.READY:
            self._begin()
        elif command is Command.GO:
            self._go()
        elif self._ask is not None:
            self._skip(self._ask) if command is Command.SKIP else self._back(self._ask)

    def time_is_up(self) -> None:
        """End here, since nothing more is recorded."""
        self.stage, self._judge, self._ask = Stage.FINISHED, None, None

    def _begin(self) -> None:
        for stick in self.pad.sticks.values():
            stick.rests_here()
        self._proceed()

    def _go(self) -> None:
        if self.stage is Stage.BREAK:
            self._proceed()
        elif self.stage is Stage.PAUSED:
            self._reask()
        else:
            self.stage = Stage.PAUSED
            self.controls.reset()
            self._judge = None
            self._say("cue", "pause", step=Step(action=Action.PAUSE, duration_s=0.0, stick=""))

    def _skip(self, ask: Ask) -> None:
        self._say("note", f"skipped: {ask.cue}")
        if ask.step.action in MOVED or ask.step.action is Action.REST:
            self._leave_out(ask)
        self.plan.skip(ask)
        self._verdict = None
        self._proceed()

    def _back(self, ask: Ask) -> None:
        self._say("note", "repeat asked for")
        self.plan.back(ask)
        self._verdict = None
        self._proceed()

    def _reask(self) -> None:
        if self._ask is None:
            self.stage = Stage.READY
            self._began_s = self._now_s
            return
        self._show(self._ask)

    def _proceed(self) -> None:
        """Ask for the next action, or finish."""
        ask = self.plan.next()
        if ask is None:
            self.stage, self._judge, self._ask = Stage.FINISHED, None, None
            self._say("note", f"{self.accepted} accepted; {self.rejected} rejected; {self.skipped} skipped")
            self._say("cue", "end")
            return
        self._show(ask)

    def _show(self, ask: Ask) -> None:
        if ask.step.action is Action.FLICK and any(stick.out > HOME for stick in asked_sticks(self.pad, ask.step)):
            ask = self.plan.let_go_first(ask)
        self._ask, self._asked_s = ask, self._now_s
        self._judge = judge_for(self.pad, ask, self._now_s, tied=self.script.tied)
        self.stage = Stage.BREAK if ask.step.action is Action.PAUSE else Stage.ASKING
        self._choice = None
        self._say("cue", ask.cue, step=ask.step)

    def _watch(self) -> None:
        ask = self._ask
        assert ask is not None
        if self._judge is None:
            self.pad.adopt(ask.step.stick)
            self._judge = judge_for(self.pad, ask, self._now_s, tied=self.script.tied)
        verdict = self._judge.look(self._now_s) if self._judge is not None else self._unknown()
        if verdict is not None:
            self._judged_as(ask, verdict)

    def _unknown(self) -> Verdict | None:
        waited_s = self._now_s - self._asked_s
        return Verdict(reason=Reason.NOT_MOVED) if waited_s > PATIENCE_S else None

    def _judged_as(self, ask: Ask, verdict: Verdict) -> None:
        counts = ask.step.action in MOVED or ask.step.action in (Action.REST, Action.PRESS)
        again = False
        if not verdict.good:
            again = self.plan.again(ask)
        if counts or not verdict.good:
            self._verdict, self._judged, self._next_try = verdict, asked_words(ask.step), again
        if counts:
            self._count(ask, verdict)
            if not verdict.good and not again:
                self._give_up(ask)
        if counts:
            self._unmoved = self._unmoved + 1 if verdict.reason is Reason.NOT_MOVED else 0
        self._proceed()
        if self._unmoved >= UNMOVED_PAUSES and not self.finished:
            self._unmoved = 0
            self._go()

    def _count(self, ask: Ask, verdict: Verdict) -> None:
        self._mark(ask, Mark.COUNTS if verdict.good else Mark.AGAIN)
        if verdict.good:
            self.accepted += 1
            self.flicks += ask.step.action is Action.FLICK
            self.plan.finished(ask)
            self._say("note", f"accepted {verdict.reason}: {ask.cue}", ask.attempt)
        else:
            self.rejected += 1
            self._say("note", f"rejected {verdict.reason}: {ask.cue}", ask.attempt)

    def _mark(self, ask: Ask, mark: Mark) -> None:
        self._ledger.setdefault(self._blocks.at(ask.number), []).append(mark)

    def _leave_out(self, ask: Ask) -> None:
        self.skipped += 1
        self._mark(ask, Mark.OUT)

    def _give_up(self, ask: Ask) -> None:
        self._leave_out(ask)
        tries = counted(ask.attempt, "try", "tries")
        self.remarks.append(f"{asked_words(ask.step)}: none of {tries} counted; gone on without it.")
        self._say("note", f"gone on after {tries}: {ask.cue}")

    def _say(self, kind: str, text: str, value: int = 0, *, step: Step | None = None) -> None:
        self._said.append(Said(kind=kind, text=text, value=value, step=step))

    def view(self) -> GuideView:
        """Return what is to be shown now."""
        ask, judge = self._ask, self._judge
        number = ask.number if ask is not None else (self.plan.n_steps if self.finished else 0)
        block, name = self._blocks.at(number)
        return GuideView(
            stage=self.stage,
            sentence=sentence(self.stage, None if ask is None else ask.step),
            step=None if ask is None else ask.step,
            pad=self.pad,
            attempt=1 if ask is None else ask.attempt,
            progress=0.0 if judge is None else judge.progress,
            left_s=self.left_s,
            verdict=self._verdict,
            judged=self._judged,
            next_try=self._next_try,
            block=block,
            n_blocks=self._blocks.count,
            block_name=name,
            done=number,
            n_steps=self.plan.n_steps,
            accepted=self.accepted,
            rejected=self.rejected,
            skipped=self.skipped,
            flicks=self.flicks,
            choice=self._choice,
            now_s=self._now_s,
            tied=self.script.tied,
            ledger=tuple((name, tuple(marks)) for (_, name), marks in sorted(self._ledger.items())),
            elapsed_s=0.0 if self._began_s < 0 else self._now_s - self._began_s,
        )
