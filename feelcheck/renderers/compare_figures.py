"""Figures of `feelcheck compare` and `feelcheck repeatability`: differences, the chain, predictions, shares."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from feelcheck.model import ChainLink, Comparison, MetricComparison, RepeatabilityResult, Status, Trace, VarianceShare
from feelcheck.model.quantities import DELAY, words_of
from feelcheck.renderers._before_after_panels import before_after_panels
from feelcheck.renderers._format import format_brief
from feelcheck.renderers._interval_panels import DENSE_ROW_IN, Row, interval_panel, stacked
from feelcheck.renderers._panels import Panel, Picture, Sheet, heading, sheet
from feelcheck.renderers._style import HATCHES, LANES, LIGHT, PREDICTED, REPORTS
from feelcheck.renderers._thinning import evenly
from feelcheck.renderers.compare_text import AGREEMENT_WORDS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["compare_figure", "compare_pictures", "difference_panels", "repeatability_figure"]

MOST_ROWS = 16
DRAWN = (Status.OK, Status.AT_MOST, Status.AT_LEAST)
SHARE_WORDS = {
    "specimens": "the specimens",
    "repeatability": "repeats by one hand",
    "reproducibility": "different hands",
    "interaction": "hands with specimens",
}
N_POINTS = 160
N_PREDICTIONS = 6
EDGE_ROWS = 7
"""Height of both edges over the other panels, in their rows."""
TAIL_ROWS = 6
"""Height of a predicted tail under the other panels, in their rows."""


def compare_figure(result: Comparison) -> Sheet:
    """Return differences against their margins, the chain from parts to hand and predicted flick tails.

    Parameters
    ----------
    result : Comparison
        What was compared.

    Returns
    -------
    Sheet
        Save it with `save_figure`; `compare_pictures` has each topic on its own.
    """
    edges = [(panel, EDGE_ROWS) for panel in before_after_panels(result.traces)]
    return stacked(
        difference_panels(result),
        [*_chain_panels(result.chain), *((panel, TAIL_ROWS) for panel in _prediction_panels(result.traces))],
        above=edges,
        title=f"{', '.join(result.candidates)} against {result.baseline}",
    )


def compare_pictures(result: Comparison) -> dict[str, Picture]:
    """Return pictures as far as there is something to show.

    Parameters
    ----------
    result : Comparison
        What the command gives.

    Returns
    -------
    dict of str to Picture
        ``edges``; ``differences 1`` and on, a metric each; ``chain 1`` and on, a specimen each; ``predictions``;
        ``spread``.
    """
    pictures = {}
    edges = before_after_panels(result.traces)
    if edges:
        words = " ".join(panel.description for panel in edges)
        pictures["edges"] = Picture(
            sheet=sheet(edges, n_columns=2, panel_in=(4.6, 3.0)), title="Edges before and after", description=words
        )
    for k, (panel, n_rows) in enumerate(difference_panels(result), start=1):
        title = f"Differences against the margin: {panel.description.partition(':')[0].lower()}"
        picture = Picture(
            sheet=stacked([(panel, n_rows)], row_in=DENSE_ROW_IN), title=title, description=panel.description
        )
        pictures[f"differences {k}"] = picture
    for k, (panel, n_rows) in enumerate(_chain_panels(result.chain), start=1):
        title = f"From parts to hand: {panel.description.partition(':')[0]}"
        picture = Picture(
            sheet=stacked([(panel, n_rows)], row_in=DENSE_ROW_IN), title=title, description=panel.description
        )
        pictures[f"chain {k}"] = picture
    predictions = _prediction_panels(result.traces)
    if predictions:
        words = " ".join(panel.description for panel in predictions)
        pictures["predictions"] = Picture(
            sheet=sheet(predictions, n_columns=3), title="Flick tails predicted from the bench", description=words
        )
    if result.spread:
        panel = _share_panel("What the spread comes from", result.spread)
        pictures["spread"] = Picture(
            sheet=stacked([(panel, len(result.spread))]),
            title="Where the spread comes from",
            description=panel.description,
        )
    return pictures


def repeatability_figure(result: RepeatabilityResult) -> Sheet:
    """Return the split of variance of a gauge study: one bar a source, with its share in words.

    Parameters
    ----------
    result : RepeatabilityResult
        The result.
    """
    panel = _share_panel(f"Spread of {result.metric.replace('_', ' ')}", result.shares)
    return stacked([(panel, len(result.shares))])


def difference_panels(result: Comparison) -> list[tuple[Panel, int]]:
    """Return a panel for each metric with how many rows it has: differences against the margin.

    Parameters
    ----------
    result : Comparison
        What was compared.
    """
    by_name: dict[str, list[MetricComparison]] = {}
    for metric in result.metrics:
        if metric.low90 is not None and _worth_drawing(metric):
            by_name.setdefault(metric.name, []).append(metric)
    panels = []
    for name, metrics in sorted(by_name.items(), key=lambda item: item[0] != DELAY):
        if not any(metric.difference.status in DRAWN for metric in metrics):
            continue
        kept = metrics[:MOST_ROWS]
        several = len({metric.candidate_name for metric in result.metrics}) > 1
        rows = [_difference_row(metric, several) for metric in kept]
        more = f"; {len(metrics) - len(kept)} more in the table" if len(metrics) > len(kept) else ""
        words = f"thick 90 %, thin 95 % interval; hatched: margin{more}"
        title = words_of(name, "compare", "bench").capitalize()
        panel = interval_panel(title, words, f"difference to {result.baseline}", rows)
        panels.append((panel, len(rows)))
    return panels


def _worth_drawing(metric: MetricComparison) -> bool:
    """Of captures, whose edges are drawn, the delay and what leaves its margin; of hand sessions everything."""
    inside = max(abs(metric.low90 or 0.0), abs(metric.high90 or 0.0)) < metric.margin
    return (
        metric.sources != ("bench", "bench") or metric.name == DELAY or (not inside and metric.difference.unit != "s")
    )


def _difference_row(metric: MetricComparison, several: bool) -> Row:
    label = " ".join(filter(None, (metric.candidate_name if several else "", metric.axis, metric.direction)))
    margin = metric.margin if metric.difference.status in DRAWN else None
    return Row(label=label, estimates=(metric.difference,), margin=margin, words=metric.verdict)


def _chain_panels(links: Sequence[ChainLink]) -> list[tuple[Panel, int]]:
    by_specimen: dict[tuple[str, str], list[ChainLink]] = {}
    for link in links:
        by_specimen.setdefault((link.specimen, link.state), []).append(link)
    panels = []
    for (specimen, state), own in by_specimen.items():
        rows = [
            Row(
                label=f"{link.axis} {link.direction}, {link.link.replace('-', ' to ')}",
                estimates=(link.predicted, link.measured),
                margin=link.margin if link.predicted.value else None,
                around=link.predicted.value or 0.0,
                words=AGREEMENT_WORDS[link.verdict],
            )
            for link in own[:MOST_ROWS]
        ]
        words = "upper, round: predicted; lower, square: measured\nthick: 90 %, thin: 95 % interval; hatched: margin"
        title = specimen if "@" in specimen or not state else f"{specimen}, {state.replace('_', ' ')}"
        panels.append((interval_panel(title, words, "smoothing delay", rows), math.ceil(1.6 * len(rows))))
    return panels


def _prediction_panels(traces: Sequence[Trace]) -> list[Panel]:
    """The first tail of every specimen, axis and direction, then the second ones, as far as there is room."""
    ranked: list[tuple[int, Trace]] = []
    seen: Counter[tuple[str, ...]] = Counter()
    for trace in traces:
        if trace.kind == "prediction":
            key = (trace.labels.get("specimen", ""), trace.axis, trace.labels.get("direction", ""))
            ranked.append((seen[key], trace))
            seen[key] += 1
    return [_prediction_panel(trace) for _, trace in sorted(ranked, key=lambda pair: pair[0])[:N_PREDICTIONS]]


def _prediction_panel(trace: Trace) -> Panel:
    inside, width = (trace.marks.get(name) for name in ("inside_fraction", "mean_width_fraction"))
    said = "" if inside is None else f"{100 * inside:.0f} % of reports inside the band"
    said += "" if width is None else f"\nband {100 * width:.1f} % of the tail"
    name = " ".join(filter(None, (trace.labels.get("specimen", ""), trace.axis, trace.labels.get("direction", ""))))

    def draw(ax: Axes) -> None:
        t_ms = 1e3 * np.asarray(trace.arrays["t_s"], dtype=np.float64)
        kept = evenly(t_ms.size, N_POINTS)
        low, high, predicted = (np.asarray(trace.arrays[f"{key}_fs"])[kept] for key in ("low", "high", "predicted"))
        ax.fill_between(
            t_ms[kept], low, high, facecolor="none", edgecolor=LIGHT["faint"], hatch="////", linewidth=0.7, label="band"
        )
        ax.plot(t_ms[kept], predicted, label="predicted", **PREDICTED)
        some = kept[:: max(1, kept.size // 40)]
        ax.plot(t_ms[some], np.asarray(trace.arrays["recorded_fs"])[some], label="recorded", **REPORTS[0])
        ax.set_xlabel("time since the tail began, ms")
        ax.set_ylabel("fraction of full throw")
        ax.legend(loc="best", handlelength=2.0)
        heading(ax, name, said)

    return Panel(draw=draw, description=f"Predicted and recorded tail of {name}. {'; '.join(said.splitlines())}.")


def _source_words(share: VarianceShare) -> str:
    return SHARE_WORDS.get(share.source, share.source.replace("_", " "))


def _share_panel(title: str, shares: Sequence[VarianceShare]) -> Panel:
    words = [f"{100 * share.share_fraction:.0f} %, sd {format_brief(share.sd)}" for share in shares]

    def draw(ax: Axes) -> None:
        for k, share in enumerate(shares):
            ax.barh(
                k, 100 * share.share_fraction, height=0.62, facecolor="none", edgecolor=LANES[0]["color"],
                hatch=HATCHES[k % len(HATCHES)], linewidth=1.0,
            )  # fmt: skip
            ax.annotate(
                words[k], (100 * max(share.share_fraction, 0.0), k), (5, 0), textcoords="offset points", va="center",
                fontsize=7.5,
            )  # fmt: skip
        ax.set_yticks(range(len(shares)), [_source_words(share) for share in shares])
        ax.set_ylim(len(shares) - 0.4, -0.6)
        ax.set_xlim(0, 145)
        ax.set_xticks([0, 25, 50, 75, 100])
        ax.tick_params(axis="y", length=0)
        ax.grid(visible=False, axis="y")
        ax.set_xlabel("share of the variance, %")
        heading(ax, title)

    said = "; ".join(f"{_source_words(s)} {w}" for s, w in zip(shares, words, strict=True))
    return Panel(draw=draw, description=f"{title}: {said}.")
