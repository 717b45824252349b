"""A block of blind trials: which two responses come next, and what was answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from feelcheck.model import Estimate, PlayedStage, Slowness, Trial
from feelcheck.psychometrics import (
    Placement,
    exact_interval,
    fit_threshold,
    p_of_correct,
    plan_choices,
    proportion_of,
    sensitivity_interval,
    sensitivity_of,
)
from feelcheck.psychometrics.threshold import levels_of
from feelcheck.rehearsal.adding import slowed
from feelcheck.rehearsal.order import SealedOrder

__all__ = ["QUESTIONS", "ChoiceBlock"]

QUESTIONS = {
    "stop": "Which one was slower to stop?",
    "follow": "Which one followed your thumb more slowly?",
}
Answer = Literal["first", "second"]


@dataclass(slots=True, kw_only=True)
class ChoiceBlock:
    """Trials of one pair of responses, or of one response against itself slowed by what a placement says.

    Parameters
    ----------
    quick, slow : PlayedStage
        The quicker and the slower one; with a placement `slow` is the quick one too.
    n_planned : int
        Trials that are to count, fixed beforehand.
    order : SealedOrder
        Where the slower one comes.
    placement : Placement or None
        Chooses how much slower, trial by trial.
    slowness : {"both", "falling"}
        Which way is slowed then.
    """

    quick: PlayedStage
    slow: PlayedStage
    n_planned: int
    order: SealedOrder
    placement: Placement | None = None
    slowness: Slowness = "both"
    trials: list[Trial] = field(default_factory=list)
    _now: tuple[Trial, tuple[PlayedStage, PlayedStage]] | None = None

    @property
    def counted(self) -> list[Trial]:
        """The trials that count so far."""
        return [trial for trial in self.trials if trial.counted]

    @property
    def finished(self) -> bool:
        """Whether all trials that were planned are made, or no draw is left."""
        return len(self.counted) >= self.n_planned or len(self.trials) >= len(self.order.second)

    def pair(self) -> tuple[PlayedStage, PlayedStage]:
        """Return what is played first and second in the present trial."""
        if self._now is None:
            self._now = self._next()
        return self._now[1]

    def _next(self) -> tuple[Trial, tuple[PlayedStage, PlayedStage]]:
        number = len(self.trials)
        added_s = None if self.placement is None else self.placement.next_s()
        slow = self.slow if added_s is None else slowed(self.quick, added_s, self.slowness)
        second = self.order.second[number]
        first_stage, second_stage = (self.quick, slow) if second else (slow, self.quick)
        trial = Trial(
            number=number + 1,
            first=first_stage.label,
            second=second_stage.label,
            slower="second" if second else "first",
            added_s=added_s,
        )
        return trial, (first_stage, second_stage)

    def take(self, answer: Answer) -> Trial:
        """Take the answer to the present trial.

        Parameters
        ----------
        answer : {"first", "second"}
            Which one was named the slower.
        """
        self.pair()
        assert self._now is not None
        trial = replace(self._now[0], answer=answer)
        if self.placement is not None and trial.added_s is not None:
            self.placement.take(trial.added_s, trial.right)
        self.trials.append(trial)
        self._now = None
        return trial

    def break_off(self, why: str) -> None:
        """Keep the present trial without counting it; another one is drawn in its place.

        Parameters
        ----------
        why : str
            The reason in words; it is kept with the trial.
        """
        self.pair()
        assert self._now is not None
        self.trials.append(replace(self._now[0], counted=False, why_not=why))
        self._now = None

    def plan(self) -> dict[str, float]:
        """Return what the planned number can show, by names as in JSON; empty where a placement chooses."""
        if self.placement is not None:
            return {}
        plan = plan_choices(self.n_planned)
        power = {f"power_at_{round(100 * share)}": chance for share, chance in plan.power.items()}
        least = {} if plan.least_correct is None else {"least_correct": float(plan.least_correct)}
        return {"n": float(plan.n), **least, "alpha": plan.alpha, **power}

    def p_value(self) -> float | None:
        """Return the probability of so many correct by guessing; None where the number was not fixed or not reached."""
        if self.placement is not None or len(self.counted) < self.n_planned:
            return None
        return p_of_correct(_n_right(self.counted), len(self.counted))

    def estimates(self) -> dict[str, Estimate]:
        """Return what the answers tell: share and sensitivity, or the threshold."""
        if self.placement is not None:
            answers = [(t.added_s, t.right) for t in self.counted if t.added_s is not None]
            return {"threshold": fit_threshold(levels_of(answers))}
        k, n = _n_right(self.counted), len(self.counted)
        return {"proportion_correct": proportion_of(k, n), "sensitivity": sensitivity_of(k, n)}

    def intervals(self) -> dict[str, tuple[float, float]]:
        """Return the exact intervals of share and sensitivity."""
        k, n = _n_right(self.counted), len(self.counted)
        if self.placement is not None or not 0 < k < n:
            return {}
        return {"proportion_correct": exact_interval(k, n), "sensitivity": sensitivity_interval(k, n)}


def _n_right(trials: Sequence[Trial]) -> int:
    return sum(trial.right for trial in trials)
