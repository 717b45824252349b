"""Print how the bench does on captures of circuits that are not the project's own: one row an effect.

Run it as ``python tests/statistical/foreign_bench_table.py --captures 12 --jobs 2``; ``--list-bad`` names the capture
behind each bad answer. Seeds from 900000 on are for figures to quote: no setting may be chosen on them.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

from dataclasses import dataclass, replace

import numpy as np
from answer_table import AnswerTable, percent

from feelcheck.bench import measure_response
from feelcheck.errors import FeelcheckError
from feelcheck.model import Estimate
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.testing.at_bench import EFFECTS, BenchCapture, draw_bench, take_capture

GROSS = 0.25
USEFUL = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was said of one direction of one capture, against the truth."""

    effect: str
    seed: int
    place: str
    status: str
    truth: float
    scale: float
    value: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")

    @property
    def error(self) -> float:
        """Relative error of a value."""
        return (self.value - self.truth) / self.scale

    @property
    def covered(self) -> bool:
        """Whether the interval, or the limit, holds the truth."""
        return not (self.low > self.truth or self.high < self.truth)

    @property
    def gross(self) -> bool:
        """Whether the truth lies outside the interval and a value is more than a quarter off."""
        return not self.covered and abs(self.error) > GROSS


def make(effect: str, seed: int) -> BenchCapture:
    """Return the capture of an effect and a seed."""
    rng = np.random.default_rng([seed, sum(map(ord, effect))])
    return take_capture(draw_bench(effect, rng), rng)


def answer(effect: str, seed: int, place: str, estimate: Estimate, truth: float, scale: float) -> Answer:
    """Return one estimate beside its truth."""
    low, high = coverage_interval(estimate)
    said = Answer(effect=effect, seed=seed, place=place, status=str(estimate.status), truth=truth, scale=scale)
    if estimate.value is not None:
        said = replace(said, value=estimate.value)
    return replace(said, low=float("nan") if low is None else low, high=float("nan") if high is None else high)


def judge(task: tuple[str, int, str]) -> list[Answer]:
    """Measure one capture; one answer a direction where the quantity has a true value."""
    effect, seed, quantity = task
    seen = make(effect, seed)
    truth = seen.truth.get(quantity)
    if truth is None:
        return []
    nothing = Estimate.not_resolved(quantity, unit="s")
    try:
        result = measure_response(seen.capture)
    except FeelcheckError:
        return [answer(effect, seed, "refused", nothing, truth, max(truth, 1e-9))]
    if quantity == "update_interval":
        return [answer(effect, seed, "both", result.update_interval, truth, truth)]
    sides = {"rising": result.rising, "falling": result.falling}
    duration = min((side.transition_10_90.value or np.inf for side in sides.values() if side), default=np.inf)
    scale = truth or (duration if np.isfinite(duration) else 1.0)
    return [
        answer(effect, seed, name, getattr(side, quantity), truth, scale)
        for name, side in sides.items()
        if side is not None
    ]


HEADER = (
    f"{'effect':<20} {'n':>4} {'median%':>8} {'p95%':>7} {'u%':>6} {'cover%':>7} {'ok%':>7} {'limit%':>7} {'gross':>6}"
    f" {'holds%':>7}"
)


def row(name: str, answers: list[Answer]) -> str:
    """Return one line: values against the truth, then limits."""
    values = [a for a in answers if a.status == "ok"]
    limits = [a for a in answers if a.status in ("at_most", "at_least")]
    errors = 100 * np.array([a.error for a in values])
    spread = f"{np.median(errors):>8.2f} {np.percentile(np.abs(errors), 95):>7.1f}" if values else f"{'-':>8} {'-':>7}"
    width = 100 * float(np.median([(a.high - a.low) / 3.92 / a.scale for a in values])) if values else float("nan")
    cells = [
        f"{name:<20} {len(answers):>4} {spread} {width:>6.2f}",
        percent(a.covered for a in values),
        percent(a.status == "ok" for a in answers),
        percent(a in limits for a in answers),
        f"{sum(a.gross for a in values):>6}",
        percent(a.covered for a in limits),
    ]
    return " ".join(cells)


def describe(said: Answer) -> str:
    """Return one answer in a line, in ms."""
    low, value, high = (f"{1e3 * part:.4f}" for part in (said.low, said.value, said.high))
    mark = " GROSS" if said.gross and said.status == "ok" else ""
    return (
        f"    {said.effect} seed {said.seed} {said.place}: true {1e3 * said.truth:.4f}, {said.status} "
        f"{value} ({low} to {high}) ms{mark}"
    )


def is_bad(said: Answer) -> bool:
    """Whether an interval or a limit does not hold the truth."""
    return said.status not in ("not_resolved", "not_present") and not said.covered


TABLE = AnswerTable(header=HEADER, judge=judge, row=row, describe=describe, is_bad=is_bad)


if __name__ == "__main__":
    quantities = ("time_constant", "mean_delay", "update_interval")
    TABLE.main(__doc__, EFFECTS, quantities, "captures", 6)
