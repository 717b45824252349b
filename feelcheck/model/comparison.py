"""What a comparison says: the results of `feelcheck compare` and `feelcheck repeatability`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from feelcheck.model.estimate import Caveat, Estimate
from feelcheck.model.hand import Trace
from feelcheck.model.parts import PartChange
from feelcheck.model.presented import Presented

__all__ = [
    "ChainLink",
    "Comparison",
    "Evidence",
    "Margin",
    "MetricComparison",
    "PairedValues",
    "QuickChange",
    "RepeatabilityResult",
    "SensorVerdict",
    "VarianceShare",
    "VerdictRates",
]

Verdict = Literal["different", "equivalent", "undecided"]
Agreement = Literal["agree", "disagree", "cannot_tell"]
Evidence = Literal["hand", "bench", "parts"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """The largest difference that does not matter: absolute in the metric's unit, or relative to the baseline."""

    value: float
    relative: bool = False

    def absolute(self, baseline: float) -> float:
        """Return the margin in the metric's unit.

        Parameters
        ----------
        baseline : float
            What a relative margin is a share of.
        """
        return self.value * abs(baseline) if self.relative else self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class PairedValues:
    """One specimen of a paired comparison: its value before and after."""

    specimen: str
    baseline: Estimate
    candidate: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class MetricComparison:
    """One metric of one axis and direction, two sides.

    Parameters
    ----------
    name, direction, axis, state, candidate_name : str
        What was compared; direction is empty where there is none, state is the candidate's.
    baseline, candidate, difference : Estimate
        Both sides and candidate minus baseline, SI units.
    margin : float
        In the metric's unit.
    verdict : {"different", "equivalent", "undecided"}
        Against the margin.
    detected : bool
        Whether a difference from zero was detected (Holm-adjusted over the metrics).
    low90, high90 : float or None
        90 % interval of the difference.
    p_difference, p_equivalence : float or None
        Welch and two one-sided tests, unadjusted.
    scope : {"specimen", "mounting", "recording", "within_recording"}
        What the replicate was, hence what the verdict speaks of.
    why : str
        The reason of the verdict in words.
    more_recordings : int or None
        How many more a side (of pairs: how many more specimens) would probably decide.
    bootstrap90 : tuple of float or None
        90 % bootstrap interval of the difference, from 15 replicates a side; a verdict then needs it to agree.
    p_ranks : float or None
        Rank test, from five replicates a side; signed ranks from seven pairs.
    pairs : tuple of PairedValues
        Of a paired comparison: each specimen's own two values.
    sources : tuple of {"hand", "bench", "parts"}
        Where the baseline's and the candidate's value come from; ``"parts"`` is a prediction.
    """

    name: str
    direction: str
    axis: str
    state: str
    candidate_name: str
    baseline: Estimate
    candidate: Estimate
    difference: Estimate
    margin: float
    verdict: Verdict = "undecided"
    detected: bool = False
    low90: float | None = None
    high90: float | None = None
    p_difference: float | None = None
    p_equivalence: float | None = None
    scope: Literal["specimen", "mounting", "recording", "within_recording"]
    why: str = ""
    more_recordings: int | None = None
    bootstrap90: tuple[float, float] | None = None
    p_ranks: float | None = None
    pairs: tuple[PairedValues, ...] = ()
    sources: tuple[Evidence, Evidence] = ("hand", "hand")
    decided_by: tuple[str, ...] = field(default=(), compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuickChange:
    """The smoothing of one axis and direction in two sessions, and now minus before (s); no verdict."""

    axis: str
    direction: str
    before: Estimate
    now: Estimate
    difference: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainLink:
    """One link of the chain for one specimen, axis, state and direction."""

    specimen: str
    axis: str
    state: str
    direction: str
    link: Literal["parts-bench", "bench-hand", "parts-hand"]
    predicted: Estimate
    measured: Estimate
    difference: Estimate
    margin: float
    verdict: Agreement
    look_at: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorVerdict:
    """Whether two boards can carry the same sensor behind different parts."""

    first: str
    second: str
    verdict: Literal["consistent_with_one_sensor", "different", "cannot_tell"]
    decided_by: tuple[str, ...]
    evidence: Mapping[str, Estimate] = field(default_factory=lambda: MappingProxyType({}))
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class VarianceShare:
    """One source of variation and its share."""

    source: str
    sd: Estimate
    share_fraction: float


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictRates:
    """How often verdicts of one kind came out over simulated studies whose truth is known.

    Parameters
    ----------
    kind : str
        ``"metric"``, ``"paired"``, ``"capture"``, ``"parts-bench"``, ``"bench-hand"`` or ``"sensor"``.
    truth : str
        Where the truth lies, in words (``"inside the margin"``).
    n, n_right, n_wrong : int
        Verdicts, those that say what is so and what is not so; the others were left open.
    wrong_at_most : float, fraction
        Upper end of the exact 95 % interval of the wrong share.
    """

    kind: str
    truth: str
    n: int
    n_right: int
    n_wrong: int
    wrong_at_most: float

    @property
    def n_open(self) -> int:
        """Verdicts left open."""
        return self.n - self.n_right - self.n_wrong


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison(Presented):
    """The result of `feelcheck compare`.

    `changes` hold which change of parts a difference between captures fits.
    """

    baseline: str
    candidates: tuple[str, ...]
    metrics: tuple[MetricComparison, ...]
    chain: tuple[ChainLink, ...] = ()
    sensors: tuple[SensorVerdict, ...] = ()
    caveats: tuple[Caveat, ...] = ()
    traces: tuple[Trace, ...] = ()
    spread: tuple[VarianceShare, ...] = ()
    rates: tuple[VerdictRates, ...] = ()
    changes: tuple[PartChange, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatabilityResult(Presented):
    """The result of `feelcheck repeatability`: gauge R&R of one metric.

    `anova` and `average_range` hold, in the metric's unit, the standard deviations ``repeatability`` (EV),
    ``reproducibility`` (AV), ``interaction``, ``gauge`` (GRR), ``specimens`` (PV), ``total`` (TV).
    """

    metric: str
    unit: str
    n_operators: int
    n_specimens: int
    n_repeats: int
    anova: Mapping[str, float]
    average_range: Mapping[str, float]
    interaction_p: float
    interaction_pooled: bool
    n_distinct_raw: float
    n_distinct: int
    shares: tuple[VarianceShare, ...]
    table: Mapping[str, tuple[float, int, float]] = field(default_factory=lambda: MappingProxyType({}))
    dominant: str = ""
    caveats: tuple[Caveat, ...] = ()
