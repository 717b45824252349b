"""The text of `feelcheck repeatability`."""

from __future__ import annotations

from feelcheck.model import Estimate, RepeatabilityResult
from feelcheck.renderers._format import format_estimate
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table

__all__ = ["repeatability_text"]

ROWS = (
    ("repeatability", "repeats by one hand"),
    ("reproducibility", "between hands"),
    ("interaction", "hands with specimens"),
    ("gauge", "the measuring as a whole"),
    ("specimens", "the specimens"),
    ("total", "everything"),
)


def repeatability_text(result: RepeatabilityResult) -> str:
    """Return a gauge study in words and one table."""
    rows = [
        (
            words,
            _sd(result.anova[name], result.unit),
            f"{100 * _share(result, name):.1f} %",
            _sd(result.average_range[name], result.unit) if name != "interaction" else "",
        )
        for name, words in ROWS
    ]
    pooled = "pooled with the repeats" if result.interaction_pooled else "kept apart"
    remarks = Remarks()
    remarks.marks(result.caveats)
    lines = [
        f"Repeatability of {result.metric.replace('_', ' ')}: {result.n_operators} operators, "
        f"{result.n_specimens} specimens, {result.n_repeats} repeats",
        text_table(("spread of", "analysis of variance", "of the variance", "average and range"), rows),
        f"  {result.dominant}",
        f"  Hands with specimens: p = {result.interaction_p:.3f}, {pooled}.",
        f"  Specimens that can be told apart: {result.n_distinct} "
        f"(1.41 x specimens / measuring = {result.n_distinct_raw:.2f}, cut to a whole number).",
    ]
    said = remarks.text()
    return "\n".join([*lines, *([said] if said else [])])


def _sd(value: float, unit: str) -> str:
    return format_estimate(Estimate.measured("sd", value, u=0.0, unit=unit))


def _share(result: RepeatabilityResult, name: str) -> float:
    total = result.anova["total"] ** 2
    return result.anova[name] ** 2 / total if total > 0 else 0.0
