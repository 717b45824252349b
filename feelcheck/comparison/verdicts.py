"""From replicates of two sides to one verdict a metric."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from feelcheck.comparison.decisions import SCOPE_WORDS, Plan, decided, resampled, with_difference
from feelcheck.comparison.pooling import joint_bound, side_estimate
from feelcheck.comparison.resampling import BOOTSTRAP_FROM, mean_difference, p_of_ranks
from feelcheck.comparison.samples import MetricKey, Replicates, collect, mountings_known, refuse_unlike, replicates_of
from feelcheck.comparison.tests_of_means import SideMean, side_mean, welch
from feelcheck.model import Caveat, Estimate, HandRecord, Margin, MetricComparison

__all__ = ["NOT_MOUNTED_ANEW", "compare_sides"]


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
    found = []
    for key in keys:
        pair = tuple(replicates_of(side[key], by_mounting=by_mounting) for side in sides)
        if pair[0].unit == pair[1].unit and any(side.values or side.bounds for side in pair):
            found.append(_judge(key, pair[0], pair[1], wanted, candidate_name, state))
    return decided(found, wanted.alpha)


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
    if baseline.values and candidate.values and not baseline.bounds and not candidate.bounds:
        return _judge_values(blank, baseline, candidate, plan, margin)
    if (baseline.values or baseline.bounds) and (candidate.values or candidate.bounds):
        return _judge_bounds(blank, baseline, candidate, margin)
    silent = "baseline" if not (baseline.values or baseline.bounds) else "candidate"
    reference = blank.baseline.value if blank.baseline.is_ok else blank.baseline.bound
    return replace(blank, why=f"the {silent}'s recordings do not answer", margin=margin.absolute(reference or 0.0))


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
    judged = with_difference(blank, welch(*sides), width, n=n_side, alpha=plan.alpha, p_ranks=ranks)
    if judged.scope == "within_recording":
        return replace(judged, why=SCOPE_WORDS["within_recording"], more_recordings=2)
    if n_side >= BOOTSTRAP_FROM:
        samples = np.array(baseline.values), np.array(candidate.values)
        judged = resampled(judged, samples, mean_difference, plan.alpha)
    return judged


def _judge_bounds(
    blank: MetricComparison, baseline: Replicates, candidate: Replicates, margin: Margin
) -> MetricComparison:
    """Judge where a side is known only to lie between zero and a bound: by the worst case."""
    low_b, high_b = _range(baseline)
    low_c, high_c = _range(candidate)
    low, high = low_c - high_b, high_c - low_b
    reference = blank.baseline.value if blank.baseline.value is not None else high_b
    judged = replace(blank, margin=margin.absolute(reference), low90=low, high90=high)
    if blank.scope == "within_recording":
        return replace(judged, why=SCOPE_WORDS["within_recording"], more_recordings=2)
    if max(abs(low), abs(high)) < judged.margin:
        return replace(judged, verdict="equivalent", why="even the bounds lie within the margin")
    if low > 0 or high < 0:
        nearest = Estimate.at_least("difference", low, unit=baseline.unit)
        if high < 0:
            nearest = Estimate.at_most("difference", high, unit=baseline.unit)
        return replace(
            judged,
            verdict="different",
            detected=True,
            difference=nearest,
            why="the bound of one side lies beyond the other side's interval",
        )
    return replace(judged, why="one side has only a bound, and it reaches the other side")


def _range(side: Replicates) -> tuple[float, float]:
    """Worst-case 95 % range of one side."""
    if not side.values:
        return 0.0, joint_bound(side)
    mean = side_mean(side.values, side.u_within)
    low, high = welch(SideMean(mean=0.0, u=0.0, dof=1, n=1), mean).interval(0.95)
    return (0.0, max(high, joint_bound(side))) if side.bounds else (low, high)


NOT_MOUNTED_ANEW = Caveat(
    code="within_session_only",
    text="The recordings do not say when the stick was mounted anew, so the verdict leaves out what mounting changes.",
    advice="Take each specimen apart and together between recordings and say so with --mounting.",
)
"""Shown beside verdicts whose replicate is the recording."""
