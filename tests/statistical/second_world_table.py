"""Print how the gate stop does on logs made by equations of motion: one row an effect.

Run it as ``python tests/statistical/second_world_table.py --logs 8 --jobs 2``; ``--list-bad`` names the log behind each
bad answer. Seeds from 900000 on are for figures to quote: no setting may be chosen on them.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

from dataclasses import dataclass, replace

import numpy as np
from answer_table import AnswerTable, percent

from feelcheck.hand.gate_stop.metric import METRIC
from feelcheck.hand.view import prepare
from feelcheck.model import Estimate
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.testing.in_hand import EFFECTS, HandLog, draw_world, simulate_log

TRUTH = {"time_constant": "tau_s", "smoothing_delay": "smoothing_delay_s"}
NEAR_S = 0.0003
LIMIT_FACTOR, LIMIT_NEAR_S = 2.0, 0.0006
GROSS = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was said of one axis and direction of one log, against the truth."""

    effect: str
    seed: int
    place: str
    status: str
    truth_s: float
    value_s: float = float("nan")
    low_s: float = float("nan")
    high_s: float = float("nan")
    in_goal: bool = False
    holds: bool = False
    useful: bool = False

    @property
    def error(self) -> float:
        """Relative error of a value."""
        return self.value_s / self.truth_s - 1.0

    @property
    def covered(self) -> bool:
        """Whether the interval holds the truth."""
        return self.low_s <= self.truth_s <= self.high_s

    @property
    def gross(self) -> bool:
        """Whether the truth lies more than a quarter of itself outside the interval."""
        return max(self.low_s - self.truth_s, self.truth_s - self.high_s) > GROSS * self.truth_s


def make(effect: str, seed: int) -> HandLog:
    """Return the log of an effect and a seed."""
    rng = np.random.default_rng([seed, sum(map(ord, effect))])
    return simulate_log(draw_world(effect, rng), rng)


def answer(effect: str, seed: int, place: str, estimate: Estimate, truth_s: float, interval_s: float) -> Answer:
    """Return one estimate beside its truth."""
    low, high = coverage_interval(estimate)
    said = Answer(effect=effect, seed=seed, place=place, status=str(estimate.status), truth_s=truth_s)
    if estimate.value is not None and low is not None and high is not None:
        allowed_s = max((0.05 if truth_s >= 3 * interval_s else 0.15) * truth_s, NEAR_S)
        return replace(
            said, value_s=estimate.value, low_s=low, high_s=high, in_goal=abs(estimate.value - truth_s) <= allowed_s
        )
    if high is not None and low is None:
        useful = high <= max(LIMIT_FACTOR * truth_s, truth_s + LIMIT_NEAR_S)
        return replace(said, high_s=high, holds=high >= truth_s, useful=useful and high >= truth_s)
    if low is not None:
        useful = low >= min(truth_s / LIMIT_FACTOR, truth_s - LIMIT_NEAR_S)
        return replace(said, low_s=low, holds=low <= truth_s, useful=useful and low <= truth_s)
    return said


def judge(task: tuple[str, int, str]) -> list[Answer]:
    """Measure one log; one answer an axis and direction whose truth is not zero, `unresolved` where none was given."""
    effect, seed, quantity = task
    log = make(effect, seed)
    found = {
        f"{finding.axis}.{finding.direction}": finding.estimate
        for finding in METRIC.measure(prepare(log.recording())).findings
        if finding.estimate.quantity == quantity
    }
    nothing = Estimate.not_resolved(quantity, unit="s")
    return [
        answer(effect, seed, place, found.get(place, nothing), truth_s, log.truth["report_interval_s"])
        for place in ("x.rising", "x.falling", "y.rising", "y.falling")
        if (truth_s := log.truth.get(f"{place}.{TRUTH[quantity]}", 0.0)) > 0.0
    ]


HEADER = (
    f"{'effect':<20} {'n':>4} {'median%':>8} {'p95%':>7} {'goal%':>7} {'cover%':>7} {'ok%':>7} {'atmost%':>7} "
    f"{'unres%':>7} {'gross':>6} {'holds%':>7} {'useful%':>7} {'said%':>7}"
)


def row(name: str, answers: list[Answer]) -> str:
    """Return one line: values against the truth, then limits, then readings with a value or a useful limit."""
    values = [a for a in answers if a.status == "ok"]
    limits = [a for a in answers if a.status in ("at_most", "at_least")]
    errors = 100 * np.array([a.error for a in values])
    spread = f"{np.median(errors):>8.1f} {np.percentile(np.abs(errors), 95):>7.1f}" if values else f"{'-':>8} {'-':>7}"
    cells = [
        f"{name:<20} {len(answers):>4} {spread}",
        percent(a.in_goal for a in values),
        percent(a.covered for a in values),
        percent(a.status == "ok" for a in answers),
        percent(a.status == "at_most" for a in answers),
        percent(a.status == "not_resolved" for a in answers),
        f"{sum(a.gross for a in values):>6}",
        percent(a.holds for a in limits),
        percent(a.useful for a in limits),
        percent(a.status == "ok" or a.useful for a in answers),
    ]
    return " ".join(cells)


def describe(said: Answer) -> str:
    """Return one answer in a line, in ms."""
    low, value, high = (f"{1e3 * part:.2f}" for part in (said.low_s, said.value_s, said.high_s))
    return (
        f"    {said.effect} seed {said.seed} {said.place}: true {1e3 * said.truth_s:.2f}, {said.status} "
        f"{value} ({low} to {high}) ms"
    )


def is_bad(said: Answer) -> bool:
    """Whether an answer is outside the goal, or an interval or a limit does not hold the truth."""
    if said.status == "ok":
        return not (said.covered and said.in_goal)
    return not (said.holds or said.status == "not_resolved")


TABLE = AnswerTable(header=HEADER, judge=judge, row=row, describe=describe, is_bad=is_bad)


if __name__ == "__main__":
    quantities = ("smoothing_delay", "time_constant")
    TABLE.main(__doc__, EFFECTS, quantities, "logs", 5)
