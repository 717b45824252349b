"""The page's summary: a few plain sentences a specimen, each made from estimates."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from feelcheck.model import BenchResult, Comparison, Estimate, FeelResult, HandResult, MetricComparison, Report, Status
from feelcheck.model.quantities import DELAY
from feelcheck.numerics.uncertainty import coverage_interval
from feelcheck.renderers._format import format_brief
from feelcheck.renderers.report.glance import (
    Glance,
    bench_by_label,
    by_name,
    glance_rows,
    hand_by_label,
    label_of,
)
from feelcheck.renderers.report.sentences import (
    asymmetry_sentence,
    besides_sentence,
    carry_sentence,
    chain_sentences,
    delay_sentence,
    difference_sentence,
    direction_sentence,
    drift_sentence,
    size_of,
    trailing_sentence,
)

__all__ = ["NOTHING", "most_telling", "simulated_sentence", "slowest_sentence", "summary_sentences", "summary_topics"]

Topic = tuple[str, list[str]]
NEGLIGIBLE = 0.02
NOTHING = "Nothing has been measured yet."
SIMULATED = "Recorded in a simulated world, which says nothing about real parts: {names}."


def summary_topics(report: Report) -> list[tuple[str, list[Topic]]]:
    """Return for every specimen its topics with their sentences; what nothing is known of is left out.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    rows = by_name(glance_rows(report), lambda row: row.specimen)
    hand, bench = hand_by_label(report), bench_by_label(report)
    links = by_name(report.links, lambda link: link.specimen)
    used = by_name(report.feel, lambda result: result.specimen)
    compared = by_name(report.comparison.metrics if report.comparison else (), lambda row: row.candidate_name)
    found = []
    for name in dict.fromkeys([*rows, *hand, *bench]):
        topics = (
            ("Response", _response(rows.get(name, []), hand.get(name, []), bench.get(name, []))),
            ("Difference", _differences(compared.get(name, []), report.comparison)),
            ("Parts, bench, hand", chain_sentences(links.get(name, []))),
            ("In use", [s for result in used.get(name, []) for s in _use(result)]),
        )
        kept = [(topic, sentences) for topic, said in topics if (sentences := [s for s in said if s])]
        found += [(name, kept)] if kept else []
    return found


