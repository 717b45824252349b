"""From replicates of two sides to one verdict a metric."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from feelcheck.comparison.planning import ALPHA_FIXED, ALPHA_LOOK, more_per_side
from feelcheck.comparison.resampling import BOOTSTRAP_FROM, bca_interval, mean_difference, p_of_ranks
from feelcheck.comparison.samples import MetricKey, Replicates, collect, refuse_unlike, replicates_of
from feelcheck.comparison.tests_of_means import Difference, SideMean, holm, side_mean, welch
from feelcheck.model import Caveat, Estimate, HandRecord, Margin, MetricComparison
from feelcheck.numerics.uncertainty import effective_dof

__all__ = ["DEFAULT_MARGINS", "NOT_MOUNTED_ANEW", "Plan", "compare_sides", "pooled_estimate"]

DEFAULT_MARGINS: Mapping[str, Margin] = MappingProxyType(
    {
        "smoothing_delay": Margin(value=0.001),
        "rest_noise": Margin(value=0.3, relative=True),
        "quantization_step": Margin(value=0.1, relative=True),
        "update_interval": Margin(value=0.1, relative=True),
        "return_error": Margin(value=0.01),
        "dead_zone": Margin(value=0.01),
    }
)
SCOPE_WORDS = {
    "mounting": "each mounting counts once",
    "recording": "each recording counts once; what mounting the stick anew would change is not in it",
    "within_recording": "one recording a side: nothing is known of how much recordings differ",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How strictly to judge.

    Parameters
    ----------
    fixed_beforehand : bool
        True if the number of recordings was fixed before the first one: then each decision is made at 5 %. Otherwise
        this look is one of several and stricter.
    margins : Mapping[str, Margin]
        Per metric; only metrics with a margin are compared.
    """

    fixed_beforehand: bool = False
    margins: Mapping[str, Margin] = field(default_factory=lambda: DEFAULT_MARGINS)

    @property
    def alpha(self) -> float:
        """Level of each decision."""
        return ALPHA_FIXED if self.fixed_beforehand else ALPHA_LOOK


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
    by_mounting = _mountings_known(baseline) and _mountings_known(candidate)
    sides = (collect(baseline), collect(candidate))
    keys = sorted(key for key in sides[0] if key in sides[1] and key.name in wanted.margins)
    found = []
    for key in keys:
        pair = tuple(replicates_of(side[key], by_mounting=by_mounting) for side in sides)
        if pair[0].unit == pair[1].unit and any(side.values or side.bounds for side in pair):
            found.append(_judge(key, pair[0], pair[1], wanted, candidate_name, state))
    return _adjusted(found, wanted.alpha)


def pooled_estimate(records: Sequence[HandRecord], axis: str, direction: str, name: str) -> Estimate:
    """Return one quantity pooled over sessions: mountings count once where they are known, else recordings.

    Notes
    -----
    What a delay's uncertainty has beyond its time constant's comes from the choice of the model. Every session makes
    the same choice, so more sessions do not shrink that part. A single session speaks for itself.
    """
    key = MetricKey(axis=axis, direction=direction, name=name)
    every = collect(records)
    found = every.get(key, [])
    if not found:
        return Estimate.not_resolved(name, unit="s")
    if len(found) == 1:
        return found[0][1]
    pooled = _side_estimate(key, replicates_of(found, by_mounting=_mountings_known(records)))
    slowest = every.get(replace(key, name="time_constant"), [])
    if name != "smoothing_delay" or pooled.u is None or len(slowest) != len(found):
        return pooled
    pairs = [(own, tau) for (_, own), (_, tau) in zip(found, slowest, strict=True) if own.u is not None]
    common = float(np.median([max(0.0, (own.u or 0.0) ** 2 - (tau.u or 0.0) ** 2) for own, tau in pairs]))
    dof = effective_dof((pooled.u**2, common), (pooled.dof, min(own.dof for own, _ in pairs)))
    return replace(pooled, u=math.sqrt(pooled.u**2 + common), dof=dof)


def _mountings_known(records: Sequence[HandRecord]) -> bool:
    """Whether every session says its mounting and there are at least two of them."""
    mountings = {record.condition.mounting for record in records}
    return None not in mountings and len(mountings) > 1


