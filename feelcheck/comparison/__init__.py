"""Pooling, intervals, verdicts, repeatability, the chain."""

from feelcheck.comparison.agreement import Disagreement, disagreements
from feelcheck.comparison.before_after import BeforeAfter, compare_before_after
from feelcheck.comparison.capture_sides import capture_caveats, compare_captures, pooled_capture_estimate
from feelcheck.comparison.chain import Circumstances, joined_direction, judge_link
from feelcheck.comparison.decisions import DEFAULT_MARGINS, Plan
from feelcheck.comparison.pairs import compare_paired_states
from feelcheck.comparison.pooling import pooled_estimate
from feelcheck.comparison.prediction import predict_tail, prediction_trace
from feelcheck.comparison.rates import verdict_rates
from feelcheck.comparison.repeatability import repeatability_of
from feelcheck.comparison.same_sensor import BoardResponse, compare_sensors
from feelcheck.comparison.spread import SpecimenDelays, explain_spread
from feelcheck.comparison.verdicts import NOT_MOUNTED_ANEW, compare_sides

__all__ = [
    "DEFAULT_MARGINS",
    "NOT_MOUNTED_ANEW",
    "BeforeAfter",
    "BoardResponse",
    "Circumstances",
    "Disagreement",
    "Plan",
    "SpecimenDelays",
    "capture_caveats",
    "compare_before_after",
    "compare_captures",
    "compare_paired_states",
    "compare_sensors",
    "compare_sides",
    "disagreements",
    "explain_spread",
    "joined_direction",
    "judge_link",
    "pooled_capture_estimate",
    "pooled_estimate",
    "predict_tail",
    "prediction_trace",
    "repeatability_of",
    "verdict_rates",
]
