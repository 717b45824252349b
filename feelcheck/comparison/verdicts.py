"""From replicates of two sides to one verdict a metric."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from feelcheck.comparison.decisions import SCOPE_WORDS, Plan, decided, resampled, with_difference
from feelcheck.comparison.numbers import BOOTSTRAP_FROM
from feelcheck.comparison.pooling import joint_bound, side_estimate
from feelcheck.comparison.resampling import mean_difference, p_of_ranks
from feelcheck.comparison.samples import MetricKey, Replicates, collect, mountings_known, refuse_unlike, replicates_of
from feelcheck.comparison.tests_of_means import Difference, SideMean, side_mean, welch
from feelcheck.model import Caveat, Estimate, HandRecord, Margin, MetricComparison
from feelcheck.model.comparison import Evidence
from feelcheck.numerics.uncertainty import combined, coverage_factor, difference_of

__all__ = ["NOT_MOUNTED_ANEW", "compare_sides", "judge_sides"]


def compare_sides(
    baseline: Sequence[HandRecord],
    candidate: Sequence[HandRecord],
    *,
    candidate_name: str,
    state: str = "as_found",
    plan: Plan | None = None,
) -> tuple[MetricComparison, ...]:
    """Compare two sides of hand sessions, metric by metric.

    Parameters
    ----------
    baseline, candidate : sequences of HandRecord
        The sessions of each side.
    candidate_name, state : str
        Label of the candidate and its state.
    plan : Plan, optional
        Strictness and margins.

    Returns
    -------
    tuple of MetricComparison
        In order of axis, direction and name; those that at least one side answers.

    Raises
    ------
    NotComparableError
        If the recordings are unlike.
    """
    refuse_unlike(baseline, candidate)
    wanted = plan or Plan()
    by_mounting = mountings_known(baseline) and mountings_known(candidate)
    sides = (collect(baseline), collect(candidate))
    keys = sorted(key for key in sides[0] if key in sides[1] and key.name in wanted.margins)
    pairs = {key: (replicates_of(sides[0][key], by_mounting=by_mounting),
                   replicates_of(sides[1][key], by_mounting=by_mounting)) for key in keys}  # fmt: skip
    return judge_sides(pairs, candidate_name=candidate_name, state=state, plan=wanted)


def judge_sides(
    pairs: Mapping[MetricKey, tuple[Replicates, Replicates]],
    *,
    candidate_name: str,
    state: str,
    plan: Plan,
    source: Evidence = "hand",
) -> tuple[MetricComparison, ...]:
    """Return a verdict for every metric that at least one side answers, from the replicates of both sides.

    Parameters
    ----------
    pairs : Mapping[MetricKey, tuple of Replicates]
        Baseline and candidate of every metric; those in unlike units are left out.
    candidate_name, state : str
        Label of the candidate and its state.
    plan : Plan
        Strictness and margins.
    source : {"hand", "bench"}
        Where the values come from.
    """
    found = [
        replace(_judge(key, *both, plan, candidate_name, state), sources=(source, source))
        for key, both in pairs.items()
        if both[0].unit == both[1].unit and any(side.answers for side in both)
    ]
    return decided(found, plan.alpha)


def _judge(
    key: MetricKey, baseline: Replicates, candidate: Replicates, plan: Plan, name: str, state: str
) -> MetricComparison:
    blank = MetricComparison(
        name=key.name,
        direction=key.direction,
        axis=key.axis,
        state=state,
        candidate_name=name,
        baseline=side_estimate(key, baseline),
        candidate=side_estimate(key, candidate),
        difference=Estimate.not_resolved("difference", unit=baseline.unit),
        margin=0.0,
        scope=_scope(baseline, candidate),
    )
    margin = plan.margins[key.name]
    if all(side.values and not (side.bounds or side.floors) for side in (baseline, candidate)):
        return _judge_values(blank, baseline, candidate, plan, margin)
    if baseline.answers and candidate.answers:
        return _judge_bounds(blank, baseline, candidate, margin)
    word, side = ("candidate", candidate) if baseline.answers else ("baseline", baseline)
    why = f"none is seen in the {word}" if side.n_absent else f"the {word}'s recordings do not answer"
    reference = blank.baseline.value if blank.baseline.is_ok else blank.baseline.bound
    return replace(blank, why=why, margin=margin.absolute(reference or 0.0))


def _scope(baseline: Replicates, candidate: Replicates) -> Literal["mounting", "recording", "within_recording"]:
    if "within_recording" in (baseline.scope, candidate.scope):
        return "within_recording"
    return baseline.scope


def _judge_values(
    blank: MetricComparison, baseline: Replicates, candidate: Replicates, plan: Plan, margin: Margin
) -> MetricComparison:
    sides: tuple[SideMean, SideMean] = (
        side_mean(baseline.values, baseline.u_within),
        side_mean(candidate.values, candidate.u_within),
    )
    n_side = min(side.n for side in sides)
    width, ranks = margin.absolute(sides[0].mean), p_of_ranks(baseline.values, candidate.values)
    within = blank.scope == "within_recording"
    difference = _within(blank) if within else welch(*sides)
    judged = with_difference(blank, difference, width, n=n_side, alpha=plan.alpha, p_ranks=ranks)
    if within:
        return replace(judged, why=_one_a_side(baseline, candidate, difference, width))
    if n_side >= BOOTSTRAP_FROM:
        samples = np.array(baseline.values), np.array(candidate.values)
        judged = resampled(judged, samples, mean_difference, plan.alpha)
    return judged


def _within(blank: MetricComparison) -> Difference:
    """The difference as far as the recordings themselves tell: a lone one with its own degrees of freedom."""
    found = difference_of(blank.candidate, blank.baseline, quantity="difference")
    own = combined(
        {"the baseline by itself": blank.baseline.u or 0.0, "the candidate by itself": blank.candidate.u or 0.0}
    )
    return Difference(value=found.value or 0.0, u=found.u or 0.0, dof=found.dof, terms=own[1])


def _one_a_side(baseline: Replicates, candidate: Replicates, difference: Difference, width: float) -> str:
    """Why nothing is decided, and what these recordings say all the same."""
    low, high = difference.interval(0.95)
    seen = "inside" if max(abs(low), abs(high)) < width else "beyond" if low > width or high < -width else "across"
    sides = zip(("baseline", "candidate"), (baseline, candidate), strict=True)
    lone = [word for word, side in sides if side.scope == "within_recording"]
    which = "one recording a side" if len(lone) == 2 else f"one recording on the {lone[0]}'s side"
    return f"{which} is no verdict; as far as these go, the difference lies {seen} the margin"


def _judge_bounds(
    blank: MetricComparison, baseline: Replicates, candidate: Replicates, margin: Margin
) -> MetricComparison:
    """Judge where a side is known only to lie between two ends, one of them a bound: by the worst case."""
    low_b, high_b = _range(baseline)
    low_c, high_c = _range(candidate)
    low, high = low_c - high_b, high_c - low_b
    reference = blank.baseline.value if blank.baseline.value is not None else min(high_b, max(low_b, 0.0) or high_b)
    judged = replace(
        blank,
        margin=margin.absolute(reference),
        low90=low if math.isfinite(low) else None,
        high90=high if math.isfinite(high) else None,
        difference=_bound(low, high, baseline.unit),
    )
    if blank.scope == "within_recording":
        return replace(judged, why=SCOPE_WORDS["within_recording"])
    if max(abs(low), abs(high)) < judged.margin:
        return replace(judged, verdict="equivalent", why="even the bounds lie within the margin")
    if low > 0 or high < 0:
        why = "the bound of one side lies beyond the other side's interval"
        return replace(judged, verdict="different", detected=True, why=why)
    return replace(judged, why=f"{_with_bounds(baseline, candidate)}, and it reaches the other side")


def _bound(low: float, high: float, unit: str) -> Estimate:
    """What is known of a difference that lies between two ends: the nearer one where both have one sign."""
    if low > 0:
        return Estimate.at_least("difference", low, unit=unit)
    if high < 0:
        return Estimate.at_most("difference", high, unit=unit)
    return Estimate.not_resolved("difference", unit=unit)


def _with_bounds(baseline: Replicates, candidate: Replicates) -> str:
    """How many recordings of which side gave only a bound."""
    said = []
    for word, side in (("baseline", baseline), ("candidate", candidate)):
        n = len(side.bounds) + len(side.floors)
        if n:
            total = n + len(side.values)
            said.append(f"{n} of {total} recordings of the {word}" if total > 1 else f"the {word}'s recording")
    return f"{' and '.join(said)} gave only a bound"


def _range(side: Replicates) -> tuple[float, float]:
    """Worst-case 95 % range of one side; infinite above where a recording gave a lower bound."""
    low, high = math.inf, 0.0
    if side.values:
        mean = side_mean(side.values, side.u_within)
        half = coverage_factor(mean.dof, 0.95) * mean.u
        low, high = mean.mean - half, mean.mean + half
    if side.bounds:
        low, high = 0.0, max(high, joint_bound(side))
    if side.floors:
        low, high = min(low, float(np.median(side.floors))), math.inf
    return low, high


NOT_MOUNTED_ANEW = Caveat(
    code="within_session_only",
    text="The recordings do not say when the stick was mounted anew, so the verdict leaves out what mounting changes.",
    advice="Take each specimen apart and together between recordings and say so with --mounting.",
)
"""Shown beside verdicts whose replicate is the recording."""
