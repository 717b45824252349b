"""What a person told apart: forced choices, thresholds, where to ask next, throughput of aiming."""

from feelcheck.psychometrics.forced_choice import (
    ChoicePlan,
    exact_interval,
    least_correct,
    p_of_correct,
    plan_choices,
    proportion_of,
    sensitivity_interval,
    sensitivity_of,
)
from feelcheck.psychometrics.placement import AdaptivePlacement, Placement, Staircase, placement_named
from feelcheck.psychometrics.threshold import Levels, Likelihood, fit_threshold, lag_likelihood
from feelcheck.psychometrics.throughput import AimedMove, error_rate, sequence_figures, throughput_of

__all__ = [
    "AdaptivePlacement",
    "AimedMove",
    "ChoicePlan",
    "Levels",
    "Likelihood",
    "Placement",
    "Staircase",
    "error_rate",
    "exact_interval",
    "fit_threshold",
    "lag_likelihood",
    "least_correct",
    "p_of_correct",
    "placement_named",
    "plan_choices",
    "proportion_of",
    "sensitivity_interval",
    "sensitivity_of",
    "sequence_figures",
    "throughput_of",
]