def _judge(
    key: MetricKey, baseline: Replicates, candidate: Replicates, plan: Plan, name: str, state: str
) -> MetricComparison:
    blank = MetricComparison(
        name=key.name,
        direction=key.direction,
        axis=key.axis,
        state=state,
        candidate_name=name,
        baseline=_side_estimate(key, baseline),
        candidate=_side_estimate(key, candidate),
        difference=Estimate.not_resolved("difference", unit=baseline.unit),
        margin=0.0,
        verdict="undecided",
        detected=False,
        low90=None,
        high90=None,
        p_difference=None,
        p_equivalence=None,
        scope=_scope(baseline, candidate),
        why="",
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


def _side_estimate(key: MetricKey, side: Replicates) -> Estimate:
    if side.bounds and not side.values:
        return Estimate.at_most(key.name, _joint_bound(side), unit=side.unit, n=len(side.bounds))
    if not side.values:
        return Estimate.not_resolved(key.name, unit=side.unit)
    mean = side_mean(side.values, side.u_within)
    return Estimate.measured(key.name, mean.mean, u=mean.u, unit=side.unit, n=mean.n, dof=mean.dof)


def _judge_values(
    blank: MetricComparison, baseline: Replicates, candidate: Replicates, plan: Plan, margin: Margin
) -> MetricComparison:
    sides: tuple[SideMean, SideMean] = (
        side_mean(baseline.values, baseline.u_within),
        side_mean(candidate.values, candidate.u_within),
    )
    difference = welch(*sides)
    width = margin.absolute(sides[0].mean)
    low90, high90 = difference.interval(0.90)
    n_side = min(sides[0].n, sides[1].n)
    judged = replace(
        blank,
        difference=Estimate.measured(
            "difference", difference.value, u=difference.u, unit=baseline.unit, n=n_side, dof=difference.dof
        ),
        margin=width,
        low90=low90,
        high90=high90,
        p_difference=difference.p_difference,
        p_equivalence=difference.p_equivalence(width),
        p_ranks=p_of_ranks(baseline.values, candidate.values),
    )
    if n_side >= BOOTSTRAP_FROM:
        judged = _resampled(judged, baseline, candidate, plan.alpha)
    if judged.scope == "within_recording":
        return replace(judged, why=SCOPE_WORDS["within_recording"], more_recordings=2)
    return replace(judged, more_recordings=_advice(difference, n_side, width, plan.alpha))


def _resampled(judged: MetricComparison, baseline: Replicates, candidate: Replicates, alpha: float) -> MetricComparison:
    """Add the bootstrap interval, and take back what it does not bear out: either opinion alone decides nothing."""
    samples = np.array(baseline.values), np.array(candidate.values)
    low, high = bca_interval(samples, mean_difference, 1 - alpha)
    inner = bca_interval(samples, mean_difference, 1 - 2 * alpha)
    p_difference, p_equivalence = judged.p_difference, judged.p_equivalence
    if low <= 0 <= high:
        p_difference = max(p_difference or 0.0, alpha)
    if max(abs(inner[0]), abs(inner[1])) >= judged.margin:
        p_equivalence = max(p_equivalence or 0.0, alpha)
    return replace(
        judged,
        p_difference=p_difference,
        p_equivalence=p_equivalence,
        bootstrap90=bca_interval(samples, mean_difference, 0.90),
    )


def _advice(difference: Difference, n_side: int, width: float, alpha: float) -> int | None:
    return more_per_side(difference.u, n_side, width, alpha, difference.value) if width > 0 else None


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
        return 0.0, _joint_bound(side)
    mean = side_mean(side.values, side.u_within)
    low, high = welch(SideMean(mean=0.0, u=0.0, dof=1, n=1), mean).interval(0.95)
    return (0.0, max(high, _joint_bound(side))) if side.bounds else (low, high)


def _joint_bound(side: Replicates) -> float:
    """The middle one of several upper bounds: each holds with 97.5 %, so at least half of them do."""
    return float(np.median(side.bounds))


def _adjusted(found: Sequence[MetricComparison], alpha: float) -> tuple[MetricComparison, ...]:
    """Adjust the detections over the metrics (Holm) and give each its verdict and its reason."""
    judged = [row for row in found if row.p_difference is not None and row.scope != "within_recording"]
    p_values = holm([row.p_difference or 0.0 for row in judged])
    adjusted = {id(row): p for row, p in zip(judged, p_values, strict=True)}
    return tuple(_decided(row, adjusted[id(row)], alpha) if id(row) in adjusted else row for row in found)


def _decided(row: MetricComparison, p_adjusted: float, alpha: float) -> MetricComparison:
    detected = p_adjusted < alpha
    equivalent = row.p_equivalence is not None and row.p_equivalence < alpha
    scope = SCOPE_WORDS[row.scope]
    if equivalent:
        seen = "a difference is seen, but it" if detected else "the difference"
        return replace(
            row,
            verdict="equivalent",
            detected=detected,
            why=f"{seen} lies within the margin ({scope})",
            more_recordings=None,
        )
    if detected:
        return replace(
            row,
            verdict="different",
            detected=True,
            why=f"the difference is not zero and not shown to lie within the margin ({scope}){_odd_one(row, alpha)}",
            more_recordings=None,
        )
    more = "more recordings would not settle it in reason" if row.more_recordings is None else "more are needed"
    return replace(row, why=f"neither a difference nor equivalence is shown; {more} ({scope})")


def _odd_one(row: MetricComparison, alpha: float) -> str:
    if row.p_ranks is None or row.p_ranks < alpha:
        return ""
    return "; ranks do not show it: look whether one odd recording carries the mean"


NOT_MOUNTED_ANEW = Caveat(
    code="within_session_only",
    text="The recordings do not say when the stick was mounted anew, so the verdict leaves out what mounting changes.",
    advice="Take each specimen apart and together between recordings and say so with --mounting.",
)
"""Shown beside verdicts whose replicate is the recording."""