def summary_sentences(report: Report) -> list[str]:
    """Return all sentences of the summary in the page's order.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    said = [f"{name}. {s}" for name, topics in summary_topics(report) for _, sentences in topics for s in sentences]
    return [*said, *_simulated(report)] if said else [NOTHING]


def simulated_sentence(report: Report) -> str:
    """Return which specimens were recorded in a simulated world; empty where none was.

    Parameters
    ----------
    report : Report
        What the page shows.
    """
    return next(iter(_simulated(report)), "")


def _simulated(report: Report) -> list[str]:
    made = [r.recording.provenance for r in report.hand] + [r.capture.provenance for r in report.bench]
    names = dict.fromkeys(label_of(provenance, "a recording") for provenance in made if provenance.simulated)
    return [SIMULATED.format(names=", ".join(names))] if names else []


# --- the response of one specimen -------------------------------------------------------------------------------------


def _response(rows: Sequence[Glance], hand: Sequence[HandResult], bench: Sequence[BenchResult]) -> Iterator[str]:
    felt = [(f"{row.axis} with the code {d}", e) for row in rows for d, e in row.hand.items()]
    seen = [(f"{row.axis} {d}", e) for row in rows for d, e in row.bench.items()]
    yield slowest_sentence("In the hand", felt) or slowest_sentence("On the bench", seen)
    if hand and not _known(felt):
        yield f"No flick tells how much {', '.join(axis for result in hand for axis in result.axes) or 'it'} smooths."
    yield most_telling(list(_ratios(bench, hand)))
    for result in bench:
        if result.update_interval.is_ok:
            yield f"The sensor holds its output for {format_brief(result.update_interval)} at a time."
    yield _seating(hand)


def slowest_sentence(where: str, delays: Sequence[tuple[str, Estimate]]) -> str:
    """Return the longest delay of several; bounds from above speak only where there is nothing else.

    Parameters
    ----------
    where : str
        In the hand, or on the bench.
    delays : sequence of (str, Estimate), s
        Place and delay; a delay that is not resolved says nothing.
    """
    known = _known(delays)
    if not known:
        return ""
    place, delay = max(known, key=lambda pair: (pair[1].status is not Status.AT_MOST, size_of(pair[1])))
    slowest = f", slowest on {place}" if len(known) > 1 else f", {place}"
    return delay_sentence(f"{where}{slowest}", delay)


def _known(delays: Sequence[tuple[str, Estimate]]) -> list[tuple[str, Estimate]]:
    return [pair for pair in delays if pair[1].status is not Status.NOT_RESOLVED]


def _ratios(bench: Sequence[BenchResult], hand: Sequence[HandResult]) -> Iterator[tuple[str, Estimate]]:
    for capture in bench:
        yield "On the bench", capture.asymmetry
    for recording in hand:
        for axis in recording.axes.values():
            yield f"In the hand, {axis.name}", axis.asymmetry


def most_telling(ratios: Sequence[tuple[str, Estimate]]) -> str:
    """Return the sentence on the clearest difference between rising and falling; empty where none matters.

    One that may lie within 2 % is left to the tables: it is told of very clean captures only, and nothing follows.

    Parameters
    ----------
    ratios : sequence of (str, Estimate), ratio
        Place, and falling over rising.
    """
    told = [(where, ratio) for where, ratio in ratios if asymmetry_sentence(where, ratio) and _apart(ratio)]
    if not told:
        return ""
    return asymmetry_sentence(*max(told, key=lambda pair: abs(math.log(pair[1].value or 1.0))))


def _apart(ratio: Estimate) -> bool:
    low, high = coverage_interval(ratio)
    return low is not None and high is not None and (low > 1 + NEGLIGIBLE or high < 1 / (1 + NEGLIGIBLE))


def _seating(results: Sequence[HandResult]) -> str:
    """The worst direction error round the rim that was measured; bounds stay in the table."""
    errors = [
        (axis.name, error)
        for result in results
        for axis in result.axes.values()
        if (error := axis.extra.get("rim_direction_error")) is not None and error.status in (Status.OK, Status.AT_LEAST)
    ]
    if not errors:
        return ""
    where, error = max(errors, key=lambda pair: size_of(pair[1]))
    return direction_sentence(where, error)


# --- beside another, and in use ---------------------------------------------------------------------------------------


def _differences(rows: Sequence[MetricComparison], comparison: Comparison | None) -> list[str]:
    if comparison is None:
        return []
    delays = [row for row in rows if row.name == DELAY]
    return [
        difference_sentence(delays, comparison.baseline),
        besides_sentence([row for row in rows if row.name != DELAY]),
    ]


def _use(result: FeelResult) -> list[str]:
    """What it means in use, each by the axis where it is most; a drift that was not told stays in the table."""
    at = f" at {result.play.turn_rate_deg_s:g} deg/s"
    axes = [(axis.axis, axis.estimates.get) for axis in result.axes]

    def most(*names: str) -> tuple[str, Callable[[str], Estimate | None]]:
        return max(axes, key=lambda pair: max(_telling(pair[1](name)) for name in names))

    if not axes:
        return []
    trails, trailing = most("trailing_rising", "trailing_falling")
    turns, turned = most("carry_on_after_release")
    drifts, drift = most("drift_per_pair")
    drifted = drift("drift_per_pair")
    return [
        trailing_sentence(trails, trailing("trailing_rising"), trailing("trailing_falling")),
        carry_sentence(f"{turns}{at}", turned("carry_on_after_release"), turned("carry_on_of_picture")),
        drift_sentence(drifts, drifted) if _drifts(drifted, drift("carry_on_after_release")) else "",
    ]


def _drifts(drift: Estimate | None, carry: Estimate | None) -> bool:
    """Whether a drift is known to be there, and more than 2 % of asymmetry would make of the turning on."""
    if drift is None or carry is None:
        return False
    low, high = coverage_interval(drift)
    least = 2 * NEGLIGIBLE * size_of(carry)
    return (low is not None and low > least) or (high is not None and high < -least)


def _telling(estimate: Estimate | None) -> tuple[bool, float]:
    """Whether an estimate is known to differ from zero, and how large it is."""
    if estimate is None or (estimate.value is None and estimate.bound is None):
        return False, -1.0
    low, high = coverage_interval(estimate)
    apart = (low is not None and low > 0) or (high is not None and high < 0)
    return apart, size_of(estimate)
