"""Pooling, intervals, verdicts, repeatability."""

from feelcheck.comparison.before_after import BeforeAfter, compare_before_after
from feelcheck.comparison.repeatability import repeatability_of
from feelcheck.comparison.verdicts import DEFAULT_MARGINS, NOT_MOUNTED_ANEW, Plan, compare_sides

__all__ = [
    "DEFAULT_MARGINS",
    "NOT_MOUNTED_ANEW",
    "BeforeAfter",
    "Plan",
    "compare_before_after",
    "compare_sides",
    "repeatability_of",
]
