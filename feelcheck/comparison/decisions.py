"""From a difference of means to a verdict: plan, margins, reasons, and what holds over several metrics."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any

from scipy import special

from feelcheck.comparison.numbers import ALPHA_FIXED, ALPHA_LOOK, MAX_PER_SIDE, POWER
from feelcheck.comparison.resampling import bca_interval
from feelcheck.comparison.tests_of_means import Difference, holm
from feelcheck.model import Estimate, FloatArray, Margin, MetricComparison

__all__ = ["DEFAULT_MARGINS", "SCOPE_WORDS", "Plan", "decided", "more_per_side", "resampled", "with_difference"]

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
    "specimen": "each specimen counts once, against itself",
    "mounting": "each mounting counts once",
    "recording": "each recording counts once; what mounting the stick anew would change is not in it",
    "within_recording": "one recording on a side: how much recordings differ is not known",
}
CAPTURE_WORDS = {**SCOPE_WORDS, "recording": "each capture counts once"}


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


def with_difference(
    blank: MetricComparison, difference: Difference, width: float, *, n: int, alpha: float, p_ranks: float | None
) -> MetricComparison:
    """Return the row with its difference, the tests against zero and against +-`width`, and how many more would do.

    Parameters
    ----------
    blank : MetricComparison
        The row so far, both sides known.
    difference : Difference
        Candidate minus baseline.
    width : float
        The margin, in the metric's unit.
    n : int
        Replicates a side, or pairs.
    alpha : float
        Level of each decision.
    p_ranks : float or None
        What ranks say of it.
    """
    low90, high90 = difference.interval(0.90)
    unit = blank.difference.unit
    return replace(
        blank,
        difference=Estimate.measured(
            "difference",
            difference.value,
            u=difference.u,
            unit=unit,
            n=n,
            dof=difference.dof,
            terms=difference.terms,
        ),
        margin=width,
        low90=low90,
        high90=high90,
        p_difference=difference.p_difference,
        p_equivalence=difference.p_equivalence(width),
        p_ranks=p_ranks,
        more_recordings=more_per_side(difference.u, n, width, alpha, difference.value) if width > 0 else None,
    )


def resampled(
    row: MetricComparison, samples: Sequence[FloatArray], statistic: Callable[..., Any], alpha: float
) -> MetricComparison:
    """Add the bootstrap interval, and take back what it does not bear out: either opinion alone decides nothing.

    Parameters
    ----------
    row : MetricComparison
        The comparison without a second opinion.
    samples : sequence of ndarray, shape (n,)
        Replicates of each side, in the row's unit.
    statistic : callable
        What is taken of the samples.
    alpha : float
        Level of the decision.
    """
    low, high = bca_interval(samples, statistic, 1 - alpha)
    inner = bca_interval(samples, statistic, 1 - 2 * alpha)
    p_difference, p_equivalence = row.p_difference, row.p_equivalence
    if low <= 0 <= high:
        p_difference = max(p_difference or 0.0, alpha)
    if max(abs(inner[0]), abs(inner[1])) >= row.margin:
        p_equivalence = max(p_equivalence or 0.0, alpha)
    return replace(
        row,
        p_difference=p_difference,
        p_equivalence=p_equivalence,
        bootstrap90=bca_interval(samples, statistic, 0.90),
    )


def decided(found: Sequence[MetricComparison], alpha: float) -> tuple[MetricComparison, ...]:
    """Adjust the detections over the metrics (Holm) and give each its verdict and its reason.

    Parameters
    ----------
    found : sequence of MetricComparison
        Every metric before its verdict.
    alpha : float
        Level of the whole family of tests.
    """
    judged = [row for row in found if row.p_difference is not None and row.scope != "within_recording"]
    p_values = holm([row.p_difference or 0.0 for row in judged])
    adjusted = {id(row): p for row, p in zip(judged, p_values, strict=True)}
    n = len(judged)
    return tuple(_decided(row, adjusted[id(row)], alpha, n) if id(row) in adjusted else row for row in found)


def _decided(row: MetricComparison, p_adjusted: float, alpha: float, n: int) -> MetricComparison:
    detected = p_adjusted < alpha
    equivalent = row.p_equivalence is not None and row.p_equivalence < alpha
    level = "ALPHA_FIXED" if alpha == ALPHA_FIXED else "ALPHA_LOOK"
    row = replace(row, decided_by=(level, *(("BOOTSTRAP_FROM",) if row.bootstrap90 else ())))
    scope = (SCOPE_WORDS if row.sources == ("hand", "hand") else CAPTURE_WORDS)[row.scope]
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
    asks = f"{n} quantities at once ask" if n > 1 else "several looks ask"
    almost = row.p_difference is not None and row.p_difference < ALPHA_FIXED
    seen = (
        f"the interval leaves out 0, but {asks} for more" if almost else "neither a difference nor equivalence is shown"
    )
    return replace(row, why=f"{seen}; {more} ({scope})")


def _odd_one(row: MetricComparison, alpha: float) -> str:
    if row.p_ranks is None or row.p_ranks < alpha:
        return ""
    return "; ranks do not show it: look whether one odd recording carries the mean"


def more_per_side(u: float, n_side: int, margin: float, alpha: float, difference: float = 0.0) -> int | None:
    """Return how many more replicates a side would decide with 90 % power; None beyond what is reasonable.

    Parameters
    ----------
    u : float
        Standard uncertainty of the present difference.
    n_side : int
        Replicates a side now (the smaller of both).
    margin : float
        The margin of equivalence, same unit.
    alpha : float
        Level of each look.
    difference : float
        A difference seen now; the distance to the nearer decision (zero or the margin) is what has to be resolved, but
        never less than half the margin, or the advice would chase a knife's edge.

    Notes
    -----
    Normal approximation: n = n_now (u (z_alpha + z_power) / distance)^2, doubled where that asks for fewer than two.
    """
    distance = max(margin - abs(difference) if abs(difference) < margin else abs(difference), margin / 2)
    z = float(-special.ndtri(alpha) - special.ndtri((1 - POWER) / 2))
    wanted = math.ceil(n_side * (u * z / distance) ** 2)
    more = max(wanted - n_side, 2)
    return more if n_side + more <= MAX_PER_SIDE else None
