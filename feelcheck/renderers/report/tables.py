"""The page's tables as rows of cells."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from feelcheck.model import BenchResult, ChainLink, Comparison, Estimate, FeelResult, HandResult, Report, Status
from feelcheck.renderers._format import format_brief, format_difference, name_of, shown
from feelcheck.renderers.compare_text import AGREEMENT_WORDS
from feelcheck.renderers.feel_text import QUANTITY_WORDS

__all__ = [
    "Cell",
    "Table",
    "bench_table",
    "chain_table",
    "comparison_table",
    "cross_axis_table",
    "feel_table",
    "hand_table",
    "lattice_table",
    "plain_table",
    "provenance_table",
]

CROSS_AXIS = ("rim_skew", "rim_direction_error", "cross_axis", "direction_error")
NOT_ASKED = "no straight flicks"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A cell: what it says, and the number it is sorted by (None: by its words)."""

    text: str
    sort: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table with its caption; rows may be empty, then the page leaves it out."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def _number(estimate: Estimate, *, interval: bool = True) -> Cell:
    view = shown(estimate)
    text = format_brief(estimate) if interval else format_brief(estimate).partition(" (")[0]
    return Cell(text=text, sort=next((x for x in (view.value, view.high, view.low) if x is not None), None))


def plain_table(caption: str, header: tuple[str, ...], rows: Sequence[tuple[Cell | str, ...]]) -> Table:
    """Return a table; words become cells that sort as words."""
    cells = tuple(tuple(c if isinstance(c, Cell) else Cell(text=c) for c in row) for row in rows)
    return Table(caption=caption, header=header, rows=cells)


def chain_table(specimen: str, links: tuple[ChainLink, ...]) -> Table:
    """Return the chain of one specimen."""
    rows: list[tuple[Cell | str, ...]] = [
        (
            link.axis,
            link.state.replace("_", " "),
            link.direction,
            link.link.replace("-", " to "),
            _number(link.predicted),
            _number(link.measured),
            _number(link.difference),
            AGREEMENT_WORDS[link.verdict],
        )
        for link in links
        if link.specimen == specimen
    ]
    header = ("axis", "state", "direction", "link", "predicted", "measured", "difference", "verdict")
    return plain_table(f"Smoothing delay of {specimen} along the chain, 95 % intervals in brackets", header, rows)


def bench_table(results: tuple[BenchResult, ...]) -> Table:
    """Return what captures told, a row each direction."""
    rows: list[tuple[Cell | str, ...]] = []
    for result in results:
        provenance = result.capture.provenance
        for word, side in (("rising", result.rising), ("falling", result.falling)):
            if side is not None:
                numbers = (side.time_constant, side.transition_10_90, side.smoothing_delay, side.mean_delay)
                name = name_of(provenance, "capture")
                cells = tuple(_number(number) for number in numbers)
                rows.append((name, result.output_name, word, *cells, side.model.replace("_", " ")))
    header = ("capture", "output", "direction", "time constant", "10 to 90 %", "smoothing delay", "mean delay", "model")
    return plain_table("Response on the bench, 95 % intervals in brackets", header, rows)


def hand_table(results: tuple[HandResult, ...]) -> Table:
    """Return what recordings told, a row each axis and direction."""
    rows: list[tuple[Cell | str, ...]] = []
    for result in results:
        for axis in result.axes.values():
            for word, response in (("rising", axis.rising), ("falling", axis.falling)):
                numbers = (response.smoothing_delay, response.time_constant, response.transition_10_90)
                if not _any_told(numbers):
                    continue
                cells: tuple[Cell | str, ...] = (*(_number(n) for n in numbers), response.model.replace("_", " "))
                rows.append((_name(result), axis.name, word, *cells))
    header = ("recording", "axis", "code", "smoothing delay", "time constant", "10 to 90 %", "model")
    return plain_table("Response in the hand, 95 % intervals in brackets", header, rows)


def _any_told(estimates: Iterable[Estimate]) -> bool:
    return any(estimate.status is not Status.NOT_RESOLVED for estimate in estimates)


def _name(result: HandResult) -> str:
    provenance = result.recording.provenance
    return name_of(provenance, "recording")


def lattice_table(results: tuple[HandResult, ...]) -> Table:
    """Return steps, noise and rest of every axis."""
    names = ("quantization_step", "resolution", "update_interval", "rest_noise", "return_error", "dead_zone")
    rows: list[tuple[Cell | str, ...]] = [
        (_name(result), axis.name, *(_number(getattr(axis, name), interval=False) for name in names))
        for result in results
        for axis in result.axes.values()
        if _any_told(getattr(axis, name) for name in names)
    ]
    header = ("recording", "axis", "step", "resolution", "held for", "rest noise", "return error", "dead zone")
    return plain_table("Codes and rest", header, rows)


def cross_axis_table(results: tuple[HandResult, ...]) -> Table:
    """Return how much each axis shows in the other, and how far directions are off round the rim."""
    rows: list[tuple[Cell | str, ...]] = []
    for result in results:
        for axis in result.axes.values():
            found = [axis.extra.get(name) for name in CROSS_AXIS]
            if _any_told(e for e in found if e is not None):
                rows.append((_name(result), axis.name, *(NOT_ASKED if e is None else _number(e) for e in found)))
    header = (
        "recording", "axis", "shows of the other axis, round the rim", "direction off by at most, round the rim",
        "shows of the other axis, straight flicks", "direction off by, straight flicks",
    )  # fmt: skip
    return plain_table("Cross-axis response and direction error", header, rows)


def comparison_table(comparison: Comparison) -> Table:
    """Return every compared metric with its verdict."""
    rows: list[tuple[Cell | str, ...]] = [
        (
            row.candidate_name,
            row.name.replace("_", " "),
            row.axis,
            row.direction,
            _number(row.baseline),
            _number(row.candidate),
            Cell(text=format_difference(row.difference, row.margin), sort=_number(row.difference).sort),
            _number(Estimate.measured("margin", row.margin, u=0.0, unit=row.difference.unit)),
            row.verdict,
            row.why,
        )
        for row in comparison.metrics
    ]
    header = ("specimen", "metric", "axis", "code", "baseline", "specimen's", "difference", "margin", "verdict", "why")
    return plain_table(f"Against {comparison.baseline}, 95 % intervals in brackets", header, rows)


def feel_table(results: tuple[FeelResult, ...]) -> Table:
    """Return the meaning in use, a row each quantity."""
    rows: list[tuple[Cell | str, ...]] = [
        (result.specimen, axis.axis, QUANTITY_WORDS.get(name, name.replace("_", " ")), _number(estimate))
        for result in results
        for axis in result.axes
        for name, estimate in axis.estimates.items()
    ]
    return plain_table("Meaning in use, 95 % intervals in brackets", ("specimen", "axis", "what", "how much"), rows)


def provenance_table(report: Report) -> Table:
    """Return where everything came from: files with their hashes, then what the caller adds."""
    sources = [("recording", r.recording.provenance) for r in report.hand]
    sources += [("capture", r.capture.provenance) for r in report.bench]
    rows: list[tuple[Cell | str, ...]] = [
        (kind, p.path or p.specimen or "in memory", p.sha256 or "no hash", "simulated" if p.simulated else "")
        for kind, p in sources
    ]
    rows += [("record", p.path or p.specimen, "", "") for p in report.profiles]
    rows += [(name, value, "", "") for name, value in report.provenance.items()]
    return plain_table("Where it came from", ("what", "which", "SHA-256", "remark"), rows)
