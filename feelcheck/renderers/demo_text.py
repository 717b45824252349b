"""The text of `feelcheck demo`: told as to a colleague, every sentence made from what was just measured."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence

from feelcheck.model import (
    AxisResult,
    BenchResult,
    ChainLink,
    Comparison,
    Estimate,
    FeelResult,
    HandResult,
    Status,
)
from feelcheck.numerics.uncertainty import coverage_interval, difference_of
from feelcheck.renderers._format import format_brief, format_estimate
from feelcheck.renderers._table import text_table
from feelcheck.renderers.report.summary import (
    asymmetry_sentence,
    carry_sentence,
    chain_sentence,
    comparison_sentence,
    delay_sentence,
    trailing_sentence,
    use_sentence,
)

__all__ = ["demo_text"]

AXIS = "left_x"
LIFTED = "cedar"
MARGIN_S = 1e-3
OPENING = (
    "A repair bench refurbishes loaner pads for a youth drone-simulator club. Four sticks lie on it. They look alike "
    "and answer differently. All of this is simulated; the way it is measured is not."
)
COMPARED = ("smoothing_delay", "quantization_step")


def demo_text(
    hand: Mapping[str, HandResult],
    bench: Mapping[str, BenchResult],
    comparison: Comparison,
    in_use: Sequence[FeelResult],
    lifted: tuple[Estimate, Estimate] | None = None,
) -> str:
    """Return the story of the four specimens.

    Parameters
    ----------
    hand, bench : Mapping[str, HandResult], Mapping[str, BenchResult]
        By specimen.
    comparison : Comparison
        The first specimen against the others, with the chain.
    in_use : sequence of FeelResult
        What the responses mean in use.
    lifted : tuple of Estimate, s, optional
        What the parts of cedar predict with its capacitor c3 on the board and lifted.
    """
    sections = [
        textwrap.fill(OPENING, width=110),
        _table(hand, bench),
        _section("On the bench, a field step past each sensor says", _bench_sentences(bench)),
        _section("In the hand, flicks into the rim say", _hand_sentences(hand)),
        _section(f"Against {comparison.baseline}", _verdicts(comparison)),
        _section("From the parts to the hand", [*map(chain_sentence, _links(comparison)), *_tails(comparison)]),
        _section("Asked before anyone soldered", [] if lifted is None else _lifted(lifted, bench.get(LIFTED))),
        _section("In use", [sentence for result in in_use for sentence in _use(result)]),
    ]
    return "\n\n".join(section for section in sections if section)


def _lifted(predicted: tuple[Estimate, Estimate], measured: BenchResult | None) -> list[str]:
    """What lifting the capacitor should do, and what the bench said once it was done."""
    before, after = predicted
    sentences = [
        f"{LIFTED}: from its parts the output should trail by {format_brief(before)} with c3 on the board, and by "
        f"{format_brief(after)} once c3 is lifted."
    ]
    if measured is not None and measured.rising is not None:
        found = measured.rising.smoothing_delay
        sentences.append(
            f"{LIFTED}: c3 was lifted then, and the bench says {format_brief(found)}: {_holds(after, found)}."
        )
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


def _links(comparison: Comparison) -> list[ChainLink]:
    return [link for link in comparison.chain if link.axis == AXIS]


def _tails(comparison: Comparison) -> list[str]:
    """How well the bench alone predicts the tails of recorded flicks, specimen by specimen."""
    found = []
    for name in dict.fromkeys(trace.labels["specimen"] for trace in comparison.traces):
        marks = [trace.marks for trace in comparison.traces if trace.labels["specimen"] == name]
        inside, width = (
            sum(mark[key] for mark in marks) / len(marks) for key in ("inside_fraction", "mean_width_fraction")
        )
        found.append(
            f"{name}: the bench alone predicts the tails of {len(marks)} flicks in the hand; {100 * inside:.0f} % of "
            f"the reports lie inside a band whose width is {100 * width:.0f} % of the tail on average."
        )
    return found


def _section(title: str, sentences: Iterable[str]) -> str:
    lines = [
        textwrap.fill(sentence, width=110, initial_indent="  - ", subsequent_indent="    ")
        for sentence in sentences
        if sentence
    ]
    return "\n".join([title, *lines]) if lines else ""


def _table(hand: Mapping[str, HandResult], bench: Mapping[str, BenchResult]) -> str:
    rows = []
    for name, result in hand.items():
        axis, seen = result.axes[AXIS], bench[name]
        for word, felt, side in (("rises", axis.rising, seen.rising), ("falls", axis.falling, seen.falling)):
            rows.append(
                (
                    name if word == "rises" else "",
                    word,
                    "" if side is None else format_estimate(side.smoothing_delay),
                    format_estimate(felt.smoothing_delay),
                    format_brief(axis.quantization_step) if word == "rises" else "",
                )
            )
    header = ("specimen", "", "smoothing on the bench", f"smoothing in the hand ({AXIS})", "step of the code")
    return text_table(header, rows, indent="")


def _bench_sentences(bench: Mapping[str, BenchResult]) -> list[str]:
    found = []
    for name, result in bench.items():
        found.append(asymmetry_sentence(name, result.asymmetry))
        if result.update_interval.is_ok:
            found.append(f"{name}: the sensor holds its output for {format_brief(result.update_interval)} at a time.")
        found += [f"{name}: {sentence}" for sentence in result.explanation[:2]]
    return found


def _hand_sentences(hand: Mapping[str, HandResult]) -> list[str]:
    found = []
    for name, result in hand.items():
        axis = result.axes[AXIS]
        if axis.rising.smoothing_delay.status is not Status.OK:
            found.append(delay_sentence(f"{name}, code rising", axis.rising.smoothing_delay))
        found.append(_refresh(name, axis))
    return found


def _refresh(name: str, axis: AxisResult) -> str:
    update = axis.update_interval
    if update.status is Status.AT_MOST:
        return f"{name}: a new value comes {format_brief(update)} after the last; finer steps only the bench sees."
    return f"{name}: the axis holds each value for {format_brief(update)}." if update.is_ok else ""


def _verdicts(comparison: Comparison) -> list[str]:
    return [
        comparison_sentence(row, comparison.baseline)
        for row in comparison.metrics
        if row.axis == AXIS and row.name in COMPARED
    ]


def _use(result: FeelResult) -> list[str]:
    found = []
    for axis in result.axes:
        if axis.axis != AXIS:
            continue
        known = axis.estimates.get
        found.append(trailing_sentence(result.specimen, known("trailing_rising"), known("trailing_falling")))
        where = f"{result.specimen} at {result.play.turn_rate_deg_s:g} deg/s"
        found.append(carry_sentence(where, known("carry_on_after_release"), known("carry_on_of_picture")))
        drift = known("drift_per_pair")
        if drift is not None:
            found.append(use_sentence(where, drift))
    return found
