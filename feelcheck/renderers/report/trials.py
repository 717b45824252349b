"""What people told apart in rehearsals, and a threshold of one's own beside the measured differences, as tables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from feelcheck.model import Estimate, FeelResult, Profile, RehearsalRecord, Report
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.renderers._format import format_brief
from feelcheck.renderers.rehearsal_text import KIND_WORDS, chance_words, estimate_words, with_interval
from feelcheck.renderers.report.tables import Cell, Table, plain_table

__all__ = ["PROVES", "beside_table", "rehearsals_table", "threshold_sentence"]

TOLD = (
    "proportion_correct", "sensitivity", "threshold", "throughput", "throughput_a", "throughput_b",
    "throughput_difference", "error_rate", "error_rate_a", "error_rate_b",
)  # fmt: skip
SLOWED = {"both": "both ways slowed alike", "falling": "the falling way slowed alone"}
PROVES = (
    "A threshold is one person's, for added delay on one stick, screen and day: above it that person named the slower "
    "one in more than three of four trials.",
    "A difference larger than the threshold would be named like that if nothing but delay differed; a smaller one is "
    "not proved to be unnoticeable, only named less often. Neither says how anybody plays.",
)
LARGER, SMALLER, OPEN = "larger than the threshold", "smaller than the threshold", "cannot be told"


def rehearsals_table(profiles: Sequence[Profile]) -> Table:
    """Return every rehearsal that the records keep, a row each figure.

    Parameters
    ----------
    profiles : sequence of Profile
        Records of specimens.
    """
    rows = [row for profile in profiles for record in profile.rehearsals for row in _rows(profile.specimen, record)]
    header = ("record", "what", "figure", "value", "played", "who", "counted", "correct", "by guessing", "remark")
    return plain_table("Rehearsals, 95 % intervals in brackets", header, rows)


def _rows(specimen: str, record: RehearsalRecord) -> Iterator[tuple[Cell | str, ...]]:
    remark = ", ".join(
        filter(None, [
            "a simulated observer" if record.simulated else "",
            "ended early" if record.aborted else "",
            SLOWED.get(record.slowness, "") if record.kind == "staircase" else "",
        ])
    )  # fmt: skip
    correct = "" if record.n_correct is None else str(record.n_correct)
    guessing = "" if record.p_value is None else chance_words(record.p_value)
    for name, estimate in record.estimates.items():
        if name in TOLD:
            yield (
                specimen, KIND_WORDS[record.kind], _named(estimate_words(name), record.specimens),
                with_interval(estimate, record.intervals.get(name)), " against ".join(record.specimens),
                record.person or "not said", Cell(text=str(record.n), sort=record.n), correct, guessing, remark,
            )  # fmt: skip


def _named(words: str, specimens: Sequence[str]) -> str:
    """A figure with the names of what was called A and B while it was played."""
    if len(specimens) != 2:
        return words
    first, second = specimens
    words = words.replace("B less A", f"{second} less {first}")
    return next(
        (f"{name}{words[1:]}" for letter, name in (("A: ", first), ("B: ", second)) if words[:3] == letter), words
    )


def beside_table(report: Report) -> Table:
    """Return each threshold beside each measured difference of delay between two specimens.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    rows = [
        (
            record.person or "not said",
            format_brief(threshold),
            f"{result.specimen}, {result.difference_at}",
            format_brief(difference),
            _verdict(difference, threshold),
        )
        for record, threshold in _thresholds(report.profiles)
        for result, difference in _differences(report.feel)
    ]
    header = ("whose threshold", "threshold of added delay", "difference to the first specimen", "measured", "it is")
    table = plain_table("A threshold of one's own beside measured differences", header, rows)
    return Table(caption=table.caption, header=table.header, rows=table.rows, footnotes=PROVES)


def threshold_sentence(report: Report) -> str:
    """Return the latest person's threshold beside the largest difference in one sentence; empty without either.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    thresholds = [pair for pair in _thresholds(report.profiles) if not pair[0].simulated]
    differences = list(_differences(report.feel))
    if not thresholds or not differences:
        return ""
    record, threshold = thresholds[-1]
    result, difference = max(differences, key=lambda pair: abs(pair[1].value or 0.0))
    who = record.person or "The person who was tried"
    return (
        f"{who} names an added delay of {format_brief(threshold)} in three of four trials; the largest difference "
        f"({result.specimen}, {result.difference_at}: {format_brief(difference)}) is "
        f"{_in_words(difference, threshold)}."
    )


def _in_words(difference: Estimate, threshold: Estimate) -> str:
    verdict = _verdict(difference, threshold)
    return "not told from it" if verdict == OPEN else verdict.replace("the threshold", "that")


def _thresholds(profiles: Sequence[Profile]) -> Iterator[tuple[RehearsalRecord, Estimate]]:
    for profile in profiles:
        for record in profile.rehearsals:
            if "threshold" in record.estimates:
                yield record, record.estimates["threshold"]


def _differences(results: Sequence[FeelResult]) -> Iterator[tuple[FeelResult, Estimate]]:
    for result in results:
        if result.difference is not None and result.difference.value is not None:
            yield result, result.difference


def _verdict(difference: Estimate, threshold: Estimate) -> str:
    """Where the size of a difference lies beside a threshold, by both intervals."""
    low, high = coverage_interval(difference)
    least, most = coverage_interval(threshold)
    if low is None or high is None:
        return OPEN
    size = (0.0 if low <= 0 <= high else min(abs(low), abs(high)), max(abs(low), abs(high)))
    if most is not None and size[0] > most:
        return LARGER
    if least is not None and size[1] < least:
        return SMALLER
    return OPEN
