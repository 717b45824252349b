"""The text of `feelcheck demo`: told as to a colleague, every sentence made from what was just measured."""

from __future__ import annotations

from collections.abc import Iterable

from feelcheck.counted import counted
from feelcheck.model import Comparison, Estimate, Report, Status
from feelcheck.model.quantities import DIRECTIONS
from feelcheck.numerics.uncertainty import coverage_interval, difference_of
from feelcheck.renderers._format import format_brief
from feelcheck.renderers._table import text_table, wrapped
from feelcheck.renderers.compare_answer import compare_answer
from feelcheck.renderers.report.glance import Glance, glance_rows, label_of
from feelcheck.renderers.report.summary import summary_topics

__all__ = ["demo_text"]

AXIS = "left_x"
LIFTED = "cedar"
MARGIN_S = 1e-3
OPENING = (
    "A repair bench refurbishes loaner pads for a youth drone-simulator club. Four sticks lie on it. They look alike "
    "and answer differently. All of this is simulated; the way it is measured is not."
)


def demo_text(report: Report, lifted: tuple[Estimate, Estimate] | None = None) -> str:
    """Return the story of the four specimens.

    Parameters
    ----------
    report : Report
        What the page shows: recordings, captures, comparison, meaning in use.
    lifted : tuple of Estimate, s, optional
        What the parts of cedar predict with its capacitor c3 on the board and lifted.
    """
    rows = glance_rows(report)
    suggested = {label_of(result.capture.provenance, ""): result.explanation[:1] for result in report.bench}
    sections = [
        wrapped(OPENING, rest=""),
        "" if report.comparison is None else compare_answer(report.comparison),
        _table(rows),
        *(
            _section(name, [*(f"{topic}. {' '.join(said)}" for topic, said in topics), *_capture(suggested, name)])
            for name, topics in summary_topics(report)
        ),
        _section("Flicks predicted from the bench", [] if report.comparison is None else _tails(report.comparison)),
        _section("Asked before anyone soldered", [] if lifted is None else _lifted(lifted, rows)),
    ]
    return "\n\n".join(section for section in sections if section)


def _capture(suggested: dict[str, tuple[str, ...]], name: str) -> list[str]:
    return [f"The capture suggests. {sentence}" for sentence in suggested.get(name, ())]


def _table(rows: Iterable[Glance]) -> str:
    """Both directions of one axis, bench beside hand."""
    missing = Estimate.not_resolved("smoothing_delay", unit="s")
    lines = [
        (
            row.specimen if direction == "rising" else "",
            direction,
            *(format_brief(side.get(direction, missing)) for side in (row.bench, row.hand)),
        )
        for row in rows
        if row.axis == AXIS
        for direction in DIRECTIONS
    ]
    header = ("specimen", f"{AXIS}, code", "smoothing delay on the bench", "smoothing delay in the hand")
    return text_table(header, lines, indent="")


def _lifted(predicted: tuple[Estimate, Estimate], rows: Iterable[Glance]) -> list[str]:
    """What lifting the capacitor should do, and what the bench said once it was done."""
    before, after = predicted
    sentences = [
        f"From its parts the output of {LIFTED} should trail by {format_brief(before)} with c3 on the board, and by "
        f"{format_brief(after)} once c3 is lifted."
    ]
    found = [row.bench["rising"] for row in rows if row.specimen.startswith(LIFTED) and "rising" in row.bench]
    if found and found[0].status is Status.OK:
        sentences.append(f"c3 was lifted then, and the bench says {format_brief(found[0])}: {_holds(after, found[0])}.")
    return sentences


def _holds(predicted: Estimate, measured: Estimate) -> str:
    difference = difference_of(measured, predicted, quantity="difference")
    low, high = coverage_interval(difference)
    if low is None or high is None:
        return "whether the prediction held cannot be told"
    if low > -MARGIN_S and high < MARGIN_S:
        return f"as predicted, within {1e3 * MARGIN_S:g} ms"
    if low <= 0 <= high:
        return "it agrees with the prediction, which the parts' tolerances leave wide"
    return f"{'more' if low > 0 else 'less'} than predicted, even with the parts' tolerances"


def _tails(comparison: Comparison) -> list[str]:
    """How well the bench alone predicts the tails of recorded flicks, specimen by specimen."""
    found = []
    for name in dict.fromkeys(trace.labels["specimen"] for trace in comparison.traces):
        marks = [trace.marks for trace in comparison.traces if trace.labels["specimen"] == name]
        inside, width = (
            sum(mark[key] for mark in marks) / len(marks) for key in ("inside_fraction", "mean_width_fraction")
        )
        found.append(
            f"{name}: the bench alone predicts the tails of {counted(len(marks), 'flick')} in the hand; "
            f"{100 * inside:.0f} % of the reports lie inside a band whose width is {100 * width:.0f} % of the tail on "
            "average."
        )
    return found


def _section(title: str, sentences: Iterable[str]) -> str:
    lines = [wrapped(sentence, first="  - ", rest="    ") for sentence in sentences if sentence]
    return "\n".join([title, *lines]) if lines else ""
