"""The text of `feelcheck compare`: the answer, then both sides, the difference against the margin, the chain."""

from __future__ import annotations

from collections.abc import Sequence

from feelcheck.model import (
    Caveat,
    ChainLink,
    Comparison,
    MetricComparison,
    SensorVerdict,
    Trace,
    VarianceShare,
    VerdictRates,
)
from feelcheck.model.quantities import DELAY, words_of
from feelcheck.renderers._format import format_difference, format_estimate, format_plain
from feelcheck.renderers._remarks import Remarks
from feelcheck.renderers._table import text_table
from feelcheck.renderers.compare_answer import compare_answer

__all__ = ["compare_text"]

AGREEMENT_WORDS = {"agree": "agree", "disagree": "disagree", "cannot_tell": "cannot tell"}
SENSOR_WORDS = {
    "consistent_with_one_sensor": "consistent with one sensor",
    "different": "different sensors",
    "cannot_tell": "cannot tell",
}
KIND_WORDS = {
    "metric": "a metric",
    "paired": "a paired metric",
    "capture": "captures",
    "parts-bench": "parts to bench",
    "bench-hand": "bench to hand",
    "sensor": "same sensor",
}
VERDICT_ORDER = ("different", "undecided", "equivalent")


def compare_text(result: Comparison, *, full: bool = False) -> str:
    """Return the comparison in words and tables.

    Parameters
    ----------
    result : Comparison
        What was compared.
    full : bool
        With how often such verdicts are right and wrong.
    """
    remarks = Remarks()
    parts = [compare_answer(result)]
    for candidate in dict.fromkeys((*result.candidates, *(row.candidate_name for row in result.metrics))):
        rows = [row for row in result.metrics if row.candidate_name == candidate]
        parts.append(_candidate(candidate, rows, result.baseline, remarks))
    parts += [
        _chain(result.chain, remarks),
        _tails(result.traces),
        _sensors(result.sensors),
        _spread(result.spread),
        _rates(result.rates) if full else "",
    ]
    remarks.marks(result.caveats)
    parts.append(remarks.section())
    parts.append("How far such verdicts can be trusted is shown with --full." if result.rates and not full else "")
    return "\n\n".join(part for part in parts if part)


def _candidate(name: str, rows: Sequence[MetricComparison], baseline: str, remarks: Remarks) -> str:
    if not rows:
        return ""
    bench = all(row.sources == ("bench", "bench") for row in rows)
    ordered = rows if bench else sorted(rows, key=_by_verdict)
    sides = ("before", "now") if bench else ("baseline", "candidate")
    edge = "edge" if bench else "code"
    mixed = any(row.sources != rows[0].sources or row.sources[0] != row.sources[1] for row in rows)
    table = text_table(
        ("metric", "axis", edge, *sides, "difference", "margin", "verdict", "remark"),
        [_metric_row(row, remarks, mixed) for row in ordered],
    )
    return "\n".join(filter(None, (f"{name} against {baseline}", table, *_pairs(ordered), _resampled(ordered))))


def _by_verdict(row: MetricComparison) -> tuple[int, str, str, str]:
    return VERDICT_ORDER.index(row.verdict), row.axis, row.direction, row.name


def _pairs(rows: Sequence[MetricComparison]) -> list[str]:
    """Each specimen's own delay before and after."""
    found = []
    for row in rows:
        if row.pairs and row.name == DELAY:
            each = (
                f"{own.specimen} {format_estimate(own.baseline, interval=False)} to "
                f"{format_estimate(own.candidate, interval=False)}"
                for own in row.pairs
            )
            found.append(f"  {row.axis} {row.direction}: {'; '.join(each)}")
    return found


def _metric_row(row: MetricComparison, remarks: Remarks, mixed: bool) -> tuple[str, ...]:
    origins = (f" ({source})" if mixed else "" for source in row.sources)
    baseline, candidate = (
        f"{format_estimate(own, interval=False)}{origin}"
        for own, origin in zip((row.baseline, row.candidate), origins, strict=True)
    )
    return (
        words_of(row.name, "compare", "bench"),
        row.axis,
        row.direction,
        baseline,
        candidate,
        format_difference(row.difference, row.margin),
        _margin(row),
        row.verdict,
        remarks.marks((*row.baseline.caveats, *row.candidate.caveats, *row.difference.caveats, _reason(row))),
    )


