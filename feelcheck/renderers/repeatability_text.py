"""The text of `feelcheck repeatability`."""

from __future__ import annotations

from feelcheck.counted import counted
from feelcheck.model import Estimate, RepeatabilityResult
from feelcheck.renderers._format import format_brief, format_estimate
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table, wrapped

__all__ = ["repeatability_text"]

ROWS = (
    ("repeatability", "repeats by one hand", "the recording"),
    ("reproducibility", "between hands", "who records"),
    ("interaction", "hands with specimens", "who records which specimen"),
    ("gauge", "the measuring as a whole", "recording and hand"),
    ("specimens", "the specimens", "the specimen"),
    ("total", "everything", "all of these"),
)

HEADING = ("spread of", "what changes", "standard deviation", "of the variance", "by average and range")


def repeatability_text(result: RepeatabilityResult) -> str:
    """Return a gauge study in words and one table.

    Parameters
    ----------
    result : RepeatabilityResult
        The study's result.
    """
    own = {share.source: share.sd for share in result.shares}
    rows = [
        (
            words,
            changes,
            _sd(own.get(name), result.anova[name], result.unit),
            f"{100 * _share(result, name):.1f} %",
            _sd(None, result.average_range[name], result.unit) if name != "interaction" else "",
        )
        for name, words, changes in ROWS
    ]
    pooled = "pooled with the repeats" if result.interaction_pooled else "kept apart"
    remarks = Remarks()
    remarks.marks(result.caveats)
    gauge = _sd(None, result.anova["gauge"], result.unit)
    lines = [
        wrapped(
            f"{result.dominant} Measuring as a whole spreads by {gauge} (standard deviation), which sorts specimens "
            f"into {counted(result.n_distinct, 'class', 'classes')}."
        ),
        "",
        f"{result.metric.replace('_', ' ').capitalize()}: {counted(result.n_operators, 'operator')}, "
        f"{counted(result.n_specimens, 'specimen')}, {counted(result.n_repeats, 'repeat')}",
        text_table(HEADING, rows),
        f"  Hands with specimens: p = {result.interaction_p:.3f}, {pooled}.",
        f"  Classes: 1.41 x specimens / measuring = {result.n_distinct_raw:.2f}, cut to a whole number.",
    ]
    said = remarks.text()
    return "\n".join([*lines, *([said] if said else [])])


def _sd(known: Estimate | None, value: float, unit: str) -> str:
    """A standard deviation with its unit and interval; in two digits where that is not known."""
    if known is not None:
        return format_estimate(known)
    return format_brief(Estimate.measured("sd", value, u=0.0, unit=unit), n_digits=2)


def _share(result: RepeatabilityResult, name: str) -> float:
    total = result.anova["total"] ** 2
    return result.anova[name] ** 2 / total if total > 0 else 0.0
