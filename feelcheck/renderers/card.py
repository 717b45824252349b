"""One picture to share: the value, its interval, the trace behind it, simulated or real, and how to make it again."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, replace

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from feelcheck.model import BenchResult, Comparison, Estimate, HandResult, MetricComparison, Provenance, Status
from feelcheck.model.quantities import DELAY
from feelcheck.renderers._drawn import draw_panel
from feelcheck.renderers._format import format_brief, name_and_state
from feelcheck.renderers._panels import Panel
from feelcheck.renderers._style import GRID, INK, SOFT, styled
from feelcheck.renderers.bench_figures import edge_panels
from feelcheck.renderers.compare_figures import difference_panels
from feelcheck.renderers.hand_answer import ways_of
from feelcheck.renderers.hand_figures import flick_panels

__all__ = ["bench_card", "comparison_card", "hand_card"]

SIZE_IN = (6.4, 3.4)
WORDS_WIDE = 0.40
MOST_OTHERS = 7
MOST_COMMAND = 92
"""Characters of the command in a line."""
COMMAND_POINTS = 16.0
"""Height of all its lines together."""
Place = tuple[float, float, float, float]
PANEL_PLACE: Place = (0.5, 0.24, 0.47, 0.56)
LABELLED_PLACE: Place = (0.52, 0.24, 0.35, 0.56)
"""Left, bottom, width and height of the panel in shares of the card; of one with words at both sides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Headline:
    """The number on top, and those beside it by name."""

    what: str
    estimate: Estimate
    others: Sequence[tuple[str, Estimate]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Origin:
    """What the card is about, and where its numbers come from."""

    name: str
    told: str

    @classmethod
    def of(cls, provenance: Provenance, link: str) -> _Origin:
        """Return that of one recording or capture."""
        return cls(name=name_and_state(provenance, "recording"), told=f"{link}, {_origin(provenance)}")


def hand_card(result: HandResult, command: str) -> Figure:
    """Return the card of one recording: its slowest way, the other ways, the flicks behind it.

    Parameters
    ----------
    result : HandResult
        What was measured.
    command : str
        What is typed to make the card again.
    """
    ways = sorted(ways_of(result), key=lambda way: _rank(way[2]), reverse=True)
    axis, way, estimate = ways[0] if ways else ("", "", Estimate.not_resolved("smoothing_delay", unit="s"))
    told = [(f"{name}, {other}", each) for name, other, each in ways[1:] if each.status is not Status.NOT_RESOLVED]
    head = _Headline(what=f"smoothing delay of {axis}, code {way}", estimate=estimate, others=told)
    panel = flick_panels(result).get((axis, way))
    return _card(head, panel, _Origin.of(result.recording.provenance, "In the hand"), command)


def bench_card(result: BenchResult, command: str) -> Figure:
    """Return the card of one capture: its slower direction, the other one, the edge behind it; see `hand_card`.

    Parameters
    ----------
    result : BenchResult
        The result.
    command : str
        The command that made it.
    """
    sides = sorted(result.sides.items(), key=lambda side: _rank(side[1].time_constant), reverse=True)
    nothing = Estimate.not_resolved("time_constant", unit="s")
    word, estimate = (sides[0][0], sides[0][1].time_constant) if sides else ("", nothing)
    others = [(other, side.time_constant) for other, side in sides[1:]]
    others += [(f"10-90 %, {other}", side.transition_10_90) for other, side in sides]
    head = _Headline(what=f"time constant, output {word}", estimate=estimate, others=others)
    return _card(head, edge_panels(result).get(word), _Origin.of(result.capture.provenance, "On the bench"), command)


def comparison_card(result: Comparison, command: str) -> Figure:
    """Return the card of a comparison: the largest difference of delay, the others, all against the margin.

    Parameters
    ----------
    result : Comparison
        What was compared.
    command : str
        What is typed to make the card again.
    """
    delays = [row for row in result.metrics if row.name == DELAY] or list(result.metrics)
    delays.sort(key=lambda row: _rank(row.difference, sign=False), reverse=True)
    nothing = Estimate.not_resolved("difference", unit="s")
    first = delays[0] if delays else None
    head = _Headline(
        what="nothing that both sides measured" if first is None else f"{_row_name(first, result)}: {first.verdict}",
        estimate=nothing if first is None else first.difference,
        others=(),
    )
    simulated = any(caveat.code == "simulated" for caveat in result.caveats)
    name = f"{', '.join(result.candidates)} against {result.baseline}"
    origin = _Origin(name=name, told=f"Difference of {_quantity(delays)}, {'simulated' if simulated else 'measured'}")
    panels = difference_panels(replace(result, metrics=tuple(delays[:MOST_OTHERS]))) if delays else []
    return _card(head, panels[0][0] if panels else None, origin, command, place=LABELLED_PLACE)


def _quantity(rows: Sequence[MetricComparison]) -> str:
    return rows[0].name.replace("_", " ") if rows else "delay"


def _row_name(row: MetricComparison, result: Comparison) -> str:
    who = row.candidate_name if len(result.candidates) > 1 else ""
    return " ".join(filter(None, (who, row.axis, row.direction)))


def _rank(estimate: Estimate, *, sign: bool = True) -> tuple[int, float]:
    """Values before bounds before nothing, the larger first; of differences the larger whatever their sign."""
    known = {Status.OK: 3, Status.AT_LEAST: 2, Status.AT_MOST: 1}.get(estimate.status, 0)
    size = (estimate.value if estimate.value is not None else estimate.bound) or 0.0
    return known, size if sign else abs(size)


def _card(head: _Headline, panel: Panel | None, origin: _Origin, command: str, *, place: Place = PANEL_PLACE) -> Figure:
    with styled():
        figure = Figure(figsize=SIZE_IN)
        figure.text(0.03, 0.93, origin.name, fontsize=12, fontweight="bold", va="center")
        figure.text(0.03, 0.865, origin.told, color=SOFT, va="center")
        value, _, ends = format_brief(head.estimate).partition(" (")
        figure.text(0.03, 0.72, value, fontsize=22 if len(value) < 12 else 15, va="center")
        figure.text(0.03, 0.615, f"{ends.rstrip(')')}, 19 times in 20" if ends else "", va="center")
        figure.text(0.03, 0.56, head.what, color=SOFT, va="center")
        for k, (words, estimate) in enumerate(head.others[:MOST_OTHERS]):
            y = 0.46 - 0.052 * k
            figure.text(0.03, y, words, fontsize=7, color=SOFT, va="center")
            figure.text(WORDS_WIDE, y, format_brief(estimate), fontsize=7, ha="right", va="center")
        figure.add_artist(_rule(0.085))
        lines = textwrap.wrap(command, MOST_COMMAND, break_on_hyphens=False)
        size = min(7.0, COMMAND_POINTS / max(len(lines), 1))
        figure.text(0.03, 0.04, "\n".join(lines), fontsize=size, family="DejaVu Sans Mono", va="center", color=INK)
        if panel is not None:
            draw_panel(figure, replace(panel, strips=()), place)
    return figure


def _origin(provenance: Provenance) -> str:
    if provenance.simulated:
        return "simulated"
    return "recorded from a pad" if provenance.format == "session" else "from a file"


def _rule(y: float) -> Line2D:
    return Line2D([0.03, 0.97], [y, y], color=GRID, linewidth=0.8)