def _margin(row: MetricComparison) -> str:
    return "" if row.margin == 0 and not row.baseline.is_ok else format_plain(row.margin, row.difference.unit)


def _reason(row: MetricComparison) -> Caveat:
    what = "specimens" if row.pairs else "a side"
    more = f"; about {row.more_recordings} more {what} would decide" if row.more_recordings else ""
    return Caveat(code=row.verdict, text=f"{row.verdict.capitalize()}: {row.why}{more}.")


def _resampled(rows: Sequence[MetricComparison]) -> str:
    lines: dict[str, None] = {}
    for row in rows:
        if row.bootstrap90 is not None:
            name = " ".join(filter(None, (words_of(row.name, "compare", "bench"), row.axis, row.direction)))
            low, high = (format_plain(end, row.difference.unit) for end in row.bootstrap90)
            lines.setdefault(f"  bootstrap 90 % interval of the difference, {name}: {low} to {high}")
    return "\n".join(lines)


def _chain(links: Sequence[ChainLink], remarks: Remarks) -> str:
    if not links:
        return ""
    rows = [
        (
            link.specimen,
            link.axis,
            link.direction,
            link.link.replace("-", " to "),
            format_estimate(link.predicted, interval=False),
            format_estimate(link.measured, interval=False),
            format_difference(link.difference, link.margin),
            format_plain(link.margin, "s"),
            AGREEMENT_WORDS[link.verdict],
            remarks.of(link.predicted, link.measured),
        )
        for link in links
    ]
    header = ("specimen", "axis", "edge", "link", "predicted", "measured", "difference", "margin", "verdict", "remark")
    advice: dict[str, None] = {}
    for link in links:
        for hint in link.look_at:
            advice.setdefault(f"  look at: {hint} ({link.specimen}, {link.link})")
    return "\n".join(["From parts to hand (smoothing delay)", text_table(header, rows), *advice])


def _tails(traces: Sequence[Trace]) -> str:
    tails = [trace for trace in traces if trace.kind == "prediction"]
    rows = [
        (
            trace.labels.get("specimen", ""),
            trace.axis,
            trace.labels.get("direction", ""),
            f"{100 * trace.marks['inside_fraction']:.0f} %",
            f"{100 * trace.marks['mean_width_fraction']:.0f} %",
        )
        for trace in tails
    ]
    header = ("specimen", "axis", "code", "reports inside the band", "band of the tail's height")
    return (
        "Flick tails predicted from the bench (the band is meant to hold 90 %)\n" + text_table(header, rows)
        if rows
        else ""
    )


def _sensors(verdicts: Sequence[SensorVerdict]) -> str:
    if not verdicts:
        return ""
    rows = [(f"{v.first} and {v.second}", SENSOR_WORDS[v.verdict], "; ".join(v.decided_by)) for v in verdicts]
    notes = [f"  {remark}" for verdict in verdicts for remark in verdict.remarks]
    return "\n".join(
        ["Same sensor behind different parts?", text_table(("boards", "verdict", "decided by"), rows), *notes]
    )


def _spread(shares: Sequence[VarianceShare]) -> str:
    if not shares:
        return ""
    rows = [(s.source.replace("_", " "), format_estimate(s.sd), f"{100 * s.share_fraction:.0f} %") for s in shares]
    return "What the spread comes from\n" + text_table(("source", "standard deviation", "share of variance"), rows)


def _rates(rates: Sequence[VerdictRates]) -> str:
    if not rates:
        return ""
    rows = [
        (
            KIND_WORDS[row.kind],
            row.truth,
            f"{100 * row.n_right / row.n:.0f} %",
            f"{100 * row.n_open / row.n:.0f} %",
            f"{100 * row.n_wrong / row.n:.1f} % (at most {100 * row.wrong_at_most:.1f} %)",
            str(row.n),
        )
        for row in rates
    ]
    header = ("verdict on", "where the truth lies", "right", "left open", "wrong", "tries")
    return "How far such verdicts can be trusted (simulated studies with known truth)\n" + text_table(header, rows)
