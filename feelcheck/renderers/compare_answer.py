"""The first sentences of `feelcheck compare`: what changed, how sure that is, which part it fits, what to do."""

from __future__ import annotations

from collections.abc import Sequence

from feelcheck.model import Comparison, MetricComparison
from feelcheck.model.parts import PartChange
from feelcheck.model.quantities import DELAY, words_of
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.renderers._format import format_difference, format_estimate, format_plain
from feelcheck.renderers._table import wrapped

__all__ = ["compare_answer"]

MOST_TOLD = 2
VERDICTS = ("different", "equivalent", "undecided")


def compare_answer(result: Comparison) -> str:
    """Return one to three sentences a candidate.

    Parameters
    ----------
    result : Comparison
        What the command gives.
    """
    paragraphs = [_about(name, result) for name in result.candidates]
    return "\n".join(wrapped(text) for text in paragraphs)


def _about(name: str, result: Comparison) -> str:
    rows = [row for row in result.metrics if row.candidate_name == name]
    delays = [row for row in rows if row.name == DELAY] or rows
    if not rows:
        return f"{name} and {result.baseline}: nothing that both sides measured."
    changes = [change for change in result.changes if change.candidate_name == name]
    sentences = [*_verdicts(name, result.baseline, delays), *_parts(changes), *_beside(rows, delays), _next(delays)]
    return " ".join(filter(None, sentences))


def _verdicts(name: str, baseline: str, rows: Sequence[MetricComparison]) -> list[str]:
    if all(row.scope == "within_recording" for row in rows):
        return [_within(name, baseline, rows)]
    said: list[str] = []
    for verdict in VERDICTS:
        own = [row for row in rows if row.verdict == verdict]
        if own:
            said.append(f"{_opening(verdict, name, baseline, own, first=not said)}{_listed(own)}{_because(own)}.")
    return said


def _because(rows: Sequence[MetricComparison]) -> str:
    """Why the largest of undecided differences stays open."""
    why = max(rows, key=_size).why if rows[0].verdict == "undecided" else ""
    return f" ({why})" if why else ""


def _opening(verdict: str, name: str, baseline: str, rows: Sequence[MetricComparison], *, first: bool) -> str:
    if verdict == "different":
        return f"{name} differs from {baseline}: "
    if verdict == "equivalent":
        who = f"{name} is like {baseline}" if first else "Alike"
        return f"{who} within {_margin(rows)}: "
    return f"Whether {name} differs from {baseline} is undecided: " if first else "Undecided: "


def _margin(rows: Sequence[MetricComparison]) -> str:
    row = rows[0]
    return format_plain(row.margin, "s") if row.difference.unit == "s" else "the margin"


def _within(name: str, baseline: str, rows: Sequence[MetricComparison]) -> str:
    """What the recordings at hand show, where there is no verdict."""
    if "parts" in rows[0].sources:
        return f"Predicted, not measured: {name} against {baseline}, {_listed(rows)}."
    noun = "captures" if rows[0].sources == ("bench", "bench") else "recordings"
    return f"In these {noun}, {name} against {baseline}: {_listed(rows)}."


def _listed(rows: Sequence[MetricComparison]) -> str:
    """The largest differences in words, and how many more there are."""
    ranked = sorted(rows, key=_size, reverse=True)
    quantity = words_of(ranked[0].name, "compare", "bench")
    chosen = sorted(ranked[:MOST_TOLD], key=lambda row: (row.axis, row.direction != "rising"))
    told = [_one(row, quantity if k == 0 else "") for k, row in enumerate(chosen)]
    more = len(rows) - len(told)
    return "; ".join(told) + (f"; and {more} more" if more else "")


def _size(row: MetricComparison) -> float:
    low, high = coverage_interval(row.difference)
    return max(abs(end) for end in (row.difference.value, low, high, 0.0) if end is not None)


def _one(row: MetricComparison, quantity: str) -> str:
    where = " ".join(filter(None, (quantity, row.axis, row.direction)))
    now, before = (format_estimate(own, interval=False) for own in (row.candidate, row.baseline))
    difference = format_difference(row.difference, row.margin)
    by = "" if row.difference.value is None and row.difference.bound is None else f" ({_signed(difference)})"
    return f"{where} {now} instead of {before}{by}"


def _signed(words: str) -> str:
    """A difference with its sign, and a comma before its interval instead of another bracket."""
    if words.startswith("at most -"):
        return f"at least {words.removeprefix('at most -')} less"
    signed = words if words.startswith(("-", "at ")) else f"+{words}"
    return signed.replace(" (", ", ").replace(")", "")


def _parts(changes: Sequence[PartChange]) -> list[str]:
    """Which part the change fits; what is noted and does not fit is said too."""
    said = [
        f"The noted change, {change.change}, {'explains it' if change.fits else 'does not explain it'}."
        for change in changes
        if change.noted
    ]
    fitting = list(dict.fromkeys(change.change for change in changes if change.fits and not change.noted))
    return [*said, *([f"This fits {', or '.join(fitting)}."] if fitting else [])]


def _beside(rows: Sequence[MetricComparison], delays: Sequence[MetricComparison]) -> list[str]:
    """What else changed: not the other times of the same edge."""
    times = {row.name for row in rows if row.difference.unit == "s" and row.name != "update_interval"}
    others = [row for row in rows if row not in delays and row.name not in times and _beyond(row)]
    names = list(dict.fromkeys(words_of(row.name, "compare", "bench") for row in others))
    return [f"Beside it {', '.join(names)} {'differ' if len(names) > 1 else 'differs'}."] if names else []


def _beyond(row: MetricComparison) -> bool:
    if row.scope != "within_recording":
        return row.verdict == "different"
    low, high = coverage_interval(row.difference)
    return (low is not None and low > row.margin) or (high is not None and high < -row.margin)


def _next(rows: Sequence[MetricComparison]) -> str:
    """What would make it surer."""
    if all(row.scope == "within_recording" for row in rows):
        if "parts" in rows[0].sources:
            return ""
        if len(set(rows[0].sources)) > 1:
            return "Bench against hand is no verdict on a change: record both in the hand, or capture both."
        verb = "capture" if "bench" in rows[0].sources else "record"
        return f"One a side is no verdict: {verb} each side three times and compare the two folders."
    open_rows = [row for row in rows if row.verdict == "undecided" and row.more_recordings]
    if not open_rows:
        return ""
    more = max(row.more_recordings or 0 for row in open_rows)
    return f"About {more} more {'specimens' if open_rows[0].pairs else 'recordings a side'} would decide."
